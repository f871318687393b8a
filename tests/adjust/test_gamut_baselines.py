"""The published methods that gamut-fit is compared with: they must be right for the comparison to mean anything."""

from __future__ import annotations

import numpy as np
import pytest

from printprep.conditions.paper import Paper
from printprep.preset_files import shipped
from tests.support.eye import lch_from_lab
from tests.support.gamut_methods import hpminde, nearest_colour, relative_bpc, sgck, sigmoid
from tests.support.gamut_metrics import NAMES, ipt, judge
from tests.support.solids import within
from tests.support.source_solid import source_solid

SOLID = Paper.from_measurement(shipped() / "measurements" / "FOGRA39L.txt").solid
SOURCE = source_solid("sRGB", SOLID.black_L)


def colours() -> np.ndarray:
    return np.random.default_rng(1).uniform([15, -90, -90], [98, 90, 90], (3000, 3)).astype(np.float32)


@pytest.mark.parametrize(
    ("black", "expected"),
    [
        # Braun and Fairchild 1999, sigmoid with m = 100; parameters from memory, table computed apart from this code
        (5, {10: 11.2419, 30: 28.5367, 50: 50.6654, 90: 92.7111}),
        (10, {10: 15.0448, 30: 30.2041, 50: 51.1218, 90: 92.8227}),
        (20, {10: 23.1092, 30: 34.4314, 50: 52.9473, 90: 93.3620}),
    ],
)
def test_sigmoid_lightness(black: float, expected: dict[int, float]) -> None:
    for L, value in expected.items():
        assert float(sigmoid(np.array([L], np.float32), black)[0]) == pytest.approx(value, abs=0.05)
    assert sigmoid(np.array([0, 100], np.float32), black) == pytest.approx([black, 100], abs=1e-3)


def test_hpminde_holds_hue_and_is_done_at_once() -> None:
    """CIE 156:2004, from memory: inside stays, hue moves less than 0.1 degree, twice is once, all is inside."""
    lab = colours()
    once = hpminde(lab, lab, SOLID, SOURCE)
    inside = SOLID.contains(lab)
    assert np.array_equal(once[inside], lab[inside])
    coloured = lch_from_lab(once)[:, 1] > 1
    turn = (lch_from_lab(once)[:, 2] - lch_from_lab(lab)[:, 2] + 180) % 360 - 180
    assert np.abs(turn[coloured]).max() < 0.1
    assert within(SOLID, once, 0.3).all()
    assert np.abs(hpminde(once, once, SOLID, SOURCE) - once).max() < 0.3
    near = np.linalg.norm(nearest_colour(lab, lab, SOLID, SOURCE) - lab, axis=-1)
    farther = np.linalg.norm(once - lab, axis=-1) - near
    assert np.quantile(farther, 0.005) > -0.3
    assert farther.min() > -2  # on the sharp ridge of yellow the nearest point is found on flat triangles


def test_sgck_keeps_greys_and_hue() -> None:
    lab = colours()
    out = sgck(lab, lab, SOLID, SOURCE)
    assert within(SOLID, out, 0.5).mean() > 0.99
    coloured = lch_from_lab(out)[:, 1] > 1
    turn = (lch_from_lab(out)[:, 2] - lch_from_lab(lab)[:, 2] + 180) % 360 - 180
    assert np.abs(turn[coloured]).max() < 0.1
    greys = np.stack([np.linspace(0, 100, 11), np.zeros(11), np.zeros(11)], -1).astype(np.float32)
    got = sgck(greys, greys, SOLID, SOURCE)
    # for greys p_C is 1: the sigmoid alone
    assert got[:, 0] == pytest.approx(sigmoid(greys[:, 0], SOLID.black_L), abs=0.02)


def test_littlecms_clips_through_a_profile_of_the_paper() -> None:
    lab = colours()
    got = relative_bpc(lab, lab, SOLID, SOURCE)
    exact = nearest_colour(lab, lab, SOLID, SOURCE)
    assert np.linalg.norm(got - exact, axis=-1).mean() < 2  # a 33-node table
    # moderate colours come through: L* 50, 60 and 70 with chroma 20
    calm = np.array([[50, 20, 0], [60, 0, 20], [70, -20, 0]], np.float32)
    assert np.abs(relative_bpc(calm, calm, SOLID, SOURCE) - calm).max() < 0.3


def test_ipt_of_white() -> None:
    assert ipt(np.array([100.0, 0, 0])) == pytest.approx([1, 0, 0], abs=2e-3)  # Ebner and Fairchild 1998


def test_figures_of_nothing_done_and_of_all_detail_lost() -> None:
    y, x = np.mgrid[0:40, 0:40]
    asked = np.stack([50 + 3 * np.sin(x / 2.0), 90 + 2 * np.cos(y / 3.0), 60 + 0.0 * x], -1).astype(np.float32)
    same = dict(zip(NAMES, judge(asked, asked, SOLID), strict=True))
    assert same["dE00"] == 0
    assert same["detail"] == pytest.approx(1)
    assert same["structure"] == pytest.approx(1)
    assert same["outside %"] == 100
    flat = dict(zip(NAMES, judge(asked, np.full_like(asked, 50), SOLID), strict=True))
    assert flat["detail"] == 0
    assert flat["structure"] < 0.2
    assert flat["lost %"] == 100
