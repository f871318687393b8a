"""The screen's white against published luminances, the advice, and the picture to check it with."""

from __future__ import annotations

from io import BytesIO
from math import pi
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep import named
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.errors import OutputError, ParameterError, UnknownName
from printprep.files.png import png
from printprep.targets.screen import COMMON, DARK_CODES, HALF_LIGHT, LIGHT_CODES, check_picture, screen, write_check

_SOLIDS = {"cyan": (55, -37, -50), "magenta": (48, 74, -3), "yellow": (89, -5, 93),
           "red": (47, 68, 48), "green": (50, -65, 27), "blue": (24, 22, -46)}  # fmt: skip


def _paper(reflectance: float) -> Paper:
    """Of this reflectance: L* by CIE 15."""
    lightness = 116 * reflectance ** (1 / 3) - 16
    return Paper(white=(lightness, 0.0, 0.0), black=(16.0, 0.0, 0.0), solids=_SOLIDS)


@pytest.mark.parametrize(
    ("lux", "reflectance", "white"),
    [(2000, 0.85, 541.1268), (1000, 0.9, 286.4789), (500, 0.85, 135.2817), (500, 0.9, 143.2394),
     (500, 1.0, 159.1549), (200, 0.9, 57.2958), (50, 0.85, 13.5282)],
)  # fmt: skip
def test_white_is_that_of_a_matt_sheet(lux: float, reflectance: float, white: float) -> None:
    """L = E rho / pi (Lambertian; photometry textbooks, e.g. CIE 18): values computed independently."""
    assert screen(_paper(reflectance), Room(illuminance_lux=lux)).white_cd_m2 == pytest.approx(white, abs=1e-3)


def test_iso_3664_and_iso_12646_agree_at_500_lx() -> None:
    """A perfect diffuser under P2 (500 lx, ISO 3664) has the 160 cd/m2 that ISO 12646 asks of a display beside it."""
    assert screen(_paper(1.0), "lux=500").white_cd_m2 == pytest.approx(160, rel=0.01)


def test_light_that_agrees_with_common_practice() -> None:
    """120 cd/m2 is a white of reflectance 0.9 under 419 lx: pi * 120 / 0.9 = 418.9."""
    assert screen(_paper(0.9), "lux=300").common_lux == pytest.approx((pi * 80 / 0.9, 418.879), abs=1e-3)


def test_two_lights_count_as_their_geometric_mean() -> None:
    advice = screen(_paper(0.9), Room(illuminance_lux=400, evening_illuminance_lux=100))
    assert advice.illuminance_lux == pytest.approx(200)
    assert advice.white_cd_m2 == pytest.approx(57.2958, abs=1e-3)


def test_a_pane_takes_light_and_adds_a_veil() -> None:
    """Fresnel, n = 1.52: two passes keep 0.84331 of the light."""
    bare = screen(_paper(0.9), Room(illuminance_lux=500))
    black_room = screen(_paper(0.9), Room(illuminance_lux=500, glazing="clear", wall_reflectance=0))
    light_room = screen(_paper(0.9), Room(illuminance_lux=500, glazing="clear", wall_reflectance=0.7))
    assert black_room.white_cd_m2 / bare.white_cd_m2 == pytest.approx(0.84331, abs=2e-3)
    assert light_room.white_cd_m2 > black_room.white_cd_m2
    assert light_room.contrast < black_room.contrast / 2
    assert black_room.glazed
    assert not bare.glazed


@given(st.floats(5, 5000))
@settings(max_examples=60, deadline=None)
def test_advice_warns_exactly_where_it_conflicts(lux: float) -> None:
    advice = screen(_paper(0.9), Room(illuminance_lux=lux))
    inside = COMMON[0] <= advice.white_cd_m2 <= COMMON[1]
    assert bool(advice.warning) != inside
    assert advice.advice
    assert advice.white_cd_m2 == pytest.approx(lux * 0.9 / pi)
    if advice.warning:
        assert ("darker" if advice.white_cd_m2 < COMMON[0] else "brighter") in advice.warning
    assert f"{advice.white_cd_m2:.0f} cd/m2" in str(advice)


def test_names_paths_and_objects_are_the_same() -> None:
    by_name = screen("gloss", "hallway")
    by_object = screen(named.paper("gloss"), named.room("hallway"))
    assert by_name.white_cd_m2 == by_object.white_cd_m2
    assert "hallway" in by_name._repr_html_()
    assert f"{by_name.white_cd_m2:.0f} cd/m²" in by_name._repr_html_()
    with pytest.raises(UnknownName):
        screen("glos", "hallway")


# --- the picture ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (1280, 800), (640, 400), (1080, 1920)])
def test_the_picture_has_its_codes_exactly(width: int, height: int) -> None:
    rgb = check_picture(width, height)
    assert rgb.shape == (height, width, 3)
    assert (rgb == rgb[..., :1]).all()
    codes, counts = np.unique(rgb[: round(height * 0.62), :, 0], return_counts=True)
    area = dict(zip(codes.tolist(), counts.tolist(), strict=True))
    least = width * height // 500
    for code in (0, 255, *DARK_CODES, *LIGHT_CODES):
        assert area.get(code, 0) > least, code


def test_lines_have_half_the_light_of_white() -> None:
    """IEC 61966-2-1: half the light of white is 187.5; lines of black and white have it in the mean."""
    light = ((HALF_LIGHT / 255 + 0.055) / 1.055) ** 2.4
    assert light == pytest.approx(0.5, abs=0.005)
    lower = check_picture(1920, 1080)[round(1080 * 0.62) :, :, 0]
    alternating = (lower[:-1] == 0) & (lower[1:] == 255)
    assert alternating.sum() > 20_000
    rows, columns = np.nonzero(alternating)
    field = lower[rows.min() : rows.max() + 2, columns[0] : columns[0] + 40]
    assert set(np.unique(field).tolist()) == {0, 255}
    assert field.mean() == pytest.approx(127.5, abs=1)


def test_the_file_says_that_it_is_srgb(tmp_path: Path) -> None:
    """PNG: chunk sRGB; read by Pillow, which checks every chunk's sum."""
    from PIL import Image

    file = write_check(tmp_path / "check.png", width=800, height=600)
    with Image.open(file) as image:
        image.load()
        assert image.info["srgb"] == 1
        assert (np.asarray(image) == check_picture(800, 600)).all()
    assert png(check_picture(800, 600), level=9) == file.read_bytes()
    with Image.open(BytesIO(file.read_bytes())) as again:
        again.verify()


@pytest.mark.parametrize("size", [(0, 1080), (1920, 20_000), (1920, 3)])
def test_sizes_out_of_range_are_refused(tmp_path: Path, size: tuple[int, int]) -> None:
    with pytest.raises(ParameterError, match="pixels"):
        write_check(tmp_path / "x.png", width=size[0], height=size[1])
    assert not list(tmp_path.iterdir())


def test_nothing_is_replaced_unasked(tmp_path: Path) -> None:
    (tmp_path / "x.png").write_text("mine")
    with pytest.raises(OutputError, match="exists already"):
        write_check(tmp_path / "x.png")
    with pytest.raises(OutputError, match=r"end in \.png"):
        write_check(tmp_path / "x.jpg")
    assert (tmp_path / "x.png").read_text() == "mine"
    write_check(tmp_path / "x.png", overwrite=True)
    assert (tmp_path / "x.png").read_bytes().startswith(b"\x89PNG")
