"""Test strips: what is varied, where it goes, and that every crop is what prepare makes of that place."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

import printprep as pp
from printprep.colour._matrix import grey_profile
from printprep.conditions import lengths
from printprep.errors import OutputError, ParameterError, PrintprepError, UnknownName
from printprep.jobs.strip_layout import HEADER_MM, LABEL_MM, MARGINS_MM, arranged
from printprep.jobs.vary import Vary
from printprep.photo.bands import read_all
from tests.support.tiffs import tiff

Codes = NDArray[np.uint16]


def picture(rows: int = 520, columns: int = 760) -> Codes:
    """A grey ramp with strong colours in one corner, dark texture in another."""
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float64)
    rgb = np.stack([0.2 + 0.5 * x / columns, 0.3 + 0.4 * y / rows, 0.5 - 0.3 * x / columns], -1)
    rgb[: rows // 3, : columns // 3] = [0.05, 0.1, 0.95]
    noise = np.random.default_rng(5).normal(0, 0.02, rgb.shape)
    rgb[2 * rows // 3 :, 2 * columns // 3 :] *= 0.1
    return np.asarray(np.clip(rgb + noise, 0, 1) * 65535, np.uint16)


@pytest.fixture
def edit(tmp_path: Path) -> Path:
    pp.Photo.from_array(picture(), "opRGB").write(tmp_path / "edit.tif")
    return tmp_path / "edit.tif"


@pytest.fixture
def pipe() -> pp.Pipeline:
    """A paper whose printer wants 90 pixels an inch, so that 60 mm are 213 pixels."""
    paper = replace(pp.paper("cotton-rag"), native_ppi=90)
    return replace(pp.pipeline(paper="cotton-rag", room="evening-sitting-room"), paper=paper)


# ---------------------------------------------------------------- to the byte


def made_by_prepare(edit: Path, pipe: pp.Pipeline, values: dict[str, float], folder: Path) -> Codes:
    """What prepare writes, read by tifffile."""
    named = dict(values)
    strength = named.pop("strength", None)
    asked = pp.pipeline(paper=pipe.paper, room="evening-sitting-room", settings=named, strength=strength)
    asked = replace(asked, sheet=pipe.sheet, hand_over=pipe.hand_over)
    pp.prepare(edit, folder / "whole.tif", asked, overwrite=True)
    return np.asarray(tifffile.imread(folder / "whole.tif"))


@pytest.mark.parametrize("size", [None, "300x200mm"])
@pytest.mark.parametrize(
    "vary", [["strength=0..1.2/2"], ["gamut-fit.strength=0..1/2", "shadow-lift.strength=0.5..1.5/2"]]
)
def test_every_crop_is_what_prepare_makes_of_that_place(
    edit: Path, pipe: pp.Pipeline, tmp_path: Path, vary: list[str], size: str | None
) -> None:
    if size:
        pipe = replace(pipe, sheet=pp.Sheet(size=size))
    strip = pp.strip(edit, tmp_path / "strip.tif", pipe, vary, parts=None if len(vary) > 1 else 2)
    sheet = np.asarray(tifffile.imread(strip.path))
    layout = pipe.layout(pp.read(edit))
    box, part = (layout.picture, layout.part) if layout else ((0, 0, 760, 520), (0.0, 0.0, 760.0, 520.0))
    scale = box[2] / part[2]
    assert len(strip.cells) == 4
    for name, values in strip.cells.items():
        left, top, width, height = strip.boxes[name]
        x, y = (round((strip.crops[name][k] - part[k]) * scale) + box[k] for k in (0, 1))
        whole = made_by_prepare(edit, pipe, dict(values), tmp_path)
        assert np.array_equal(sheet[top : top + height, left : left + width], whole[y : y + height, x : x + width])


def test_a_colour_managed_hand_over_in_the_papers_profile(edit: Path, tmp_path: Path) -> None:
    from tests.support.lutprofile import MatrixInk, output_profile

    ink = MatrixInk(12.0)
    paper = pp.Paper.from_profile(output_profile(ink.lab, ink.rgb, device_nodes=9, lab_nodes=17), native_ppi=90)
    pipe = pp.Pipeline([pp.GamutFit()], paper=paper, hand_over="paper")
    strip = pp.strip(edit, tmp_path / "strip.tif", pipe, "gamut-fit.strength=0..1/2")
    assert pp.read(strip.path).profile.data == paper.profile
    sheet = np.asarray(tifffile.imread(strip.path))
    left, top, width, height = strip.boxes["A1"]
    pp.prepare(edit, tmp_path / "whole.tif", replace(pipe, steps=pp.Steps((pp.GamutFit(strength=0),))))
    x, y = (round(v) for v in strip.crops["A1"][:2])
    whole = np.asarray(tifffile.imread(tmp_path / "whole.tif"))
    assert np.array_equal(sheet[top : top + height, left : left + width], whole[y : y + height, x : x + width])


@pytest.mark.parametrize("hand_over", ["source", "grey"])
def test_grey_stays_grey(tmp_path: Path, hand_over: Any) -> None:
    tiff(tmp_path / "grey.tif", {34675: (7, grey_profile("grey", 2.2))}, picture()[..., :1])
    ramp = ((0, 16.0), (64, 38.0), (128, 60.0), (192, 80.0), (255, 96.3))
    paper = replace(pp.paper("cotton-rag"), native_ppi=90, grey_ramp=ramp, grey_mode="neutral")
    pipe = pp.Pipeline([pp.ShadowLift(worth=1.0)], paper=paper, hand_over=hand_over)
    strip = pp.strip(tmp_path / "grey.tif", tmp_path / "strip.tif", pipe, "strength=0..1/2", parts=1)
    pp.prepare(tmp_path / "grey.tif", tmp_path / "whole.tif", pipe)
    sheet, whole = (np.asarray(tifffile.imread(tmp_path / f"{name}.tif")) for name in ("strip", "whole"))
    assert sheet.ndim == whole.ndim == 2
    left, top, width, height = strip.boxes["A2"]
    x, y = (round(v) for v in strip.crops["A2"][:2])
    assert np.array_equal(sheet[top : top + height, left : left + width], whole[y : y + height, x : x + width])
    assert sheet[5, 5] == 65535
    with tifffile.TiffFile(tmp_path / "strip.tif") as one, tifffile.TiffFile(tmp_path / "whole.tif") as other:
        profiles = [file.pages.first.tags["InterColorProfile"].value for file in (one, other)]
    assert profiles[0] == profiles[1]


# ---------------------------------------------------------------- what is on the sheet


def test_crops_are_large_and_white_is_round_them(edit: Path, pipe: pp.Pipeline, tmp_path: Path) -> None:
    strip = pp.strip(edit, tmp_path / "strip.tif", pipe, "strength=0..1.2/5")
    sheet = np.asarray(tifffile.imread(strip.path))
    assert sheet.shape[:2] == (round(297 * 90 / 25.4), round(210 * 90 / 25.4))  # A4, ISO 216
    with tifffile.TiffFile(strip.path) as file:
        assert file.pages.first.tags["XResolution"].value == (90, 1)
    for left, top, width, height in strip.boxes.values():
        assert min(width, height) >= int(60 * 90 / 25.4)
        for side in (sheet[top : top + height, left - 6 : left - 1], sheet[top - 6 : top - 1, left : left + width]):
            assert (side == 65535).all()
    margin = round(9 * 90 / 25.4)
    for edge in (sheet[:margin], sheet[-margin:], sheet[:, :margin], sheet[:, -margin:]):
        assert (edge == 65535).all()


def test_the_same_pixels_for_any_number_of_threads(edit: Path, pipe: pp.Pipeline, tmp_path: Path) -> None:
    files = []
    for threads in (1, 3):
        (tmp_path / f"{threads}").mkdir()
        files.append(tmp_path / f"{threads}" / "strip.tif")
        pp.strip(edit, files[-1], pipe, "strength=0..1/2", threads=threads)
    assert files[0].read_bytes() == files[1].read_bytes()


def test_parts_are_where_values_differ_most(pipe: pp.Pipeline, tmp_path: Path) -> None:
    # only the blue corner is out of the paper's gamut, only the dark one is swallowed: CIEDE2000 is largest there
    codes = np.full((520, 760, 3), 50_000, np.uint16)
    codes[:220, :220] = [2_000, 6_000, 62_000]
    codes[-220:, -220:] = 10_000
    pp.Photo.from_array(codes, "opRGB").write(tmp_path / "corners.tif")
    for key, corner in (("gamut-fit.strength", (0, 0)), ("shadow-lift.worth", (540, 300))):
        strip = pp.strip(tmp_path / "corners.tif", tmp_path / f"{key}.tif", pipe, f"{key}=0..1/5", parts=1)
        assert strip.crops["A1"][:2] == pytest.approx(corner, abs=30)


def test_a_strip_is_no_edit(edit: Path, pipe: pp.Pipeline, tmp_path: Path) -> None:
    strip = pp.strip(edit, tmp_path / "strip.tif", pipe, "strength=0..1/2")
    with pytest.raises(pp.AlreadyPrepared):
        pp.prepare(strip.path, tmp_path / "again.tif", pipe)
    with pytest.raises(pp.InputError, match="is a test strip; pick a place"):
        pp.read_ticket(strip.path)


def test_says_where_nothing_differs(edit: Path, pipe: pp.Pipeline, tmp_path: Path) -> None:
    assert pp.strip(edit, tmp_path / "1.tif", pipe, "highlight-hold.strength=0..1/2").alike
    assert not pp.strip(edit, tmp_path / "2.tif", pipe, "strength=0..1/2").alike


def test_a_crop_is_shown_where_it_is_asked_for(edit: Path, pipe: pp.Pipeline, tmp_path: Path) -> None:
    strip = pp.strip(edit, tmp_path / "1.tif", pipe, "strength=0..1/2", crop=(300, 200, 40, 260))
    x, y, wide, high = strip.crops["A1"]
    assert wide >= 212  # 60 mm at 90 pixels per inch
    assert high == pytest.approx(260, abs=1)
    assert x + wide / 2 == pytest.approx(320, abs=1)
    assert y == pytest.approx(200, abs=1)


def test_a_picture_smaller_than_a_crop_is_shown_whole(pipe: pp.Pipeline, tmp_path: Path) -> None:
    pp.Photo.from_array(picture(60, 100)).write(tmp_path / "small.tif")
    strip = pp.strip(tmp_path / "small.tif", tmp_path / "1.tif", pipe, "strength=0..1/2")
    assert strip.crops["A1"] == (0, 0, 100, 60)


@pytest.mark.parametrize(
    ("vary", "more", "kind", "said"),
    [
        ("strength=1..1/3", {}, ParameterError, "empty range"),
        ("strength=0..1/1", {}, ParameterError, "2 to 9 values"),
        ("strength=0..1/99999999999", {}, ParameterError, "2 to 9 values"),
        ("strength", {}, ParameterError, "must be a parameter"),
        ("strength=a..b/3", {}, ParameterError, "must be a parameter"),
        ("strenght=0..1/3", {}, ParameterError, "is no parameter"),
        ("shadow-lift.strenght=0..1/3", {}, UnknownName, "did you mean strength"),
        ("shadow-lif.strength=0..1/3", {}, UnknownName, "did you mean shadow-lift"),
        ("shadow-lift.strength=0..9/3", {}, ParameterError, "0 to 1.5"),
        ("strength=0..2/3", {}, ParameterError, "strength = 2"),
        (["strength=0..1/2", "strength=0..1/3"], {}, ParameterError, "twice"),
        (["strength=0..1/2"] * 3, {}, ParameterError, "one or two"),
        ([], {}, ParameterError, "one or two"),
        ("strength=0..1/3", {"crop": (700, 0, 100, 100)}, ParameterError, "within the picture"),
        ("strength=0..1/3", {"crop": (0, 0, 0, 9)}, ParameterError, "within the picture"),
        ("strength=0..1/3", {"crop": (1, 2, 3)}, ParameterError, "left, top, width"),
        ("strength=0..1/3", {"crop": (0, 0, 9, 9), "parts": 2}, ParameterError, "beside a crop"),
        ("strength=0..1/3", {"parts": 0}, ParameterError, "1 to 9"),
        (["strength=0..1/2", "gamut-fit.strength=0..1/2"], {"parts": 2}, ParameterError, "must be 1"),
        ("strength=0..1/5", {"parts": 3}, PrintprepError, "do not fit on A4"),
        ("strength=0..1/2", {"sheet": "A9"}, ParameterError, "size"),
        ("strength=0..1/2", {"crop": (0, 0, 760, 520), "sheet": "A6"}, PrintprepError, "or sheet=A"),
    ],
)
def test_bad_input_is_one_line_and_nothing_is_written(
    edit: Path, pipe: pp.Pipeline, tmp_path: Path, vary: Any, more: dict[str, Any],
    kind: type[PrintprepError], said: str,
) -> None:  # fmt: skip
    with pytest.raises(kind) as error:
        pp.strip(edit, tmp_path / "strip.tif", pipe, vary, **more)
    assert said in str(error.value)
    assert "\n" not in str(error.value)
    assert [p.name for p in tmp_path.iterdir()] == ["edit.tif"]


def test_never_replaces_unasked(edit: Path, pipe: pp.Pipeline, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="is the input itself"):
        pp.strip(edit, edit, pipe, "strength=0..1/2", overwrite=True)
    (tmp_path / "strip.tif").write_bytes(b"mine")
    with pytest.raises(OutputError, match="exists already"):
        pp.strip(edit, tmp_path / "strip.tif", pipe, "strength=0..1/2")
    assert (tmp_path / "strip.tif").read_bytes() == b"mine"


# ---------------------------------------------------------------- values and places


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("strength=0..1.2/5", (0, 0.3, 0.6, 0.9, 1.2)),
        ("a.b = -1 .. 1 / 3", (-1, 0, 1)),
        ("a.b=1..0/2", (1, 0)),
        ("a.b=.1...3/3", (0.1, 0.2, 0.3)),
    ],
)
def test_ranges(text: str, values: tuple[float, ...]) -> None:
    assert Vary.parse(text).values == values


def test_around_a_value_is_narrower() -> None:
    old = Vary.parse("strength=0..1.2/5")
    assert old.around(0.6).values == (0.3, 0.45, 0.6, 0.75, 0.9)
    assert old.around(0).values[0] == 0
    assert old.around(0).values[-1] == 0.3
    assert Vary("a.b", (0.0, 1.0)).around(1.0).values == (0.0, 1.0)


@settings(max_examples=100, deadline=None)
@given(
    st.sampled_from([*lengths.SIZES]), st.integers(1, 9), st.integers(2, 9),
    st.tuples(st.floats(20, 900), st.floats(20, 900)), st.none() | st.tuples(st.floats(60, 300), st.floats(60, 300)),
)  # fmt: skip
def test_crops_lie_on_the_sheet_and_not_on_each_other(
    sheet: str, letters: int, numbers: int, most: tuple[float, float], cell: tuple[float, float] | None
) -> None:
    try:
        grid = arranged(sheet, letters, numbers, cell, most)
    except PrintprepError as error:
        assert "do not fit" in str(error)  # noqa: PT017
        return
    assert sorted((grid.width, grid.height)) == sorted(lengths.SIZES[sheet])
    assert len(grid.places) == letters * numbers
    wide, high = grid.cell
    if cell is None:
        assert wide >= min(60, most[0]) - 1e-9
        assert high >= min(60, most[1]) - 1e-9
    places = list(grid.places.values())
    for k, (x, y) in enumerate(places):
        assert x >= MARGINS_MM[0] - 1e-6
        assert x + wide <= grid.width - MARGINS_MM[0] + 1e-6
        assert y >= MARGINS_MM[1] + HEADER_MM - 1e-6
        assert y + high + LABEL_MM <= grid.height - MARGINS_MM[1] + 1e-6
        for u, v in places[:k]:
            assert abs(u - x) >= wide + 2.9 or abs(v - y) >= high + LABEL_MM


def test_the_small_picture_is_the_whole_as_asked_for(edit: Path, pipe: pp.Pipeline, tmp_path: Path) -> None:
    strip = pp.strip(edit, tmp_path / "1.tif", pipe, "strength=0..1/2")
    sheet = np.asarray(tifffile.imread(strip.path)).astype(float)
    per_mm = 90 / 25.4
    height = round(31 * per_mm)
    right = round((210 - 12) * per_mm) if strip.sheet_mm[0] == 210 else round((297 - 12) * per_mm)
    width = round(height * 760 / 520)
    corner = sheet[round(15 * per_mm) :][:height, right - width : right]
    whole = read_all(pipe(pp.read(edit)).pixels).astype(float)
    for y, x in ((0.55, 0.1), (0.12, 0.8)):  # two even places
        block = whole[int(y * 520) :, int(x * 760) :][:40, :40].mean(axis=(0, 1))
        small = corner[int((y + 0.02) * height) :, int((x + 0.02) * width) :][:5, :5].mean(axis=(0, 1))
        assert np.abs(block - small).max() < 2000
