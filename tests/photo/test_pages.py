"""One picture in a file is found among its reduced copies; several are refused; chains that loop end."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile

from printprep.errors import InputError
from printprep.photo.read import read
from tests.support.tiffs import Value, basic, directory, picture, profile_bytes, tiff

PAGE_END = 8 + 20 * 15 * 6


def second_at(changes: dict[int, Value | None]) -> int:
    """Where a second directory begins in a file made by `tiff`."""
    tags = {k: v for k, v in (basic(picture()) | changes).items() if v is not None}
    return PAGE_END + len(directory(tags, PAGE_END))


def two(path: Path, first: dict[int, Value | None], second: dict[int, Value]) -> Path:
    at = second_at(first)
    return tiff(path, first, following=at, after=directory(second, at))


def test_reduced_copies_are_passed_over(tmp_path: Path) -> None:
    small = basic(picture(2, 3)) | {254: (4, [1])}
    np.testing.assert_array_equal(read(two(tmp_path / "a.tif", {}, small)), picture())
    old = basic(picture(2, 3)) | {255: (3, [2])}  # the older tag says the same
    np.testing.assert_array_equal(read(two(tmp_path / "b.tif", {}, old)), picture())


def test_a_reduced_copy_that_comes_first(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    with tifffile.TiffWriter(path) as writer:
        for pixels, kind in ((picture(4, 3), 1), (picture(), 0)):
            writer.write(pixels, photometric="rgb", iccprofile=profile_bytes(), subfiletype=kind, metadata=None)
    np.testing.assert_array_equal(read(path), picture())


def test_pyramids_in_sub_directories(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    with tifffile.TiffWriter(path) as writer:
        writer.write(picture(), photometric="rgb", iccprofile=profile_bytes(), subifds=1, metadata=None)
        writer.write(picture(10, 7), photometric="rgb", subfiletype=1, metadata=None)
    np.testing.assert_array_equal(read(path), picture())


@pytest.mark.parametrize("kind", [0, 2])
def test_several_pictures(tmp_path: Path, kind: int) -> None:
    with pytest.raises(InputError, match="holds several pictures; export the one to print"):
        read(two(tmp_path / "a.tif", {}, basic(picture(2, 3)) | {254: (4, [kind])}))


def test_only_a_reduced_copy(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="only a reduced copy"):
        read(tiff(tmp_path / "a.tif", {254: (4, [1])}))


def test_a_mask_beside_the_picture(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="transparency mask; flatten it first"):
        read(two(tmp_path / "a.tif", {}, basic(picture(2, 3)) | {254: (4, [4])}))


@pytest.mark.parametrize("following", [PAGE_END, 10, 3, 0xFFFFFFF0])
def test_chains_that_loop_or_end_in_rubbish(tmp_path: Path, following: int) -> None:
    np.testing.assert_array_equal(read(tiff(tmp_path / "a.tif", following=following)), picture())


def test_a_chain_that_loops_further_on(tmp_path: Path) -> None:
    at = second_at({})
    small = basic(picture(2, 3)) | {254: (4, [1])}
    path = tiff(tmp_path / "a.tif", following=at, after=directory(small, at, following=PAGE_END))
    np.testing.assert_array_equal(read(path), picture())


def test_an_endless_chain_of_reduced_copies_ends(tmp_path: Path) -> None:
    at, chain = second_at({}), b""
    for _ in range(500):
        here = at + len(chain)
        tags: dict[int, Value] = {254: (4, [1]), 256: (4, [1])}
        chain += directory(tags, here, following=here + len(directory(tags, here)))
    np.testing.assert_array_equal(read(tiff(tmp_path / "a.tif", following=at, after=chain)), picture())


def test_rubbish_that_looks_like_a_directory(tmp_path: Path) -> None:
    at = second_at({})
    path = tiff(tmp_path / "a.tif", following=at, after=b"\x03\x00" + b"\x77" * 40)
    np.testing.assert_array_equal(read(path), picture())
