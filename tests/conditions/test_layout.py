"""Where pictures lie on sheets."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from printprep.conditions.layout import Layout, laid_out
from printprep.conditions.sheet import Sheet
from printprep.errors import ParameterError, PrintprepError


def lay(width: int, height: int, distance: float = 1.0, **sheet: object) -> Layout:
    return laid_out(Sheet(**sheet), width, height, 360.0, distance)  # type: ignore[arg-type]


def test_an_a2_of_24_megapixels() -> None:
    found = lay(6000, 4000, size="A2")
    assert found.sheet_mm == (594, 420)  # it lies as the picture does
    assert (found.width, found.height) == (round(594 / 25.4 * 360), round(420 / 25.4 * 360))
    # 420 mm less 15 and 25 leave 380, 594 less 30 leave 564; 3:2 fits into 564 x 376
    assert found.picture_mm == pytest.approx((564, 376), abs=0.1)
    assert found.edit_ppi == pytest.approx(6000 / (564 / 25.4), abs=0.1)
    assert str(found) == "A2, 564 x 376 mm picture, 270 ppi from your pixels: sharp close to"
    assert found.warnings == []
    assert found.sheet.distance_m == pytest.approx((0.564**2 + 0.376**2) ** 0.5, abs=0.001)  # people step up


def test_the_distance_that_counts() -> None:
    assert lay(6000, 4000, 0.4, size="A2").sheet.distance_m == 0.4
    assert lay(6000, 4000, 3.0, size="A0").sheet.distance_m == 1.0
    assert lay(6000, 4000, 3.0, size="A0", distance_m=2.5).sheet.distance_m == 2.5


def test_too_few_pixels_name_the_largest_good_sheet() -> None:
    found = lay(1600, 1200, size="A2")
    assert found.edit_ppi < 100 and "pixels show" in str(found)
    (said,) = found.warnings
    assert "the largest sheet that is good is A3+" in said
    assert lay(1600, 1200, size="A3+").warnings == []
    assert "too small for any usual sheet" in lay(100, 80, size="A4").warnings[0]


def test_filling_cuts_what_the_anchor_leaves() -> None:
    for anchor, start in (("left", 0), ("centre", 500), ("right", 1000), ("0.25,0", 250), ("TOP-LEFT", 0)):
        found = lay(3000, 2000, size="100x100mm", margin_mm=0, fill=True, anchor=anchor)
        assert found.part == pytest.approx((start, 0, 2000, 2000), abs=2)
        assert (found.width, found.height) == found.picture[2:]
    assert "33 % of the picture cut away" in str(lay(3000, 2000, size="100x100mm", margin_mm=0, fill=True))


def test_canvas_goes_on_over_its_bars() -> None:
    found = lay(3000, 2000, size="300x450mm", wrap_mm=40)
    assert found.sheet_mm == (450 + 100, 300 + 100)  # 40 mm of bar and 10 to staple, on each side
    assert found.picture_mm == pytest.approx((450, 300), abs=0.1)
    assert found.wrap == round(40 / 25.4 * 360)


def test_margins_that_may_be_cut_are_warned_of() -> None:
    assert any("may be smeared" in said for said in lay(6000, 4000, size="A4", margin_mm=3).warnings)
    assert not lay(6000, 4000, size="A4").warnings


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"size": "A4", "margin_mm": 110}, "leaves no picture on a sheet of 210 x 297 mm"),
        ({"size": "A4", "anchor": "middle"}, "must be centre, top"),
        ({"size": "A4", "anchor": "0.5,1.5"}, "must be centre, top"),
        ({"size": "5x5mm"}, "must be 25 mm to 20 m"),
        ({"margin_mm": 10}, "needs a size"),
        ({"keyline": True}, "needs a size"),
        ({"size": "A4", "wrap_mm": 40, "margin_mm": 10}, "stretched canvas has no margins"),
        ({"size": "A4", "ppi": 0}, "must be a number, 1 to 10000"),
        ({"size": 4}, "size = 4"),
    ],
)
def test_sheets_that_cannot_be(asked: dict[str, object], said: str) -> None:
    with pytest.raises(ParameterError, match=said):
        Sheet(**asked)  # type: ignore[arg-type]


def test_a_picture_too_small() -> None:
    with pytest.raises(PrintprepError, match="15 x 900 pixels, too few"):
        lay(15, 900, size="A4")


@given(
    width=st.integers(16, 20_000), height=st.integers(16, 20_000), fill=st.booleans(),
    ppi=st.sampled_from([72, 300, 360]),
    size=st.sampled_from(["A4", "A6", "A3+", "120x700mm"]), margin=st.sampled_from([None, 0, 5, 20]),
    orientation=st.sampled_from(["auto", "portrait", "landscape"]), wrap=st.sampled_from([0, 35]),
)  # fmt: skip
def test_pictures_lie_on_their_sheets(
    width: int, height: int, fill: bool, ppi: int, size: str, margin: float | None, orientation: str, wrap: float
) -> None:
    found = lay(
        width, height, size=size, margin_mm=None if wrap else margin, fill=fill, ppi=ppi, orientation=orientation,
        wrap_mm=wrap,
    )  # fmt: skip
    left, top, across, down = found.picture
    assert left - found.wrap >= 0 and top - found.wrap >= 0
    assert left + across + found.wrap <= found.width and top + down + found.wrap <= found.height
    x, y, part_width, part_height = found.part
    assert x >= 0 and y >= 0 and x + part_width <= width + 1e-6 and y + part_height <= height + 1e-6
    # no distortion beyond the rounding to whole pixels
    assert abs(part_width / across - part_height / down) * min(across, down) <= 2 * max(part_width / across, 1) + 1e-6
    assert abs(found.width / found.sheet_mm[0] * 25.4 - ppi) * found.sheet_mm[0] <= 2 * 25.4


def test_a_caption_names_file_paper_room_and_date() -> None:
    sheet = Sheet(size="A4", caption="{file} on {paper}, {room}, {date} {other}")
    made = sheet.captioned("lanterns", "Cotton rag", "hallway")
    assert made.caption == f"lanterns on Cotton rag, hallway, {date.today().isoformat()} {{other}}"
    assert Sheet(size="A4", caption="plain").captioned("a", "b", "c").caption == "plain"
