"""Output: right pixels in a plain layout, the same bytes for any number of threads and any band."""

from __future__ import annotations

import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

from printprep.colour.profile import Profile
from printprep.errors import InputError, ParameterError
from printprep.files import limits
from printprep.files.sink import Sink
from printprep.photo.fingerprint import Fingerprinted, fingerprint
from printprep.photo.metadata import Metadata
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.photo.resolution import Resolution
from printprep.photo.tiff import finish as _finish
from printprep.photo.write import write
from tests.support.tiffs import picture, profile_bytes

CODES = {"none": 1, "lzw": 5, "deflate": 8, "zstd": 50000}


@pytest.fixture(scope="module")
def photo() -> Photo:
    smooth = np.cumsum(np.random.default_rng(3).integers(-40, 41, (300, 1000, 3)), axis=1) + 30000
    return Photo.from_array(smooth.astype(np.uint16), "opRGB", ppi=360)


@pytest.mark.parametrize("compress", CODES)
@pytest.mark.parametrize("order", ["<", ">"])
def test_other_readers_see_the_pixels(tmp_path: Path, photo: Photo, compress: str, order: str) -> None:
    photo = replace(photo, metadata=Metadata(order=order))
    done = photo.write(tmp_path / "a.tif", compress=compress)
    assert (done.compression, done.size, done.big) == (compress, (tmp_path / "a.tif").stat().st_size, False)
    with tifffile.TiffFile(tmp_path / "a.tif") as tif:
        page = tif.pages[0]
        np.testing.assert_array_equal(page.asarray(), photo)
        assert tif.byteorder == order
        assert page.tags[259].value == CODES[compress]
        assert page.tags[282].value == page.tags[283].value == (360, 1)
        assert page.iccprofile == profile_bytes()
        assert page.planarconfig == 1
        assert (compress != "none") == (317 in page.tags)
    with Image.open(tmp_path / "a.tif") as image:
        assert image.size == (1000, 300)
        assert image.info["icc_profile"] == profile_bytes()
        if compress != "zstd" and order == "<":  # the outside reader keeps the upper 8 bits
            np.testing.assert_array_equal(np.asarray(image), np.asarray(photo) >> 8)
    np.testing.assert_array_equal(read(tmp_path / "a.tif"), photo)


@pytest.mark.parametrize("compress", CODES)
def test_bytes_do_not_depend_on_threads_or_bands(tmp_path: Path, photo: Photo, compress: str) -> None:
    found = set()
    for threads, band in ((1, limits.BAND_BYTES), (2, 1), (5, 700_000), (3, 1 << 30)):
        write(photo, tmp_path / "a.tif", overwrite=True, compress=compress, threads=threads, band_bytes=band)
        found.add((tmp_path / "a.tif").read_bytes())
    assert len(found) == 1


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(height=st.integers(1, 40), width=st.integers(1, 40), compress=st.sampled_from(list(CODES)))
def test_any_size(tmp_path: Path, height: int, width: int, compress: str) -> None:
    pixels = picture(height, width)
    Photo.from_array(pixels).write(tmp_path / "a.tif", overwrite=True, compress=compress)
    np.testing.assert_array_equal(tifffile.imread(tmp_path / "a.tif").reshape(pixels.shape), pixels)


@pytest.mark.parametrize(
    ("stored", "kept"),
    [
        (None, "none"),
        ("lzw", "lzw"),
        ("deflate", "deflate"),
        ("zstd", "zstd"),
        ("packbits", "deflate"),
    ],
)
def test_compression_is_kept(tmp_path: Path, stored: str | None, kept: str) -> None:
    tifffile.imwrite(tmp_path / "a.tif", picture(), photometric="rgb", iccprofile=profile_bytes(), compression=stored)
    photo = read(tmp_path / "a.tif")
    assert photo.write(tmp_path / "b.tif").compression == kept
    assert photo.write(tmp_path / "c.tif", compress="none").compression == "none"


def test_unknown_compressions_are_refused_before_anything_is_made(tmp_path: Path, photo: Photo) -> None:
    with pytest.raises(ParameterError, match="none, lzw, deflate, zstd"):
        photo.write(tmp_path / "a.tif", compress="jpeg")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("compress", ["none", "lzw"])
