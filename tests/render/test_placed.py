"""A picture on its sheet: white where nothing is, the same bytes wherever bands are cut, read back by Pillow."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

import printprep as pp
from printprep.conditions.layout import laid_out
from printprep.photo.pixels import ArrayPixels
from printprep.render.placed import BARE, SheetPixels
from tests.support.tiffs import picture


def on(codes: NDArray[np.uint16], **sheet: object) -> SheetPixels:
    """A picture that is as large as it is printed already."""
    size = pp.Sheet(ppi=25.4, **sheet)  # type: ignore[arg-type]
    layout = laid_out(size, codes.shape[1], codes.shape[0], 360, 1)
    assert layout.picture[2:] == (codes.shape[1], codes.shape[0])  # a pixel a millimetre
    return SheetPixels(ArrayPixels(codes), layout)


def whole(pixels: SheetPixels) -> NDArray[np.uint16]:
    out = np.empty((pixels.height, pixels.width, 3), np.uint16)
    pixels.read(0, out)
    return out


def test_white_around_the_picture() -> None:
    codes = picture(60, 40)
    got = whole(on(codes, size="60x90mm", margin_mm=10))
    # 60 x 90 mm, 10 on each side leave 40 x 70; the picture has 40 x 60, in the middle
    assert got.shape == (90, 60, 3)
    assert np.array_equal(got[15:75, 10:50], codes)
    got[15:75, 10:50] = BARE
    assert (got == BARE).all()


def test_canvas_is_mirrored_over_the_bars() -> None:
    codes = picture(60, 40)
    got = whole(on(codes, size="40x60mm", wrap_mm=8))
    assert got.shape == (60 + 36, 40 + 36, 3)
    assert np.array_equal(got[10:-10, 10:-10], np.pad(codes, ((8, 8), (8, 8), (0, 0)), mode="symmetric"))
    assert (got[:10] == BARE).all() and (got[:, -10:] == BARE).all()


def test_a_keyline_and_a_caption_leave_the_picture_alone() -> None:
    codes = picture(60, 40)
    bare = whole(on(codes, size="60x90mm", margin_mm=10))
    got = whole(on(codes, size="60x90mm", margin_mm=10, keyline=True, caption="B3"))
    assert np.array_equal(got[15:75, 10:50], bare[15:75, 10:50])
    assert (got[14, 9:51] < BARE).all() and (got[75, 9:51] < BARE).all()
    assert (got[14:76, 9] < BARE).all() and (got[14:76, 50] < BARE).all()
    assert (got[77:90] < BARE).any() and (got[:14] == BARE).all()


@settings(max_examples=25, deadline=None)
@given(top=st.integers(0, 95), rows=st.integers(1, 40))
def test_bands_may_be_cut_anywhere(top: int, rows: int) -> None:
    pixels = on(picture(60, 40), size="40x60mm", wrap_mm=8)
    band = np.empty((min(rows, pixels.height - top), pixels.width, 3), np.uint16)
    pixels.read(top, band)
    assert np.array_equal(band, whole(pixels)[top : top + len(band)])


@pytest.fixture(scope="module")
def edit(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("edit") / "edit.tif"
    pp.Photo.from_array(picture(300, 200), "sRGB").write(path)
    return path


def test_a_sized_file_as_pillow_sees_it(tmp_path: Path, edit: Path) -> None:
    pipe = pp.pipeline(paper="cotton-rag", sheet=pp.Sheet(size="8x10in", ppi=100))
    done = pp.prepare(edit, tmp_path / "a.tif", pipe)
    assert done.layout is not None
    photo = pp.read(tmp_path / "a.tif")
    assert (photo.width, photo.height) == (800, 1000)
    pp.Photo.from_array((np.asarray(photo) >> 8).astype(np.uint8), "sRGB", ppi=photo.resolution.ppi).write(
        tmp_path / "b.tif"
    )
    with Image.open(tmp_path / "a.tif") as image:  # Pillow: another reader of the resolution
        assert image.info["dpi"] == pytest.approx((100, 100))
        assert image.size == (800, 1000)
    ticket = pp.read_ticket(tmp_path / "a.tif")
    assert ticket.sheet["size"] == "8x10in"
    assert ticket.sheet["print"]["ppi"] == 100
    left, top, width, height = done.layout.picture
    pixels = np.asarray(photo)
    assert (pixels[:top] == BARE).all() and (pixels[:, :left] == BARE).all()
    assert len(np.unique(pixels[top : top + height, left : left + width])) > 1000


def test_threads_and_bands_do_not_show(tmp_path: Path, edit: Path) -> None:
    pipe = pp.pipeline(paper="canvas", sheet=pp.Sheet(size="A5", ppi=150, keyline=True))
    ready = pipe(pp.read(edit))
    ready.write(tmp_path / "one.tif", threads=1)
    ready.write(tmp_path / "three.tif", threads=3)
    assert (tmp_path / "one.tif").read_bytes() == (tmp_path / "three.tif").read_bytes()
    whole = np.asarray(ready)
    for top in range(0, ready.height, 97):
        assert np.array_equal(ready.rows(top, min(top + 97, ready.height)), whole[top : top + 97])


def test_sharpening_is_for_the_print(edit: Path) -> None:
    photo = pp.read(edit)
    soft = pp.pipeline(paper="cotton-rag", sheet=pp.Sheet(size="A6"), settings={"sharpen.strength": 0})
    crisp = pp.pipeline(paper="cotton-rag", sheet=pp.Sheet(size="A6"))
    assert not np.array_equal(np.asarray(soft(photo)), np.asarray(crisp(photo)))
    no_size = pp.pipeline(paper="cotton-rag")
    other = pp.pipeline(paper="cotton-rag", sheet=pp.Sheet())
    assert np.array_equal(np.asarray(no_size(photo)), np.asarray(other(photo)))


def test_the_sample_shows_what_is_printed(tmp_path: Path, edit: Path) -> None:
    """Of a picture that is cut to the sheet, only what is left counts."""
    sheet = pp.Sheet(size="50x100mm", margin_mm=0, fill=True, ppi=100, orientation="landscape")
    pipe = pp.pipeline(paper="gloss", sheet=sheet)
    done = pp.prepare(edit, tmp_path / "a.tif", pipe)
    assert done.before.shape == done.after.shape
    assert 52 <= done.before.shape[0] <= 54  # 100 of 300 rows, of which 160 are sampled
    assert (done.before.reshape(-1, 3).max(axis=1) > 0).mean() > 0.9
