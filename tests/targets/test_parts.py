"""Text, shapes, layout and known colours of the target."""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep.colour.lab import lab_from_xyz
from printprep.errors import ParameterError
from printprep.render.text import coverage, letters, outline, width, wrapped
from printprep.targets.layout import SHEETS, arrange, draw, sheet_size
from printprep.targets.panels import KNOWN, board
from printprep.targets.shapes import BLACK, WHITE, Block, Disc, Gradient, Label, Lines, Polygon, Raster, Shape
from printprep.targets.target import SPACE

# --- text ---------------------------------------------------------------------------------------


def test_letters_agree_with_freetype_through_pillow() -> None:
    """The same font file, set by Pillow: as much ink, and as wide."""
    import matplotlib
    from PIL import Image, ImageDraw, ImageFont

    file = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"
    for text in ("Near black", "0.141 mm", "285°"):
        mask, _, _ = coverage(letters(text, 10, 100, 80.0))
        font = ImageFont.truetype(str(file), 80, layout_engine=ImageFont.Layout.BASIC)
        image = Image.new("L", (900, 160))
        ImageDraw.Draw(image).text((10, 20), text, fill=255, font=font)
        assert int(mask.sum()) == pytest.approx(int(np.asarray(image).sum()), rel=0.03)
        box = image.getbbox()
        assert box is not None
        assert width(text, 80.0) == pytest.approx(box[2] - box[0], abs=3)


def test_holes_stay_open() -> None:
    """An O is a ring: less ink than its outer contour, and none in the middle."""
    mask, _, _ = coverage(letters("O", 5, 60, 60.0))
    assert mask[mask.shape[0] // 2, mask.shape[1] // 2] == 0
    assert len(outline("O")[0]) == 2


@given(st.floats(1, 40), st.floats(1, 40), st.floats(0, 5), st.floats(0, 5))
@settings(max_examples=40, deadline=None)
def test_coverage_of_a_rectangle_is_its_area(w: float, h: float, x: float, y: float) -> None:
    corners = np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])
    mask, _, _ = coverage((corners,))
    # exact across; down, an eighth of a pixel at both ends
    assert mask.sum() / 255 == pytest.approx(w * h, abs=0.13 * w + 0.01 * h + 0.3)


def test_lines_of_text_fit() -> None:
    text = "print it as it is and look at it in good light"
    lines = wrapped(text, 2.0, 20.0)
    assert " ".join(lines) == text
    assert all(width(line, 2.0) <= 20.0 for line in lines)


# --- shapes -------------------------------------------------------------------------------------

SHAPES: list[Shape] = [
    Block(2, 3, 10, 8, (40.0, 10.0, -5.0)),
    Disc(20, 12, 6, (60.0, -20.0, 20.0)),
    Polygon(((5, 20), (15, 18), (12, 29)), (30.0, 0.0, 0.0)),
    Gradient(1, 31, 30, 6, ((BLACK, WHITE, (50.0, 40.0, 0.0)), ((20.0, 0.0, 0.0), BLACK, WHITE))),
    Lines(32, 2, 12, 20, 0.7, 0.3, across=True),
    Lines(32, 24, 12, 12, 0.7, 0.3, disc=True),
    Label(3, 28, "Signs 25", 5.0),
]


@given(st.integers(0, 199), st.integers(1, 60))
@settings(max_examples=40, deadline=None)
def test_bands_are_parts_of_the_whole(top: int, rows: int) -> None:
    raster = Raster(SHAPES, 45, 40, 5.0, "sRGB")
    rows = min(rows, raster.height - top)
    band = np.empty((rows, raster.width, 3), np.uint16)
    raster.read(top, band)
    assert (band == raster.whole()[top : top + rows]).all()


@given(st.floats(0.3, 3.0), st.floats(0.05, 0.9), st.floats(0, 0.3), st.floats(3, 17))
@settings(max_examples=40, deadline=None)
def test_lines_cover_their_share(period: float, part: float, spread: float, per_mm: float) -> None:
    """In light (IEC 61966-2-1), over many lines: (dark + twice the spread) / period."""
    lines = Lines(0, 0, 60, 1, period, part * period)
    code = Raster([lines], 60, 1, per_mm, "sRGB", spread_mm=spread).whole()[0, :, 1] / 65535
    light = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4).mean()
    share = min(part + 2 * spread / period, 1.0)
    assert light == pytest.approx(1 - share, abs=0.02 + period / 60)


@pytest.mark.parametrize("ppi", [100, 240, 300, 360, 600, 720, 1440])
def test_the_board_is_as_light_as_its_middle_step(ppi: int) -> None:
    """CIE 15: L* 50 is a luminance of 0.1842; ink runs out by 20 µm at each edge, as Reeds counts as right."""
    period, side = board(ppi / 25.4)
    share = ((side * 25.4 / ppi - 0.04) / (period * 25.4 / ppi)) ** 2
    assert 116 * share ** (1 / 3) - 16 == pytest.approx(50, abs=0.7)
    assert 2.1 <= period * 25.4 / ppi <= 2.8


# --- layout -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SHEETS)
def test_everything_fits_on_every_sheet(name: str) -> None:
    """ISO 216 sizes: nothing is left out but on A6: mid grey, and lying the hue field."""
    assert arrange(*sheet_size(name)).omitted == (("mid",) if name == "A6" else ())
    assert arrange(*sheet_size(f"{name}-landscape")).omitted == (("mid", "meadow") if name == "A6" else ())


