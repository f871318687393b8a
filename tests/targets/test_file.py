"""The target's file: read by other programs, and measured."""

from __future__ import annotations

import warnings
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from numpy.typing import NDArray

from printprep.conditions import _cgats
from printprep.errors import OutputError, ParameterError
from printprep.targets.layout import draw
from printprep.targets.panels import LINE_PERIODS
from printprep.targets.shapes import Label, Lines
from printprep.targets.target import SPACE, target

if TYPE_CHECKING:
    from printprep.targets.target import Target


@cache
def _pixels(path: Path) -> NDArray[np.uint16]:
    """Through OpenCV's TIFF reader (libtiff), which keeps 16 bits."""
    import cv2

    bgr = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
    assert bgr is not None
    return np.ascontiguousarray(bgr[..., ::-1], np.uint16)


def _inside(made: Target, name: str) -> NDArray[np.uint16]:
    patch = next(p for p in made.patches if p.name == name)
    scale = made.ppi / 25.4
    rows = slice(round(patch.y * scale) + 1, round((patch.y + patch.h) * scale) - 1)
    return _pixels(made.path)[rows, round(patch.x * scale) + 1 : round((patch.x + patch.w) * scale) - 1]


def test_pillow_reads_the_file(written_target: Target) -> None:
    from PIL import Image, ImageCms
    from PIL.TiffImagePlugin import TiffImageFile

    with Image.open(written_target.path) as image:
        assert isinstance(image, TiffImageFile)
        assert image.size == (1488, 2098)  # ISO 216 A6 at 360 ppi
        assert image.info["dpi"] == pytest.approx((360, 360))
        assert tuple(image.tag_v2[258]) == (16, 16, 16)
        profile = ImageCms.ImageCmsProfile(BytesIO(image.info["icc_profile"]))
        assert SPACE in ImageCms.getProfileDescription(profile)
        eight = np.asarray(image.convert("RGB"))
    sixteen = _pixels(written_target.path)
    assert eight.shape == sixteen.shape
    assert np.abs(eight.astype(int) - (sixteen >> 8)).max() <= 1


def test_every_patch_is_even_and_has_the_values_stated(written_target: Target) -> None:
    for patch in written_target.patches:
        area = _inside(written_target, patch.name)
        assert area.size > 30, patch.name
        assert (area == np.array(patch.rgb)).all(), patch.name


def test_the_values_stated_are_those_of_the_pixels_by_the_standard(written_target: Target) -> None:
    """ISO 22028-2 through colour-science, with no profile in between."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour

        codes = np.array([p.rgb for p in written_target.patches]) / 65535
        space = colour.RGB_COLOURSPACES["ROMM RGB"]
        xyz = np.einsum("ij,nj->ni", space.matrix_RGB_to_XYZ, space.cctf_decoding(codes))
        lab = colour.XYZ_to_Lab(xyz, colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"])
    assert np.abs(lab - [p.lab for p in written_target.patches]).max() < 0.1


def _strict(text: str) -> list[dict[str, str]]:
    """A reader of our own for the test: every count must agree, nothing may be left over."""
    assert text.startswith("CGATS.17\n")
    head, rest = text.split("BEGIN_DATA_FORMAT\n")
    fields, rest = rest.split("END_DATA_FORMAT\n")
    names = fields.split()
    between, rest = rest.split("BEGIN_DATA\n")
    rows, after = rest.split("END_DATA\n")
    assert after == ""
    assert f"NUMBER_OF_FIELDS {len(names)}\n" in head
    values = [row.split(" ") for row in rows.splitlines()]
    assert between.split() == ["NUMBER_OF_SETS", str(len(values))]
    assert {len(v) for v in values} == {len(names)}
    return [dict(zip(names, v, strict=True)) for v in values]


def test_the_sidecar_says_what_is_in_the_file(written_target: Target) -> None:
    rows = _strict(written_target.values.read_text("ascii"))
    assert [r["SAMPLE_ID"] for r in rows] == [str(i) for i in range(1, len(rows) + 1)]
    assert [r["SAMPLE_NAME"] for r in rows] == [p.name for p in written_target.patches]
    assert len({r["SAMPLE_NAME"] for r in rows}) == len(rows)
    for row, patch in zip(rows, written_target.patches, strict=True):
        codes = [round(float(row[f"RGB_{c}"]) * 257) for c in "RGB"]
        assert tuple(codes) == patch.rgb == tuple(_inside(written_target, patch.name)[0, 0].tolist())
        assert [float(row[f"LAB_{c}"]) for c in "LAB"] == pytest.approx(patch.lab, abs=6e-5)


def test_the_sidecar_is_read_by_the_measurement_reader(written_target: Target) -> None:
    (section,) = _cgats.sections(written_target.values.read_text("ascii"), "target.txt")
    assert section.fields[:2] == ("SAMPLE_ID", "SAMPLE_NAME")
    assert len(section.rows) == len(written_target.patches)


@pytest.mark.parametrize(
    ("ladder", "levels"), [("grey", range(0, 101, 5)), ("black", range(25)), ("white", range(86, 101))]
)
def test_ladders_are_even_in_lightness(written_target: Target, ladder: str, levels: range) -> None:
    """CIE 15: L* = 116 f(Y) - 16; ISO 22028-2 decoding written out here."""
    for level in levels:
        code = _inside(written_target, f"{ladder}-{level:03d}")[0, 0]
        assert code[0] == code[1] == code[2]
        v = code[0] / 65535
        Y = v**1.8 if v >= 16 * 16 ** (1.8 / (1 - 1.8)) else v / 16
        lightness = 116 * Y ** (1 / 3) - 16 if Y > 216 / 24389 else Y * 24389 / 27
        assert lightness == pytest.approx(level, abs=0.01)


def test_known_lightness_and_luminance_pairs() -> None:
    """CIE 15: Y of L* 50 is 0.18418652."""
    from printprep.targets.shapes import encoded

    code = encoded(np.array([[50.0, 0.0, 0.0]]), SPACE)[0]
    assert code**1.8 == pytest.approx([0.18418652] * 3, abs=1e-5)


def _period(row: NDArray[np.uint16]) -> float:
    """Pixels from one dark line's beginning to the next, measured over all lines."""
    dark = row < 32768
    starts = np.flatnonzero(dark[1:] & ~dark[:-1]) + 1
    if dark[0]:
        starts = np.concatenate([[0], starts])
    assert len(set(np.diff(starts).tolist())) == 1
    return float((starts[-1] - starts[0]) / (len(starts) - 1))


