"""Strips and tiles too large to keep decoded in memory: on disk, or a few rows at a time; the same pixels."""

from __future__ import annotations

import tempfile
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile

from printprep.errors import InputError, OutsideError
from printprep.files import limits
from printprep.photo._keep import Keeper
from printprep.photo.read import read
from tests.support.tiffs import from_strips, picture, profile_bytes


@pytest.fixture
def tight(monkeypatch: pytest.MonkeyPatch) -> None:
    """Limits so low that small pictures meet them."""
    monkeypatch.setattr(limits, "CACHE_CEILING", 1)
    monkeypatch.setattr(limits, "LARGE_PIECE", 1)
    monkeypatch.setattr(limits, "BAND_BYTES", 70 * 6 * 4)
    monkeypatch.setattr(limits, "STRIP_BYTES", 100)  # compressed bytes are fed in crumbs


@pytest.mark.usefixtures("tight")
@pytest.mark.parametrize("codec", ["zlib", "deflate", "lzw", "zstd"])
@pytest.mark.parametrize("pieces", [{"rowsperstrip": 90}, {"rowsperstrip": 37}, {"tile": (64, 32)}])
@pytest.mark.parametrize("order", ["<", ">"])
def test_same_pixels(tmp_path: Path, codec: str, pieces: dict[str, Any], order: str) -> None:
    pixels = picture(90, 70)
    for planar in ("contig", "separate"):
        data = pixels if planar == "contig" else np.ascontiguousarray(pixels.transpose(2, 0, 1))
        tifffile.imwrite(
            tmp_path / "a.tif", data, photometric="rgb", iccprofile=profile_bytes(), metadata=None, byteorder=order,
            compression=codec, predictor=True, planarconfig=planar, **pieces,
        )  # fmt: skip
        photo = read(tmp_path / "a.tif")
        np.testing.assert_array_equal(photo.rows(50, 61), pixels[50:61])
        np.testing.assert_array_equal(photo, pixels)


@pytest.mark.usefixtures("tight")
def test_damage_is_found_a_few_rows_at_a_time_too(tmp_path: Path) -> None:
    pixels = picture(90, 70)
    good = bytes(imagecodecs.zlib_encode(pixels.tobytes()))
    for bad in (good[: len(good) // 2], good[:5000] + b"\xff" * (len(good) - 5000), b"rubbish" * 900):
        photo = read(from_strips(tmp_path / "a.tif", [bad], {259: (3, [8])}, pixels))
        with pytest.raises(InputError, match="picture data is damaged"):
            photo.rows(80, 90)
        with pytest.raises(InputError, match="picture data is damaged"):
            np.asarray(photo)


@pytest.mark.usefixtures("tight")
def test_a_last_strip_padded_to_full_height(tmp_path: Path) -> None:
    pixels = picture(120, 70)
    encode = imagecodecs.zlib_encode
    strips = [bytes(encode(pixels[y : y + 60].tobytes())) for y in (0, 60)]
    path = from_strips(tmp_path / "a.tif", strips, {259: (3, [8]), 278: (4, [60])}, pixels[:90])
    np.testing.assert_array_equal(read(path), pixels[:90])


@pytest.mark.usefixtures("tight")
def test_each_piece_is_decoded_once_for_all_threads(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pixels, calls, real = picture(90, 70), list[int](), imagecodecs.zstd_decode

    def counted(data: bytes, **options: Any) -> Any:
        calls.append(len(data))
        return real(data, **options)

    monkeypatch.setattr(imagecodecs, "zstd_decode", counted)
    for ceiling in (1, 1 << 30):  # on disk, in memory
        monkeypatch.setattr(limits, "CACHE_CEILING", ceiling)
        tifffile.imwrite(
            tmp_path / "a.tif", pixels, photometric="rgb", iccprofile=profile_bytes(), metadata=None,
            compression="zstd", rowsperstrip=40,
        )  # fmt: skip
        photo = read(tmp_path / "a.tif")
        calls.clear()
        with ThreadPoolExecutor(6) as pool:
            rows = list(pool.map(photo.rows, range(0, 90, 3), range(3, 91, 3)))
        np.testing.assert_array_equal(np.concatenate(rows), pixels)
        assert len(calls) == 3


@pytest.mark.usefixtures("tight")
def test_no_room_for_the_temporary_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    tifffile.imwrite(
        tmp_path / "a.tif", picture(), photometric="rgb", iccprofile=profile_bytes(), metadata=None,
        compression="lzw", rowsperstrip=20,
    )  # fmt: skip
    monkeypatch.setenv("TMPDIR", str(tmp_path / "nothing"))
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "nothing"))
    with pytest.raises(OutsideError, match="set TMPDIR to a folder with room"):
        read(tmp_path / "a.tif").rows(3, 9)


@pytest.mark.usefixtures("tight")
def test_the_temporary_file_has_no_name_and_is_closed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "tmp").mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "tmp"))
    monkeypatch.setenv("TMPDIR", str(tmp_path / "tmp"))
    tifffile.imwrite(
        tmp_path / "a.tif", picture(), photometric="rgb", iccprofile=profile_bytes(), metadata=None,
        compression="lzw", rowsperstrip=20,
    )  # fmt: skip
    descriptors = Path("/proc/self/fd")
    before = len(list(descriptors.iterdir())) if descriptors.is_dir() else 0
    photo = read(tmp_path / "a.tif")
    np.testing.assert_array_equal(photo.rows(3, 9), picture()[3:9])
    assert list((tmp_path / "tmp").iterdir()) == []
    del photo
    if before:
        assert len(list(descriptors.iterdir())) == before


def test_large_pieces_that_must_be_decoded_whole_are_announced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "ANNOUNCED_PIECE", 1000)
    for codec, ceiling, said in (("lzw", 1, True), ("deflate", 1, False), ("deflate", 1 << 30, True)):
        monkeypatch.setattr(limits, "CACHE_CEILING", ceiling)
        tifffile.imwrite(
            tmp_path / "a.tif", picture(90, 70), photometric="rgb", iccprofile=profile_bytes(), metadata=None,
            compression=codec, rowsperstrip=90, resolution=(300, 300),
        )  # fmt: skip
        assert said == any("large pieces" in line for line in read(tmp_path / "a.tif").announcements)


def test_keeping_within_a_limit() -> None:
    keeper, made = Keeper(1000), list[int]()

    def make(i: int) -> Any:
        made.append(i)
        return np.full(100, i, np.int32)  # 400 bytes

    for i in (1, 2, 1, 3, 1, 2):
        assert keeper.get(i, lambda i=i: make(i))[0] == i  # type: ignore[misc]
    assert made == [1, 2, 3, 2]  # 2 was the least recently wanted when 3 came


def test_a_failure_while_making_lets_the_next_one_try() -> None:
    keeper, gate = Keeper(1000), threading.Event()

    def fail() -> Any:
        gate.wait(5)
        raise ValueError("no")

    with ThreadPoolExecutor(2) as pool:
        first = pool.submit(keeper.get, "key", fail)
        second = pool.submit(keeper.get, "key", lambda: np.ones(1) if first.done() else fail())
        gate.set()
        assert isinstance(first.exception(), ValueError)
        second.exception()
    assert keeper.get("key", lambda: np.ones(1)) == 1
