"""Paper tint: middle and dark greys print neutral on a tinted paper, its white stays."""

from __future__ import annotations

from dataclasses import replace

import colour
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

import printprep as pp
from printprep.adjust.paper_tint import PaperTint
from printprep.colour.lab import D50
from printprep.testing import check_adjustment, plain


def on(a: float, b: float) -> pp.Conditions:
    return replace(plain(), paper=replace(plain().paper, white=(95.0, a, b)))


def printed(step: PaperTint, where: pp.Conditions, L: NDArray[np.floating]) -> NDArray[np.float64]:
    """Absolute Lab of greys, by colour-science: relative XYZ times the paper's (ICC.1, media-relative)."""
    lab = step(np.stack([L, 0 * L, 0 * L], axis=-1).astype(np.float32), where)
    xy = colour.XYZ_to_xy(np.array(D50))
    white = colour.Lab_to_XYZ(np.array(where.paper.white), xy)
    return np.asarray(colour.XYZ_to_Lab(colour.Lab_to_XYZ(lab.astype(float), xy) * white / np.array(D50), xy))


@pytest.mark.parametrize("white", [(0.3, 2.0), (-1.0, 8.0), (1.5, -6.0)])
def test_it_keeps_the_promises(white: tuple[float, float]) -> None:
    check_adjustment(PaperTint(), on(*white))
    check_adjustment(PaperTint(0.4), on(*white))


@settings(max_examples=50, deadline=None)
@given(st.floats(-3, 3), st.floats(-8, 10))
def test_dark_and_middle_greys_are_neutral_and_white_is_the_papers(a: float, b: float) -> None:
    where = on(a, b)
    L = np.linspace(where.black, 100, 100)
    made = printed(PaperTint(), where, L)
    middle = (L - where.black) / (100 - where.black) < 0.6
    assert np.abs(made[middle, 1:]).max() < 0.1
    assert np.abs(made[-1] - where.paper.white).max() < 0.01
    assert np.abs(np.diff(made[:, 1:], axis=0)).max() < 0.6, "no jump between"


def test_lightness_stays_and_half_the_strength_does_half() -> None:
    where, L = on(-1, 8), np.linspace(20, 98, 50)
    whole, half, none = (printed(PaperTint(s), where, L) for s in (1.0, 0.5, 0.0))
    assert np.allclose(half[:, 1:], (whole + none)[:, 1:] / 2, atol=0.1)
    assert np.abs(whole[:, 0] - none[:, 0]).max() < 1e-3


def test_idle_on_a_neutral_paper_or_without_strength() -> None:
    assert PaperTint().idle(on(0, 0))
    assert PaperTint(0).idle(on(-1, 8))
    assert not PaperTint().idle(on(-1, 8))