def test_line_pitches_measured_in_the_pixels(written_target: Target) -> None:
    shapes = draw(written_target.layout, written_target.ppi, SPACE)
    scale = written_target.ppi / 25.4
    lines = [s for s in shapes if isinstance(s, Lines) and not s.disc]
    groups = [s for s in lines if round(s.period * scale) in LINE_PERIODS]
    labels = [s.text for s in shapes if isinstance(s, Label) and s.text.endswith(" mm")]
    assert len(groups) == 2 * len(labels) == 2 * len(LINE_PERIODS)
    pixels = _pixels(written_target.path)[..., 1]
    for i, group in enumerate(groups):
        top, left = round(group.y * scale), round(group.x * scale)
        area = pixels[top : top + round(group.h * scale), left : left + round(group.w * scale)]
        profile = area[:, 2] if group.across else area[2]
        assert (area == (profile[:, None] if group.across else profile)).all()
        assert set(np.unique(area).tolist()) == {0, 65535}  # whole pixels, nothing between
        pitch = _period(profile) * 25.4 / written_target.ppi
        assert f"{pitch:.3f} mm" == labels[i // 2]


def test_the_rule_is_as_long_as_it_says(written_target: Target) -> None:
    layout, pixels = written_target.layout, _pixels(written_target.path)[..., 1]
    scale = written_target.ppi / 25.4
    start = round((layout.width - layout.margin - 51.0) * scale)
    row = pixels[round((layout.margin + 5.0 * layout.unit) * scale), start:]
    dark = np.flatnonzero(row < 40000)
    assert (dark[-1] - dark[0] + 1) / scale == pytest.approx(50.0, abs=2 / scale)


def test_equal_runs_give_equal_bytes(written_target: Target, tmp_path: Path) -> None:
    again = target(tmp_path / "target.tif", sheet="A6", ppi=360, paper="cotton-rag", threads=1)
    for name in ("path", "values", "page"):
        assert getattr(again, name).read_bytes() == getattr(written_target, name).read_bytes(), name


@pytest.mark.parametrize("there", ["x.tif", "x.txt", "x.html"])
def test_whole_or_not_at_all(tmp_path: Path, there: str) -> None:
    (tmp_path / there).write_text("mine")
    with pytest.raises(OutputError, match="exists already"):
        target(tmp_path / "x.tif", sheet="90x90", ppi=100)
    assert [p.name for p in tmp_path.iterdir()] == [there]
    assert (tmp_path / there).read_text() == "mine"


@pytest.mark.parametrize(
    ("options", "message"),
    [({"sheet": "A9"}, "must be one of A6"), ({"sheet": "50x50"}, "90 to 1300 mm"), ({"ppi": 20.0}, "100 to 1440"),
     ({"ppi": float("nan")}, "ppi")],
)  # fmt: skip
def test_what_cannot_be_made_is_refused(tmp_path: Path, options: dict[str, object], message: str) -> None:
    with pytest.raises(ParameterError, match=message):
        target(tmp_path / "x.tif", **options)  # type: ignore[arg-type]
    assert not list(tmp_path.iterdir())


def test_a_name_that_is_no_tiff_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"end in \.tif"):
        target(tmp_path / "x.png")


def test_it_shows_itself_in_a_notebook(written_target: Target) -> None:
    html = written_target._repr_html_()
    assert "data:image/png;base64," in html
    assert written_target.preview(300).shape == (300, 213, 3)
