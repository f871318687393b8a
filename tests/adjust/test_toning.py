"""Toning: shadows and highlights apart, within the gamut, lightness untouched."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

import printprep as pp
from printprep.adjust._base import Stage
from printprep.adjust.toning import Toning
from printprep.errors import ParameterError
from printprep.testing import check_adjustment, plain
from tests.support.eye import lch_from_lab


def ramp(step: Toning, n: int = 201) -> NDArray[np.float32]:
    L = np.linspace(plain().black, 100, n, dtype=np.float32)
    return step(np.stack([L, 0 * L, 0 * L], axis=-1), plain())


@pytest.mark.parametrize("parameters", [{}, {"shadows": 8.0}, {"shadows": 30.0, "highlights": 30.0}])
def test_it_keeps_the_promises(parameters: dict[str, Any]) -> None:
    check_adjustment(Toning(**parameters))


def test_shadows_and_highlights_take_their_own_tones() -> None:
    made = lch_from_lab(ramp(Toning(shadows=6, shadows_hue=250, highlights=4, highlights_hue=80)))
    shadow, highlight = made[40], made[170]
    assert shadow[1] == pytest.approx(6, rel=0.15)
    assert shadow[2] == pytest.approx(250, abs=2)
    assert highlight[1] == pytest.approx(4 * (1 - 0.7**4), rel=0.02)  # by the formula, at t = 0.85
    assert highlight[2] == pytest.approx(80, abs=2)


@settings(max_examples=60, deadline=None)
@given(
    shadows=st.floats(0, 30), highlights=st.floats(0, 30), one=st.floats(0, 360), other=st.floats(0, 360),
)  # fmt: skip
def test_stays_within_the_gamut_and_ends_neutral(shadows: float, highlights: float, one: float, other: float) -> None:
    made = ramp(Toning(shadows, one, highlights, other))
    L, chroma, hue = lch_from_lab(made).T
    assert np.array_equal(L, np.linspace(plain().black, 100, 201, dtype=np.float32))
    assert (chroma <= plain().gamut.max_chroma(L, hue) + 0.05).all()
    assert chroma[-1] < 0.01
    assert chroma[0] < 0.05
    assert np.abs(np.diff(made[:, 1:], axis=0)).max() < 3, "no jumps"


def test_a_grey_edit_comes_back_toned_and_the_fit_leaves_it_so() -> None:
    paper = pp.paper("cotton-rag")
    pipe = pp.Pipeline([pp.GamutFit(), Toning(shadows=8, highlights=4), pp.Monochrome()], paper=paper)
    assert [type(s).__name__ for s in pipe.steps] == ["Monochrome", "Toning", "GamutFit"]
    assert Toning.stage == Stage.TINT
    greys = np.repeat(np.linspace(0.05, 0.95, 40, dtype=np.float32)[:, None], 3, axis=1)
    plan = pipe.plan("opRGB")
    toned = plan.chain.to_print(plan.chain(greys))
    wanted = Toning(shadows=8, highlights=4)(plan.chain.to_print(greys), plan.on)
    assert np.abs(toned - wanted).max() < 0.3


def test_overall_strength_takes_its_share() -> None:
    assert Toning(shadows=8, highlights=2).scaled(0.5) == Toning(shadows=4, highlights=1)


@pytest.mark.parametrize("wrong", [{"shadows": 31}, {"highlights": -1}, {"shadows_hue": 361}])
def test_values_have_their_range(wrong: dict[str, float]) -> None:
    with pytest.raises(ParameterError, match=next(iter(wrong))):
        Toning(**wrong)
