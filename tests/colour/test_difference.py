"""CIEDE2000 against its published test data and against a reference library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from printprep.colour.difference import ciede2000

# Sharma, Wu, Dalal, Color Research and Application 30 (2005), 21-30, Table 1: pairs chosen where formulas go wrong.
PAIRS = [
    ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
    ((50.0, 3.1571, -77.2803), (50.0, 0.0, -82.7485), 2.8615),
    ((50.0, -1.1848, -84.8006), (50.0, 0.0, -82.7485), 1.0000),
    ((50.0, 0.0, 0.0), (50.0, -1.0, 2.0), 2.3669),
    ((50.0, 2.49, -0.001), (50.0, -2.49, 0.0009), 7.1792),
    ((50.0, 2.49, -0.001), (50.0, -2.49, 0.0011), 7.2195),
    ((50.0, -0.001, 2.49), (50.0, 0.0009, -2.49), 4.8045),
    ((50.0, -0.001, 2.49), (50.0, 0.0011, -2.49), 4.7461),
    ((50.0, 2.5, 0.0), (50.0, 0.0, -2.5), 4.3065),
    ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
    ((50.0, 2.5, 0.0), (61.0, -5.0, 29.0), 22.8977),
    ((50.0, 2.5, 0.0), (58.0, 24.0, 15.0), 19.4535),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ((35.0831, -44.1164, 3.7933), (35.0232, -40.0716, 1.5901), 1.8645),
    ((22.7233, 20.0904, -46.6940), (23.0331, 14.9730, -42.5619), 2.0373),
    ((90.8027, -2.0831, 1.4410), (91.1528, -1.6435, 0.0447), 1.4441),
    ((6.7747, -0.2908, -2.4247), (5.8714, -0.0985, -2.2286), 0.6377),
]


@pytest.mark.parametrize(("one", "two", "apart"), PAIRS)
def test_published_pairs(one: tuple[float, ...], two: tuple[float, ...], apart: float) -> None:
    assert ciede2000(one, two) == pytest.approx(apart, abs=1e-4)
    assert ciede2000(two, one) == pytest.approx(apart, abs=1e-4)


@pytest.mark.parametrize("kind", [np.float64, np.float32])
def test_agrees_with_colour_science(kind: type) -> None:
    import colour

    rng = np.random.default_rng(5)
    one: NDArray[np.floating] = rng.uniform([0, -120, -120], [100, 120, 120], (20000, 3)).astype(kind)
    two: NDArray[np.floating] = (one + rng.normal(0, rng.choice([0.05, 2, 30], (20000, 1)), one.shape)).astype(kind)
    two[:200, 1:] = 0  # one of the two grey
    expected = colour.difference.delta_E_CIE2000(one.astype(np.float64), two.astype(np.float64))
    got = ciede2000(one, two)
    assert got.dtype == kind
    assert np.abs(got - expected).max() < 1e-4


lab = st.tuples(st.floats(0, 100), st.floats(-120, 120), st.floats(-120, 120))


@given(lab, lab)
@settings(max_examples=100, deadline=None)
def test_is_never_negative_and_the_same_both_ways(one: tuple[float, ...], two: tuple[float, ...]) -> None:
    there, back = ciede2000(one, two), ciede2000(two, one)
    assert there >= 0
    assert np.isfinite(there)
    assert there == pytest.approx(float(back), abs=1e-6)
    assert ciede2000(one, one) == pytest.approx(0, abs=1e-9)
