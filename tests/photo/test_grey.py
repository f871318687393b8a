"""Grey in, grey out: one channel in the edit's own profile, read back by others, a third of the size."""

from __future__ import annotations

import pickle
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

import printprep as pp
from printprep.colour._matrix import grey_profile
from printprep.colour.profile import Profile
from printprep.jobs.prepare import standing
from printprep.photo.grey import Scale
from printprep.photo.read import read
from tests.support.tiffs import Value, picture, tiff

SRGB = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)  # IEC 61966-2-1


def edit(path: Path, curve: Any = 2.2, pixels: NDArray[Any] | None = None, **more: Any) -> Path:
    changes: dict[int, Value | None] = {34675: (7, grey_profile("grey", curve))}
    return tiff(path, changes, picture(40, 30, 1) if pixels is None else pixels, **more)


def pipe(*steps: pp.Adjustment, **more: Any) -> pp.Pipeline:
    return pp.Pipeline(steps or [pp.ShadowLift(), pp.GamutFit()], paper=pp.paper("cotton-rag"), **more)


@pytest.mark.parametrize("curve", [1.0, 1.8, 2.2, SRGB])
@pytest.mark.parametrize("compress", ["none", "deflate", "lzw", "zstd"])
@pytest.mark.parametrize("order", ["<", ">"])
def test_grey_comes_back_grey(tmp_path: Path, curve: Any, compress: str, order: str) -> None:
    source = edit(tmp_path / "a.tif", curve, order=order)
    pp.prepare(source, tmp_path / "b.tif", pipe(), compress=compress)
    with tifffile.TiffFile(tmp_path / "b.tif") as file:
        page = file.pages[0]
        assert page.tags["PhotometricInterpretation"].value == 1
        assert page.tags["SamplesPerPixel"].value == 1
        assert page.tags["BitsPerSample"].value == 16
        assert page.tags["InterColorProfile"].value == grey_profile("grey", curve)
        made = file.asarray()
    assert made.shape == (40, 30)
    # the same, prepared as RGB: LittleCMS brings ours there, within rounding of two 16-bit scales
    rgb = np.asarray(pipe()(read(source)))
    there = imagecodecs.cms_transform(
        made / 65535.0, grey_profile("grey", curve), Profile.named("opRGB").data,
        colorspace="gray", outcolorspace="rgb", outdtype="float64", intent=1, flags=0x0140,
    )  # fmt: skip
    assert np.abs(there - rgb / 65535.0).max() < 1e-3
    assert not np.array_equal(made, tifffile.imread(source).squeeze())


def test_pillow_reads_it_and_it_is_a_third(tmp_path: Path) -> None:
    source = edit(tmp_path / "a.tif", pixels=picture(300, 200, 1))
    pp.prepare(source, tmp_path / "b.tif", pipe())
    pp.prepare(source, tmp_path / "c.tif", pipe(pp.Toning(shadows=6), pp.GamutFit()))
    with Image.open(tmp_path / "b.tif") as image:
        assert image.mode == "I;16"
        assert np.array_equal(np.asarray(image), tifffile.imread(tmp_path / "b.tif"))
        assert image.info["icc_profile"] == grey_profile("grey", 2.2)
    sizes = [(tmp_path / name).stat().st_size for name in ("b.tif", "c.tif")]
    assert sizes[0] / sizes[1] == pytest.approx(1 / 3, abs=0.02)


@settings(max_examples=20, deadline=None)
@given(curve=st.floats(0.6, 3.0), seed=st.integers(0, 99))
def test_written_unchanged_it_has_the_very_values(
    tmp_path_factory: pytest.TempPathFactory, curve: float, seed: int
) -> None:
    """But for codes that opRGB does not tell apart, where its curve is the flatter one."""
    folder = tmp_path_factory.mktemp("grey")
    source = edit(folder / "a.tif", curve, picture(20, 20, 1, seed=seed))
    read(source).write(folder / "b.tif")
    was, now = (tifffile.imread(folder / name).squeeze().astype(int) for name in ("a.tif", "b.tif"))
    same = np.asarray(read(source))
    assert np.array_equal(same, np.asarray(read(folder / "b.tif"))), "read again, it is the same picture"
    rgb = Scale.of(read(source).pixels.grey).rgb  # type: ignore[attr-defined]
    alike = np.bincount(rgb, minlength=65536)[rgb[was]]  # grey codes that opRGB does not tell apart
    assert (np.abs(now - was) < alike).all()


