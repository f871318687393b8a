"""Monochrome: greys stay, weights are those of channels in linear light, hues part, order holds."""

from __future__ import annotations

from typing import Any

import colour
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

import printprep as pp
from printprep.adjust.monochrome import _OPRGB_FROM_XYZ, Monochrome
from printprep.colour.icc import lab_from_device
from printprep.colour.lab import D50, absolute, lab_from_lch, luminance_from_lightness
from printprep.errors import ParameterError
from printprep.testing import check_adjustment, plain
from tests.support.lutprofile import MatrixInk, output_profile

HUES = ("reds", "yellows", "greens", "cyans", "blues", "magentas")
SHIFTS = st.fixed_dictionaries({name: st.floats(-1.5, 1.5) for name in HUES})
WEIGHTS = st.fixed_dictionaries({name: st.floats(0.05, 2) for name in ("red", "green", "blue")})

# A mountain: rock in warm light, snow in shade, sky (made; CIELAB, print-referred)
ROCK, SNOW, SKY = (48.0, 5.0, 14.0), (86.0, -1.0, -6.0), (58.0, -6.0, -34.0)


def light(step: Monochrome, *lab: tuple[float, float, float]) -> NDArray[np.float32]:
    out = step(np.array(lab, np.float32), plain())
    assert not out[..., 1:].any()
    return out[..., 0]


@pytest.mark.parametrize(
    "parameters", [{}, {"red": 1.0}, {"red": 1.2, "green": 0.4, "blue": -0.6}, {"blues": -1.5, "reds": 1.5}]
)
def test_it_keeps_the_promises(parameters: dict[str, Any]) -> None:
    check_adjustment(Monochrome(**parameters))


def test_without_weights_a_colour_becomes_the_grey_that_is_as_light() -> None:
    assert np.array_equal(light(Monochrome(), ROCK, SNOW, SKY), np.array([48, 86, 58], np.float32))


@settings(max_examples=60, deadline=None)
@given(weights=WEIGHTS, shifts=SHIFTS)
def test_greys_stay_to_the_bit(weights: dict[str, float], shifts: dict[str, float]) -> None:
    L = np.linspace(0, 100, 101, dtype=np.float32)
    lab = np.stack([L, 0 * L, 0 * L], axis=-1)
    assert np.abs(Monochrome(**weights, **shifts)(lab, plain()) - lab).max() < 1e-4


@settings(max_examples=60, deadline=None)
@given(weights=WEIGHTS, shifts=SHIFTS, hue=st.floats(0, 360), chroma=st.floats(0, 80))
def test_no_colour_passes_paper_white_or_black(
    weights: dict[str, float], shifts: dict[str, float], hue: float, chroma: float
) -> None:
    black = plain().black
    L = np.linspace(black, 100, 120)
    lab = lab_from_lch(np.stack([L, chroma * (L - black) * (100 - L) / 1700, np.full(L.shape, hue)], axis=-1))
    made = Monochrome(**weights, **shifts)(lab.astype(np.float32), plain())[:, 0]
    assert made.min() >= black - 1e-3
    assert made.max() <= 100 + 1e-3


def test_the_matrix_is_that_of_the_standard() -> None:
    """By colour-science, from primaries and white of IEC 61966-2-5 (x, y), adapted to D50 by Bradford."""
    primaries, white = np.array([[0.64, 0.33], [0.21, 0.71], [0.15, 0.06]]), np.array([0.3127, 0.3290])
    to_xyz = colour.normalised_primary_matrix(primaries, white)
    adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        colour.xy_to_XYZ(white), np.array(D50), transform="Bradford"
    )
    assert np.abs(_OPRGB_FROM_XYZ - np.linalg.inv(adapt @ to_xyz)).max() < 3e-5


