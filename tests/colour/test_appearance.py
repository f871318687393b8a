"""Colourfulness of CIECAM16 against colour-science, and the direction that observers report."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest

from printprep.colour.appearance import colourfulness
from printprep.colour.lab import xyz_from_lab

SURROUNDS: tuple[Literal["average", "dim", "dark"], ...] = ("average", "dim", "dark")


def test_dark_points_follow_the_model_of_2022() -> None:
    # CIE 248:2022 draws straight lines below a cone signal of 0.26; both by colour-science 0.4.7
    import colour

    dark = np.array([0.0012, 0.0010, 0.0004])
    white = np.array([96.42, 100, 82.49])
    now = colour.XYZ_to_CIECAM16(dark * 100, white, 31.831, 20)
    before = colour.XYZ_to_CAM16(dark * 100, white, 31.831, 20)
    assert colourfulness(dark, 31.831) == pytest.approx(float(now.M), abs=1e-6)
    assert abs(now.M - before.M) > 0.1


@pytest.mark.parametrize("surround", SURROUNDS)
@pytest.mark.parametrize("adapting", [0.5, 3.183, 31.83, 318.3])
def test_colour_science_agrees(surround: Literal["average", "dim", "dark"], adapting: float) -> None:
    import colour

    rng = np.random.default_rng(7)
    xyz = rng.uniform(0.02, 1.0, (400, 3)) * np.array([[1.0], [0.02]]).repeat(200, 0)
    induction = colour.appearance.VIEWING_CONDITIONS_CIECAM16[surround.capitalize()]
    seen = colourfulness(xyz, adapting, surround)
    valid = seen > 0  # colours bluer than any light make the reference warn, and NaN
    white = np.array([96.42, 100, 82.49])
    theirs = colour.XYZ_to_CIECAM16(xyz[valid] * 100, white, adapting, 20, induction)
    np.testing.assert_allclose(seen[valid], theirs.M, atol=1e-6)
    assert valid.sum() > 350


# Lab D50, L_A = E x 0.2 / pi. Hunt; the figures by colour-science 0.4.7.
RED = (48.0, 60.0, 40.0)


def test_hunt_colours_weaken_in_less_light() -> None:
    red = xyz_from_lab(np.array(RED))
    M = [float(colourfulness(red, lux * 0.2 / np.pi)) for lux in (2000, 500, 200, 100, 50)]
    np.testing.assert_allclose(M, [75.484, 67.073, 62.010, 58.423, 55.031], atol=2e-3)
    assert M[-1] / M[1] == pytest.approx(0.82, abs=0.005)