def test_beyond_four_gigabytes_it_is_a_bigtiff(
    tmp_path: Path, photo: Photo, monkeypatch: pytest.MonkeyPatch, order: str, compress: str
) -> None:
    monkeypatch.setattr(limits, "CLASSIC_BYTES", 100_000)  # as if offsets had fewer bits
    photo = replace(photo, metadata=Metadata(order=order))
    assert photo.write(tmp_path / "a.tif", compress=compress).big
    with tifffile.TiffFile(tmp_path / "a.tif") as tif:
        assert tif.is_bigtiff
        np.testing.assert_array_equal(tif.pages[0].asarray(), photo)
        assert tif.pages[0].iccprofile == profile_bytes()
    np.testing.assert_array_equal(read(tmp_path / "a.tif"), photo)


def test_pixels_beyond_four_gigabytes(tmp_path: Path) -> None:
    photo, end = Photo.from_array(picture()), 5 << 30
    with Sink(tmp_path / "a.tif") as sink:  # a file with a hole before its pixels
        sink.write(picture().tobytes(), end)
        offsets, counts = np.array([end]), np.array([picture().nbytes])
        size, big = _finish.finish(sink, photo, "none", 20, offsets, counts, end + picture().nbytes)
        sink.publish()
    assert big
    assert size == (tmp_path / "a.tif").stat().st_size > 5 << 30
    np.testing.assert_array_equal(tifffile.imread(tmp_path / "a.tif"), picture())
    np.testing.assert_array_equal(read(tmp_path / "a.tif"), picture())


def test_resolutions_are_kept_as_they_were_written(tmp_path: Path, photo: Photo) -> None:
    stored = Resolution(118.11 * 2.54, (11811, 100, 3))
    replace(photo, resolution=stored).write(tmp_path / "a.tif")
    with tifffile.TiffFile(tmp_path / "a.tif") as tif:
        assert tif.pages[0].tags[282].value == (11811, 100)
        assert tif.pages[0].tags[296].value == 3
    assert _finish._stored(Resolution(359.97)) == (35997, 100, 2)


def test_progress_counts_every_row_once(tmp_path: Path, photo: Photo) -> None:
    for compress in ("none", "zstd"):
        rows: list[int] = []
        write(photo, tmp_path / f"{compress}.tif", compress=compress, threads=3, band_bytes=1, progress=rows.append)
        assert rows == sorted(rows)
        assert rows[-1] == 300
        assert len(rows) > 3


@pytest.mark.parametrize("compress", ["none", "lzw"])
def test_each_thread_reads_into_one_buffer(tmp_path: Path, photo: Photo, compress: str) -> None:
    seen: dict[int, set[int]] = {}

    class Watched:
        height, width = photo.height, photo.width

        def read(self, top: int, out: NDArray[np.uint16]) -> None:
            assert out.flags.c_contiguous
            seen.setdefault(threading.get_ident(), set()).add(out.__array_interface__["data"][0])
            photo.pixels.read(top, out)

    write(replace(photo, pixels=Watched()), tmp_path / "a.tif", compress=compress, threads=2, band_bytes=1)
    assert len(seen) <= 2
    assert all(len(places) == 1 for places in seen.values())


@pytest.mark.parametrize("strip_bytes", [500, 3000, 7777, 60000])
def test_bands_that_go_by_steps_of_rows_are_no_larger_than_asked(
    tmp_path: Path, photo: Photo, monkeypatch: pytest.MonkeyPatch, strip_bytes: int
) -> None:
    monkeypatch.setattr(limits, "STRIP_BYTES", strip_bytes)
    monkeypatch.setattr(limits, "WIDER_BANDS", 1)
    steps: list[tuple[int, int]] = []

    class Stepping:
        height, width, row_step = photo.height, photo.width, 16

        def read(self, top: int, out: NDArray[np.uint16]) -> None:
            steps.append((top, len(out)))
            photo.pixels.read(top, out)

    target = tmp_path / "a.tif"
    write(replace(photo, pixels=Stepping()), target, compress="lzw", threads=1, band_bytes=32 * photo.width * 6)
    assert all(top % 16 == 0 for top, _ in steps)
    assert max(rows for _, rows in steps) <= 32
    whole = np.empty((photo.height, photo.width, 3), np.uint16)
    photo.pixels.read(0, whole)
    with tifffile.TiffFile(target) as there:
        assert np.array_equal(there.asarray(), whole)
        assert there.pages[0].rowsperstrip * photo.width * 6 <= max(strip_bytes, photo.width * 6)