@pytest.mark.parametrize("weights", [(1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.3, 0.3, 0.4), (1.2, 0.2, -0.4)])
def test_weights_are_those_of_channels_in_linear_light(weights: tuple[float, float, float]) -> None:
    """On colours of opRGB, decoded by its own power of 563/256 (IEC 61966-2-5)."""
    codes = np.random.default_rng(2).uniform(0.2, 0.9, (200, 3))
    lab = lab_from_device(codes, pp.Profile.load("opRGB").data)
    wanted = np.maximum(np.power(codes, 563 / 256) @ weights, luminance_from_lightness(plain().black))
    made = luminance_from_lightness(Monochrome(*weights)(lab.astype(np.float32), plain())[:, 0])
    assert np.abs(made - wanted).max() < 2e-3


def test_rock_snow_and_sky_do_not_move_together() -> None:
    rock, snow, sky = light(Monochrome(), ROCK, SNOW, SKY)
    for step in (Monochrome(red=1.0), Monochrome(blues=-1.0, cyans=-0.5), Monochrome(red=1.0, green=0.3, blue=-0.3)):
        rock_now, snow_now, sky_now = light(step, ROCK, SNOW, SKY)
        assert sky_now < sky - 6, "the sky goes down"
        assert rock_now > rock - 1, "rock does not"
        assert abs(snow_now - snow) < 6, "nor does snow"
    # the two that are alike in lightness part
    assert abs(rock - sky) < 11
    apart = light(Monochrome(red=1.0), ROCK, SKY)
    assert apart[0] > apart[1] + 5


@pytest.mark.parametrize("name", HUES)
def test_a_hue_moves_its_own_colours_and_leaves_its_opposite_alone(name: str) -> None:
    codes = {
        "reds": (0.8, 0.3, 0.3), "yellows": (0.8, 0.8, 0.3), "greens": (0.3, 0.8, 0.3), "cyans": (0.3, 0.8, 0.8),
        "blues": (0.3, 0.3, 0.8), "magentas": (0.8, 0.3, 0.8),
    }  # fmt: skip
    colours = lab_from_device(np.array(list(codes.values())), pp.Profile.load("sRGB").data)
    plainly = Monochrome()(colours.astype(np.float32), plain())[:, 0]
    moved = Monochrome(**{name: 1.0})(colours.astype(np.float32), plain())[:, 0] - plainly
    own = HUES.index(name)
    assert moved[own] == moved.max() > 4
    assert abs(moved[(own + 3) % 6]) < 0.2


@pytest.mark.parametrize("weights", [{"red": 0.0}, {"red": -1.0, "green": 1.0}, {"red": 1.0, "blue": -1.0}])
def test_weights_that_come_to_nothing_are_refused(weights: dict[str, float]) -> None:
    with pytest.raises(ParameterError, match=r"red, green, blue.*together"):
        Monochrome(**weights)


def test_prints_stay_on_the_line_from_paper_white_to_paper_black() -> None:
    """Greys handed over in the paper's own profile, converted by LittleCMS: a*, b* within 1.0 of the line."""
    ink = MatrixInk(14)
    paper = pp.Paper(profile=output_profile(ink.lab, ink.rgb))
    assert paper.white is not None
    pipe = pp.Pipeline([Monochrome(red=1.0), pp.ShadowLift(), pp.GamutFit()], paper=paper, hand_over="paper")
    rgb = np.random.default_rng(4).uniform(0, 1, (500, 3)).astype(np.float32)
    assert paper.profile is not None
    printed = absolute(lab_from_device(pipe.apply(rgb, "opRGB"), paper.profile), paper.white)
    black = absolute(lab_from_device(np.zeros((1, 3)), paper.profile), paper.white)[0]
    white = np.array(paper.white)
    t = (printed[:, 0] - black[0]) / (white[0] - black[0])
    line = black[1:] + t[:, None] * (white - black)[1:]
    assert np.ptp(printed[:, 0]) > 50
    assert np.hypot(*(printed[:, 1:] - line).T).max() < 1.0