def test_toning_and_the_papers_own_profile_give_rgb(tmp_path: Path) -> None:
    source = edit(tmp_path / "a.tif")
    for steps in ((pp.Toning(highlights=5),), (pp.Monochrome(), pp.PaperTint())):
        pp.prepare(source, tmp_path / "b.tif", pipe(*steps), overwrite=True)
        assert tifffile.imread(tmp_path / "b.tif").shape == (40, 30, 3)
        assert read(tmp_path / "b.tif").profile == Profile.named("opRGB")


def test_sharpened_grey_stays_grey(tmp_path: Path) -> None:
    pipe_ = pipe(pp.Sharpen(), pp.ShadowLift(), sheet=pp.Sheet(distance_m=1.0))
    pp.prepare(edit(tmp_path / "a.tif"), tmp_path / "b.tif", pipe_)
    assert tifffile.imread(tmp_path / "b.tif").shape == (40, 30)


def test_a_colour_edit_made_monochrome_stays_rgb(tmp_path: Path) -> None:
    pp.prepare(tiff(tmp_path / "a.tif"), tmp_path / "b.tif", pipe(pp.Monochrome()))
    made = tifffile.imread(tmp_path / "b.tif")
    assert made.shape == (20, 15, 3)
    assert np.ptp(made.astype(int), axis=2).max() <= 1


@pytest.mark.parametrize("pixels", [picture(40, 30, 1), (picture(40, 30, 1) >> 8).astype(np.uint8)])
def test_the_ticket_knows_its_pixels(tmp_path: Path, pixels: NDArray[Any]) -> None:
    source, output = edit(tmp_path / "a.tif", 1.8, pixels), tmp_path / "b.tif"
    pp.prepare(source, output, pipe())
    assert standing(source, output, pipe()) == "done"
    edit(source, 1.8, picture(40, 30, 1, seed=5))
    assert standing(source, output, pipe()) == "outdated"  # the output is as it was written


@pytest.mark.parametrize("rows", [1, 7, 40])
def test_bands_do_not_matter(tmp_path: Path, rows: int) -> None:
    from printprep.photo.write import write

    made = pipe()(read(edit(tmp_path / "a.tif")))
    for name, size in (("b.tif", 30 * 6 * rows), ("c.tif", 1 << 20)):
        write(made, tmp_path / name, band_bytes=size, compress="deflate")
    assert (tmp_path / "b.tif").read_bytes() == (tmp_path / "c.tif").read_bytes()


def test_white_as_zero_and_turned_pictures_are_written_plainly(tmp_path: Path) -> None:
    changes: dict[int, Value | None] = {34675: (7, grey_profile("g", 2.2)), 262: (3, [0]), 274: (3, [6])}
    source = tiff(tmp_path / "a.tif", changes, picture(20, 15, 1))
    read(source).write(tmp_path / "b.tif")
    made = tifffile.imread(tmp_path / "b.tif").astype(int)
    wanted = 65535 - np.rot90(picture(20, 15, 1)[..., 0].astype(int), -1)
    assert made.shape == (15, 20)
    assert np.abs(made - wanted).max() <= 1


def test_a_profile_that_does_not_lead_back_gives_rgb(tmp_path: Path) -> None:
    from printprep.photo.grey import grey_profile_of

    flat = grey_profile("flat", (1.0, 0.4, 0.3, 0.4, 0.0))  # from 0.3 to 0.7 of the light: no black, no white
    assert Scale.of(Profile.from_bytes(flat)).grey is None
    photo = read(tiff(tmp_path / "a.tif", {34675: (7, flat)}, picture(20, 15, 1)))
    assert grey_profile_of(photo.pixels) is None
    photo.write(tmp_path / "b.tif")
    assert tifffile.imread(tmp_path / "b.tif").shape == (20, 15, 3)


def test_it_can_be_sent_to_another_process(tmp_path: Path) -> None:
    photo = read(edit(tmp_path / "a.tif"))
    again = pickle.loads(pickle.dumps(photo))
    assert again.pixels.grey == photo.pixels.grey  # type: ignore[attr-defined]
    assert np.array_equal(np.asarray(again), np.asarray(photo))
