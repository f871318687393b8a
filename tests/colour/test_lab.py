import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printprep.colour.lab import (
    absolute,
    lab_from_lch,
    lab_from_xyz,
    lightness_from_luminance,
    luminance_from_lightness,
    media_relative,
    xyz_from_lab,
)
from tests.support.eye import lch_from_lab

# CIE 15: L* and Y; values computed with colour-science 0.4.7 and by hand from the formula
LIGHTNESS = [
    (0, 0.0),
    (1, 0.00110706),
    (8, 0.00885645),
    (16, 0.02099307),
    (20, 0.02989052),
    (50, 0.18418652),
    (100, 1.0),
]

# ISO 5-1: D = -log10 R; L* of it by CIE 15
DENSITY = [(0.1, 91.43), (1.0, 37.842), (1.6, 17.972), (2.0, 8.991), (2.4, 3.596)]


@pytest.mark.parametrize(("lightness", "luminance"), LIGHTNESS)
def test_lightness_is_cie_15(lightness: float, luminance: float) -> None:
    assert luminance_from_lightness(lightness) == pytest.approx(luminance, abs=1e-6)
    assert lightness_from_luminance(luminance) == pytest.approx(lightness, abs=1e-3)


@pytest.mark.parametrize(("density", "lightness"), DENSITY)
def test_density_gives_lightness(density: float, lightness: float) -> None:
    assert lightness_from_luminance(10**-density) == pytest.approx(lightness, abs=0.01)


def test_lab_agrees_with_colour_science() -> None:
    xyz = np.random.default_rng(0).random((200, 3))
    white = colour.XYZ_to_xy(np.array([0.9642, 1.0, 0.8249]))
    ours = lab_from_xyz(xyz, tuple(np.array(colour.xy_to_XYZ(white)).tolist()))
    assert np.allclose(ours, colour.XYZ_to_Lab(xyz, white), atol=1e-9)


@given(st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100)))
def test_there_and_back(colour_: tuple[float, float, float]) -> None:
    lab = np.array(colour_)
    assert np.allclose(lab_from_xyz(xyz_from_lab(lab)), lab, atol=1e-6)
    assert np.allclose(lab_from_lch(lch_from_lab(lab)), lab, atol=1e-6)
    white = (95.0, 0.5, -2.0)
    assert np.allclose(absolute(media_relative(lab, white), white), lab, atol=1e-6)


def test_precision_is_kept() -> None:
    assert lab_from_xyz(np.ones((2, 3), np.float32)).dtype == np.float32
    assert media_relative(np.ones((2, 3), np.float32), (95.0, 0.0, 0.0)).dtype == np.float32
