"""Tone calibration: what a paper swallows is asked for from beyond, and black, white and order stay."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep.adjust._tone import CURVE_NODES
from printprep.adjust.tone_calibration import ToneCalibration, _curve
from printprep.conditions.viewing import on_print
from printprep.errors import ParameterError
from printprep.testing import check_adjustment, plain

BLACK = st.floats(0.5, 30)  # L* of paper blacks, from deep gloss to newsprint


def test_it_keeps_the_promises() -> None:
    check_adjustment(ToneCalibration())
    check_adjustment(ToneCalibration(first_dark=9, mid=44))


def test_idle_where_the_paper_is_right() -> None:
    assert ToneCalibration().idle(plain())
    assert ToneCalibration(first_dark=9, strength=0).idle(plain())
    assert not ToneCalibration(first_dark=2).idle(plain())
    assert not ToneCalibration(mid=51).idle(plain())


@pytest.mark.parametrize("first", [2, 7, 15, 24])
def test_the_darkest_step_lands_on_the_first_that_was_seen(first: int) -> None:
    on = plain()
    edit = on_print([0, 1, first, 100], on.black)
    lab = np.zeros((4, 3), np.float32)
    lab[:, 0] = edit
    out = ToneCalibration(first_dark=first)(lab, on)[:, 0]
    assert out[0] == pytest.approx(on.black, abs=1e-4)
    assert out[1] == pytest.approx(edit[2], abs=0.1)
    assert out[3] == 100


@pytest.mark.parametrize("mid", [35, 48, 52, 65])
def test_the_middle_is_asked_for_where_it_was_found(mid: int) -> None:
    on = plain()
    lab = np.zeros((1, 3), np.float32)
    lab[0, 0] = on_print(50, on.black)
    assert ToneCalibration(mid=mid)(lab, on)[0, 0] == pytest.approx(float(on_print(mid, on.black)), abs=0.02)


@settings(max_examples=80, deadline=None)
@given(BLACK, st.floats(1, 24), st.floats(35, 65), st.floats(0, 1))
def test_tones_rise_and_ends_stay(black: float, first: float, mid: float, strength: float) -> None:
    L = np.linspace(black, 100, CURVE_NODES)
    out = L + _curve(black, first, mid, strength).added
    assert (np.diff(out) > 0.2 * np.diff(L)).all()
    assert out[0] == black
    assert out[-1] == 100


@settings(max_examples=80, deadline=None)
@given(BLACK, st.integers(1, 23), st.integers(35, 64))
def test_one_step_more_or_less_moves_no_tone_by_over_1(black: float, first: int, mid: int) -> None:
    base = _curve(black, first, mid, 1.0).added
    assert np.abs(_curve(black, first + 1, mid, 1.0).added - base).max() <= 1
    assert np.abs(_curve(black, first, mid + 1, 1.0).added - base).max() <= 1


@pytest.mark.parametrize("wrong", [{"first_dark": 0}, {"first_dark": 25}, {"mid": 20}, {"strength": 1.2}])
def test_values_have_their_range(wrong: dict[str, float]) -> None:
    with pytest.raises(ParameterError, match=next(iter(wrong))):
        ToneCalibration(**wrong)
