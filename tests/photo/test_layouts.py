"""Every way to store the same pixels is read as those pixels, whatever bands are asked for."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from printprep.errors import InputError
from printprep.photo.photo import Photo
from printprep.photo.read import read
from tests.support.tiffs import basic, directory, from_strips, picture, profile_bytes, tiff

CODECS = ["none", "lzw", "zlib", "deflate", "packbits", "zstd"]


def store(path: Path, pixels: NDArray[Any], **options: Any) -> Path:
    """Write by tifffile: an independent writer."""
    if options.get("planarconfig") == "separate":
        pixels = np.ascontiguousarray(pixels.transpose(2, 0, 1))
    tifffile.imwrite(
        path, pixels, photometric="rgb", iccprofile=profile_bytes(), resolution=(300, 300), metadata=None, **options
    )
    return path


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("planar", ["contig", "separate"])
@pytest.mark.parametrize("pieces", [{}, {"rowsperstrip": 7}, {"rowsperstrip": 1}, {"tile": (32, 48)}])
@pytest.mark.parametrize("codec", CODECS)
def test_layouts(tmp_path: Path, codec: str, pieces: dict[str, Any], planar: str, order: str) -> None:
    pixels = picture(75, 101)
    for predictor in (False, True)[: 1 if codec == "none" else 2]:
        path = store(
            tmp_path / "a.tif", pixels, compression=codec, predictor=predictor, planarconfig=planar, byteorder=order,
            bigtiff=predictor, **pieces,
        )  # fmt: skip
        photo = read(path)
        np.testing.assert_array_equal(photo, pixels)
        bands = [photo.rows(y, min(y + 11, 75)) for y in range(0, 75, 11)]
        np.testing.assert_array_equal(np.concatenate(bands), pixels)
        assert photo.announcements == (
            (f"is stored with {codec}; where nothing else is asked for, deflate is written",)
            if codec == "packbits"
            else ()
        )


@pytest.mark.parametrize("size", [(1, 1), (1, 40), (40, 1), (2, 3)])
@pytest.mark.parametrize("options", [{}, {"compression": "lzw", "predictor": True}, {"tile": (16, 16)}])
def test_tiny_pictures(tmp_path: Path, size: tuple[int, int], options: dict[str, Any]) -> None:
    pixels = picture(*size)
    np.testing.assert_array_equal(read(store(tmp_path / "a.tif", pixels, **options)), pixels)


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Photo, NDArray[np.uint16]]]:
    folder, pixels = tmp_path_factory.mktemp("stored"), picture(90, 70)
    options: list[dict[str, Any]] = [
        {"rowsperstrip": 13},
        {"rowsperstrip": 13, "compression": "zstd", "predictor": True},
        {"tile": (16, 32)},
        {"tile": (16, 32), "compression": "lzw", "planarconfig": "separate"},
    ]
    return [(read(store(folder / f"{i}.tif", pixels, **o)), pixels) for i, o in enumerate(options)]


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(which=st.integers(0, 3), top=st.integers(0, 89), rows=st.integers(1, 90))
def test_any_band(stored: list[tuple[Photo, NDArray[np.uint16]]], which: int, top: int, rows: int) -> None:
    photo, pixels = stored[which]
    bottom = min(90, top + rows)
    np.testing.assert_array_equal(photo.rows(top, bottom), pixels[top:bottom])


def test_strips_in_any_order(tmp_path: Path) -> None:
    pixels = picture(20, 15)
    strips = [pixels[y : y + 6].tobytes() for y in range(0, 20, 6)]
    photo = read(from_strips(tmp_path / "a.tif", strips, {278: (4, [6])}, pixels, gap=b"gap!"))
    np.testing.assert_array_equal(photo, pixels)
    np.testing.assert_array_equal(photo.rows(5, 14), pixels[5:14])


def test_a_last_strip_padded_to_full_height(tmp_path: Path) -> None:
    pixels = picture(20, 15)
    padded = np.concatenate([pixels, picture(4, 15, seed=1)])
    strips = [bytes(imagecodecs.zlib_encode(padded[y : y + 8].tobytes())) for y in (0, 8, 16)]
    photo = read(from_strips(tmp_path / "a.tif", strips, {278: (4, [8]), 259: (3, [8])}, pixels))
    np.testing.assert_array_equal(photo, pixels)
    np.testing.assert_array_equal(photo.rows(17, 19), pixels[17:19])


def test_bits_given_once_for_all_channels(tmp_path: Path) -> None:
    np.testing.assert_array_equal(read(tiff(tmp_path / "a.tif", {258: (3, [16])})), picture())


def test_a_missing_codec_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = store(tmp_path / "a.tif", picture(), compression="zstd")

    class Absent:
        available = False

    monkeypatch.setattr(imagecodecs, "ZSTD", Absent)
    with pytest.raises(InputError, match="stored with zstd, which is not installed; export it"):
        read(path)


def test_rows_outside_are_refused(tmp_path: Path) -> None:
    photo = read(tiff(tmp_path / "a.tif"))
    for top, bottom in ((-1, 3), (0, 21), (5, 5), (7, 3)):
        with pytest.raises(ValueError, match="rows"):
            photo.rows(top, bottom)


@pytest.mark.parametrize("rows", [1, 3])
def test_tiles_of_one_row_are_summed_up_each_by_itself(tmp_path: Path, rows: int) -> None:
    pixels = picture(6, 16)  # no writer makes such tiles, since TIFF 6.0 wants multiples of 16; they are still read
    data, places, sizes = b"", list[int](), list[int]()
    for y in range(0, 6, rows):
        for x in (0, 8):
            coded = zlib.compress(imagecodecs.delta_encode(pixels[y : y + rows, x : x + 8], axis=1).tobytes())
            places.append(8 + len(data))
            sizes.append(len(coded))
            data += coded + b"\0" * (len(coded) % 2)
    tags = basic(pixels) | {
        259: (3, [8]), 317: (3, [2]), 322: (4, [8]), 323: (4, [rows]), 324: (4, places), 325: (4, sizes)
    }  # fmt: skip
    tags = {tag: value for tag, value in tags.items() if tag not in (273, 278, 279)}
    path, at = tmp_path / "a.tif", 8 + len(data)
    path.write_bytes(b"II" + struct.pack("<HI", 42, at) + data + directory(tags, at))
    photo = read(path)
    for top in range(6):
        assert np.array_equal(photo.rows(top, top + 1)[0], pixels[top])
    assert np.array_equal(np.asarray(photo), pixels)
