"""Midtones: one number, the ends stay, no tone loses its neighbours."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep.adjust.midtones import Midtones
from printprep.errors import ParameterError
from printprep.testing import check_adjustment, plain


def greys(lighter: float, L: list[float]) -> list[float]:
    lab = np.array([[x, 0, 0] for x in L], np.float32)
    return [float(x) for x in Midtones(lighter)(lab, plain())[:, 0]]


@pytest.mark.parametrize("lighter", [-10.0, -2.0, 0.0, 4.0, 10.0])
def test_it_keeps_the_promises(lighter: float) -> None:
    check_adjustment(Midtones(lighter))


@settings(max_examples=50, deadline=None)
@given(st.floats(-10, 10))
def test_the_middle_moves_by_the_number_and_the_ends_stay(lighter: float) -> None:
    black = plain().black
    dark, middle, white = greys(lighter, [black, (black + 100) / 2, 100.0])
    assert dark == pytest.approx(black, abs=1e-4)
    assert white == 100
    assert middle == pytest.approx((black + 100) / 2 + (lighter if abs(lighter) >= 0.02 else 0), abs=1e-3)


@settings(max_examples=50, deadline=None)
@given(st.floats(-10, 10))
def test_no_tone_keeps_less_than_six_tenths_of_its_slope(lighter: float) -> None:
    L = np.linspace(plain().black, 100, 400)
    slope = np.diff(greys(lighter, list(L))) / np.diff(L)
    assert slope.min() > 0.6
    assert slope.max() < 1.4


def test_rock_snow_and_sky_do_not_move_together() -> None:
    """Tones of a mountain: each moves by its own place on the scale, snow least."""
    rock, sky, snow = (b - a for a, b in zip((45, 62, 93), greys(6, [45, 62, 93]), strict=True))
    assert 4 < rock < 5
    assert 5.5 < sky < 6.1
    assert snow < 1


def test_overall_strength_takes_its_share() -> None:
    assert Midtones(4).scaled(0.5) == Midtones(2)
    assert Midtones(8).scaled(1.5) == Midtones(10)


@pytest.mark.parametrize("wrong", [11, -10.5, float("nan"), "much"])
def test_values_have_their_range(wrong: float) -> None:
    with pytest.raises(ParameterError, match="lighter"):
        Midtones(wrong)