@settings(max_examples=25, deadline=None)
@given(
    order=st.permutations(range(10)), rows=st.integers(1, 7), extra=st.integers(0, 5),
    compress=st.sampled_from(["none", "zstd"]),
)  # fmt: skip
def test_fingerprints_depend_on_pixels_alone(order: list[int], rows: int, extra: int, compress: str) -> None:
    pixels = picture(30, 11)
    inner = Photo.from_array(pixels).pixels
    wanted = fingerprint(inner)
    passed = Fingerprinted(inner)
    for i in order:  # some rows twice, some not at all
        top = i * 3
        out = np.empty((min(rows + extra, 30 - top), 11, 3), np.uint16)
        passed.read(top, out)
        np.testing.assert_array_equal(out, pixels[top : top + len(out)])
    assert passed.hexdigest() == wanted
    changed = pixels.copy()
    changed[29, 10, 2] ^= 1
    assert fingerprint(Photo.from_array(changed).pixels) != wanted
    assert fingerprint(Photo.from_array(pixels.reshape(11, 30, 3)).pixels) != wanted


def test_fingerprints_through_the_writer(tmp_path: Path, photo: Photo) -> None:
    wanted, found = fingerprint(photo.pixels), set()
    for compress, threads in (("none", 1), ("lzw", 2), ("zstd", 3)):
        passed = Fingerprinted(photo.pixels)
        replace(photo, pixels=passed, ticket=passed.hexdigest).write(
            tmp_path / "a.tif", overwrite=True, compress=compress, threads=threads
        )
        found |= {passed.hexdigest(), fingerprint(read(tmp_path / "a.tif").pixels)}
    assert found == {wanted}


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16, np.float32, np.float64])
def test_from_arrays(dtype: Any) -> None:
    values = np.linspace(0, 1, 60).reshape(4, 5, 3)
    full = 1 if np.issubdtype(dtype, np.floating) else np.iinfo(dtype).max
    photo = Photo.from_array((values * full).round(12 if full == 1 else 0).astype(dtype), "sRGB")
    assert np.abs(np.asarray(photo) / 65535 - values).max() < (0.51 / min(full, 65535) if full > 1 else 1e-5)
    assert photo.profile == Profile.named("sRGB")


@pytest.mark.parametrize(
    "bad",
    [np.zeros((4, 5)), np.zeros((0, 5, 3), np.uint8), np.zeros((4, 5, 4), np.uint8), np.zeros((4, 5, 3), np.int16),
     np.full((4, 5, 3), np.nan), np.full((4, 5, 3), 1.01), np.full((4, 5, 3), -0.01)],
)  # fmt: skip
def test_arrays_that_are_no_picture(bad: NDArray[Any]) -> None:
    with pytest.raises(ParameterError, match="rgb"):
        Photo.from_array(bad)


def test_transparency_found_on_the_way_leaves_nothing(tmp_path: Path) -> None:
    pixels = np.full((300, 1000, 4), 65535, np.uint16)
    pixels[299, 999, 3] = 65534
    tifffile.imwrite(
        tmp_path / "a.tif", pixels, photometric="rgb", extrasamples=["unassalpha"], iccprofile=profile_bytes(),
        rowsperstrip=10, metadata=None,
    )  # fmt: skip
    photo = read(tmp_path / "a.tif")
    with pytest.raises(InputError, match="transparent"):
        write(photo, tmp_path / "b.tif", threads=2, band_bytes=1)
    assert [p.name for p in tmp_path.iterdir()] == ["a.tif"]
