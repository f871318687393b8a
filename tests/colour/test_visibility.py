"""The step count of the eye against DICOM PS3.14 and two independent implementations."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep.colour.lab import Array
from printprep.colour.visibility import HIGHEST, LOWEST, jnd_index
from tests.support.eye import jnd_count_fixed

# DICOM PS3.14, clause 7.1; values by colour-science 0.4.7
INDEX_OF = {
    0.1: 10.118, 0.5: 46.558, 1: 71.498, 2: 104.039, 5: 161.306, 10: 216.872, 20: 283.440, 50: 387.397,
    100: 476.364, 200: 572.153, 500: 705.939, 1000: 810.487,
}  # fmt: skip

# Equal steps on a sheet of D 0.0555 to 1.6779 under 500 lx: DICOM PS3.14 clause 7.3, L = La + L0 10**-D
SHEET = [3.3401, 5.8378, 9.4172, 14.3878, 21.1460, 30.1989, 42.1947, 57.9628, 78.5633, 105.3519, 140.0627]


def test_the_standards_indices() -> None:
    np.testing.assert_allclose(jnd_index(list(INDEX_OF)), list(INDEX_OF.values()), atol=1e-3)


def test_colour_science_agrees() -> None:
    import colour

    L = np.geomspace(LOWEST, HIGHEST, 500)
    # colour-science 0.4.7 rounds to whole indices by default; its domain is cd/m2, its range index / 1023
    theirs = colour.models.eotf_inverse_DICOMGSDF(L, out_int=False) * 1023
    np.testing.assert_allclose(jnd_index(L), theirs, atol=1e-8)


def luminance_of_jnd(index: Array) -> Array:
    """By colour-science 0.4.7: the standard's other formula, a fit of its own."""
    import colour

    return np.asarray(colour.models.eotf_DICOMGSDF(index / 1023), np.float64)


def equal_steps(ends: tuple[float, float], count: int) -> Array:
    """Luminances at equal shares of the JND range."""
    first, last = jnd_index(list(ends))
    return luminance_of_jnd(np.linspace(first, last, count))


def test_equal_steps_on_a_sheet() -> None:
    L0 = 500 / np.pi
    ends = (L0 * 10**-1.6779, L0 * 10**-0.0555)
    np.testing.assert_allclose(jnd_index(list(ends)), [133.947, 522.196], atol=2e-3)
    np.testing.assert_allclose(equal_steps(ends, 11), SHEET, rtol=1e-4)


@pytest.mark.skipif(shutil.which("dcmdspfn") is None, reason="DCMTK's dcmdspfn (Debian package dcmtk) is not here")
@pytest.mark.parametrize("lux", [500.0, 50.0])
def test_dcmtk_agrees(tmp_path: Path, lux: float) -> None:
    # DCMTK, Debian package dcmtk: an independent implementation of PS3.14
    out = tmp_path / "curve.txt"
    light = ["+Ci", f"{lux / np.pi:.6f}", "+Ca", "0"]
    command = ["dcmdspfn", "+Io", "0.0555", "1.6779", *light, "+Cd", "11", "+Og", str(out)]
    subprocess.run(command, check=True, timeout=60)
    rows = [line.split() for line in out.read_text().splitlines() if line[:1].isdigit()]
    theirs = np.array([float(row[1]) for row in rows])
    ours = equal_steps((lux / np.pi * 10**-1.6779, lux / np.pi * 10**-0.0555), 11)
    assert len(theirs) == 11
    np.testing.assert_allclose(ours, theirs, rtol=1e-3)


@pytest.mark.parametrize("join", [LOWEST, HIGHEST])
def test_the_curve_goes_on_without_a_kink(join: float) -> None:
    step = join * 1e-4
    below, at, above = jnd_index([join - step, join, join + step])
    assert at - below == pytest.approx(above - at, rel=1e-3)


def test_dark_steps_are_those_of_the_last_published_pair() -> None:
    # PS3.14 table B-1 begins 0.0500, 0.0547: one JND for 0.0047 cd/m2; the fit's own slope there is 5 % off
    assert jnd_index(0.03) - jnd_index(0.03 - 0.0047) == pytest.approx(1, abs=0.06)


@settings(max_examples=80, deadline=None)
@given(st.floats(0, 30_000), st.floats(1e-3, 1e3))
def test_more_light_is_more_steps(luminance: float, more: float) -> None:
    assert jnd_index(luminance + more) > jnd_index(luminance)


@settings(max_examples=80, deadline=None)
@given(st.floats(1, 1023))
def test_back_and_forth(index: float) -> None:
    # the standard's two formulas are separate fits
    assert jnd_index(luminance_of_jnd(np.array(index))) == pytest.approx(index, abs=0.1)


@settings(max_examples=80, deadline=None)
@given(st.floats(0.1, 200), st.floats(0.01, 500))
def test_a_fixed_eye_counts_no_more_than_one_that_adapts(adapted: float, top: float) -> None:
    L = np.linspace(0, top, 50)
    fixed, free = np.diff(jnd_count_fixed(L, adapted)), np.diff(jnd_index(L))
    assert (fixed >= 0).all()
    assert (fixed <= free + 1e-2).all()


def test_a_fixed_eye_sees_best_where_it_is_adapted() -> None:
    for adapted in (1.0, 30.0):
        L = adapted * np.array([0.01, 0.0101, 1, 1.01])
        steps = np.diff(jnd_count_fixed(L, adapted)) / np.diff(jnd_index(L))
        assert steps[2] == pytest.approx(1, abs=0.01)
        assert steps[0] < 0.5