def test_printers_can_print_the_margins_and_there_is_room_to_write() -> None:
    """15 mm on sheets from A5: common practice, no source."""
    for name in ("A5", "A4", "A3+-landscape"):
        layout = arrange(*sheet_size(name))
        shapes = draw(layout, 360, SPACE)
        assert layout.margin == 15
        words = {s.text: s for s in shapes if isinstance(s, Label)}
        for asked in ("Paper", "Printer", "Media setting", "Date"):
            word = words[asked]
            lines = [s for s in shapes if isinstance(s, Block) and s.h < 0.3 and 0 < s.y - word.baseline < 1]
            assert any(s.w > 15 and 0 < s.x - word.x < 30 for s in lines), asked
            assert layout.placed[0].y > word.baseline + 1


@given(st.integers(90, 700), st.integers(90, 700))
@settings(max_examples=15, deadline=None)
def test_any_sheet_holds_what_is_drawn_and_patches_do_not_overlap(w: int, h: int) -> None:
    layout = arrange(w, h)
    shapes = draw(layout, 300, SPACE)
    named = [(s.x, s.y, s.w, s.h) for s in shapes if isinstance(s, Block) and s.name]
    discs = [s for s in shapes if isinstance(s, Disc) and s.name]
    boxes = np.array(named + [(d.x - d.r, d.y - d.r, 2 * d.r, 2 * d.r) for d in discs])
    assert {"signs", "black", "white"} <= {p.panel.name for p in layout.placed}
    assert (boxes[:, :2] >= layout.margin - 0.2).all()
    assert (boxes[:, 0] + boxes[:, 2] <= w - layout.margin + 0.2).all()
    assert (boxes[:, 1] + boxes[:, 3] <= h - layout.margin + 0.2).all()
    boxes[len(named) :] += np.array([0.3, 0.3, -0.6, -0.6]) * boxes[len(named) :, 2:3] / 2  # discs: the square within
    low, high = boxes[:, None, :2], (boxes[:, :2] + boxes[:, 2:])[:, None]
    shared = np.minimum(high, high.swapaxes(0, 1)) - np.maximum(low, low.swapaxes(0, 1))
    overlap = (shared > 0.02).all(axis=-1) & ~np.eye(len(boxes), dtype=bool)
    assert not overlap.any()


def test_words_stay_on_the_sheet() -> None:
    for name in ("A6", "A4", "A3-landscape", "90x90", "100x600"):
        layout = arrange(*sheet_size(name))
        for word in draw(layout, 360, SPACE):
            if isinstance(word, Label) and word.text:
                wide = width(word.text, word.em, word.bold)
                left = word.x - {"left": 0.0, "centre": 0.5, "right": 1.0}[word.align] * wide
                assert left >= layout.margin - 1, word
                assert left + wide <= layout.width - layout.margin + 1, word


@pytest.mark.parametrize("text", ["A7", "", "0x0", "nanxnan", "210", "1e9x2", "A4-portrait", "210x297x3"])
def test_no_such_sheet(text: str) -> None:
    with pytest.raises(ParameterError, match="sheet"):
        sheet_size(text)


# --- known colours ------------------------------------------------------------------------------


def test_samples_of_cie_13_3_have_their_published_colour() -> None:
    """CIE 13.3:1995, spectral radiance factors of test colour samples, as colour-science has them."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
        from colour.quality.datasets.tcs import SDS_TCS

        samples = SDS_TCS.get("CIE 1995", SDS_TCS)  # older versions have no other set
        cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
        light = colour.SDS_ILLUMINANTS["D50"]
        white = colour.sd_to_XYZ(colour.sd_ones(light.shape), cmfs, light)
        known = dict(KNOWN)
        names = {9: "strong red", 10: "strong yellow", 11: "strong green", 12: "strong blue", 13: "fair skin",
                 14: "green leaf"}  # fmt: skip
        for number, name in names.items():
            sample = samples[f"TCS{number:02d}"]
            xyz = colour.sd_to_XYZ(sample, cmfs, light, method="Integration")
            lab = lab_from_xyz(xyz / 100, tuple(white / white[1]))
            assert np.abs(lab - known[name]).max() < 0.05


def test_named_colours_have_their_published_values() -> None:
    """CSS Color Module Level 4 (W3C), the names' sRGB as matplotlib has them; sRGB and Bradford by colour-science."""
    from matplotlib.colors import CSS4_COLORS, to_rgb

    names = {"ripe wheat": "wheat", "red clay": "sienna", "roof slate": "slategray", "clear sky": "skyblue"}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour

        space = colour.RGB_COLOURSPACES["sRGB"]
        for ours, name in names.items():
            light = space.matrix_RGB_to_XYZ @ space.cctf_decoding(np.array(to_rgb(CSS4_COLORS[name])))
            xyz = colour.chromatic_adaptation(
                light, colour.xy_to_XYZ(space.whitepoint), np.array([0.9642, 1, 0.8249]), transform="Bradford"
            )
            assert np.abs(lab_from_xyz(xyz) - dict(KNOWN)[ours]).max() < 0.05
