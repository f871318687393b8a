"""Highlight hold: the first faint dots stay apart from paper white, and white stays white."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep.adjust import _tone
from printprep.adjust.highlight_hold import HighlightHold
from printprep.colour.visibility import jnd_index
from printprep.errors import ParameterError
from printprep.testing import check_adjustment, plain


def greys(step: HighlightHold, L: list[float]) -> list[float]:
    lab = np.array([[x, 0, 0] for x in L], np.float32)
    return [float(x) for x in step(lab, plain())[:, 0]]


def test_it_keeps_the_promises() -> None:
    check_adjustment(HighlightHold())
    check_adjustment(HighlightHold(last_light=96, strength=1.5))


def test_idle_where_nothing_is_lost() -> None:
    assert HighlightHold().idle(plain())
    assert HighlightHold(last_light=97, strength=0).idle(plain())
    assert not HighlightHold(last_light=97).idle(plain())


@pytest.mark.parametrize("last", [99.0, 98.0, 97.0, 95.0])
def test_tones_that_were_lost_come_back(last: float) -> None:
    lost = 100 - last
    nearer, two_fifths, white = greys(HighlightHold(last_light=last), [100 - lost / 2, 100 - lost * 0.4, 100.0])
    assert white == 100
    assert two_fifths == pytest.approx(last, abs=0.12 * lost)
    assert nearer < last


@pytest.mark.parametrize("lost", [1.0, 2.0, 3.0, 5.0])
@pytest.mark.parametrize(("strength", "share"), [(0.5, 0.37), (1.0, 0.6), (1.5, 0.71)])
def test_the_figures_of_its_notes(lost: float, strength: float, share: float) -> None:
    """A press that prints nothing above `last_light`, and how much of what it lost comes back; and who pays."""
    step = HighlightHold(last_light=100 - lost, strength=strength)
    L = np.linspace(100 - lost, 100, 4001)[1:]
    back = np.mean(np.array(greys(step, list(L))) <= 100 - lost + 1e-4)
    assert back == pytest.approx(share, abs=0.015)
    L = np.linspace(60, 100, 4001)
    made = np.array(greys(step, list(L)))
    slope = np.diff(made) / np.diff(L)
    assert slope[-1] == pytest.approx(1 + 2.2 * strength, rel=0.04)
    assert slope.min() == pytest.approx(1 - 0.3 * strength, abs=0.02)
    assert np.abs(made - L).max() < 0.83 * lost * strength


@settings(max_examples=60, deadline=None)
@given(st.floats(90, 100), st.floats(0, 1.5))
def test_rises_and_leaves_the_rest_alone(last: float, strength: float) -> None:
    black = float(plain().paper.neutral_black)
    L = list(np.linspace(black, 100, 300))
    out = greys(HighlightHold(last_light=last, strength=strength), L)
    assert (np.diff(out) > 0).all()
    assert out[0] == pytest.approx(black, abs=1e-5)
    assert out[-1] == 100
    assert np.subtract(out, L).max() < 1e-4
    assert np.abs(np.subtract(out, L)[np.array(L) < 100 - 12 * (100 - last)]).max(initial=0) < 0.05


@pytest.mark.parametrize("veil", [0.0, 0.055, 0.11])
@pytest.mark.parametrize("lux", [2000, 500, 200, 100, 50, 20])
def test_the_eye_itself_loses_nothing_near_white(lux: float, veil: float) -> None:
    # DICOM PS3.14: more than one visible step for each L* up to white, prepared or not
    white = lux * 0.88 / np.pi
    v = _tone.View(17.4, white, veil, 500 * 0.88 / np.pi, 0.005)
    L = np.linspace(90, 100, 11)
    for tones in (L, _tone.room(v)(L)):
        steps = np.diff(jnd_index(v.seen(tones) * white))
        assert steps.min() > 1.3
        assert steps.max() < 4.5


@pytest.mark.parametrize("wrong", [{"last_light": 80}, {"last_light": 101}, {"strength": -1}])
def test_values_have_their_range(wrong: dict[str, float]) -> None:
    with pytest.raises(ParameterError, match=next(iter(wrong))):
        HighlightHold(**wrong)
