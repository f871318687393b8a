"""Oklab, and what is done about colours that no eye can see."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from printprep.colour.hue import lab_from_oklab, oklab_from_lab, visible_oklab
from printprep.colour.icc import lab_from_device
from printprep.colour.lab import lab_from_xyz
from printprep.colour.profile import Profile


@pytest.mark.filterwarnings("ignore")
def test_oklab_agrees_with_colour_science() -> None:
    lab = np.random.default_rng(1).uniform([10, -60, -60], [95, 60, 60], (500, 3))
    xyz = colour.Lab_to_XYZ(lab, colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"])
    to_d65 = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        np.array([0.96422, 1, 0.82521]), np.array([0.95047, 1, 1.08883]), "Bradford"
    )
    expected = 100 * colour.XYZ_to_Oklab(xyz @ to_d65.T)
    assert np.abs(oklab_from_lab(lab) - expected).max() < 0.1  # whites differ in the fourth place


def test_there_and_back() -> None:
    lab = np.random.default_rng(2).uniform([1, -100, -100], [100, 100, 100], (2000, 3))
    assert np.abs(lab_from_oklab(oklab_from_lab(lab)) - lab).max() < 1e-6


def test_greys_are_grey() -> None:
    greys = np.stack([np.linspace(0, 100, 101), np.zeros(101), np.zeros(101)], -1).astype(np.float32)
    assert np.abs(oklab_from_lab(greys)[:, 1:]).max() < 1e-4
    assert np.abs(visible_oklab(greys)[:, 1:]).max() < 1e-4
    assert oklab_from_lab(np.array([100.0, 0, 0]))[0] == pytest.approx(100, abs=1e-6)


def test_srgb_stays() -> None:
    step = np.linspace(0, 1, 21)
    rgb = np.stack(np.meshgrid(step, step, step, indexing="ij"), -1).reshape(-1, 3)
    lab = lab_from_device(rgb, Profile.named("sRGB").data)
    moved = np.linalg.norm(visible_oklab(lab) - oklab_from_lab(lab), axis=-1)
    assert (moved > 0.05).mean() < 0.01
    assert moved.max() < 1  # its bluest blue, which turns most in CIELAB


def test_imaginary_blue_stays_blue() -> None:
    # ISO 22028-2: the blue primary of ROMM RGB, x 0.0366, y 0.0001
    for share in (0.1, 0.3, 0.6, 1.0):
        blue = lab_from_xyz(np.array([0.0313534, 0.0000857, 0.8249]) * share)
        oklab = visible_oklab(blue)
        hue = np.degrees(np.arctan2(oklab[2], oklab[1])) % 360
        assert np.isfinite(oklab).all()
        assert 225 < hue < 305, f"{share}: Oklab hue {hue:.0f}"


def test_easing_keeps_the_order() -> None:
    for hue in range(0, 360, 10):
        for L in (2, 10, 30, 60, 90):
            C = np.arange(0, 220, 2.0)
            lab = np.stack([np.full_like(C, L), C * np.cos(np.radians(hue)), C * np.sin(np.radians(hue))], -1)
            got = visible_oklab(lab)
            chroma = np.hypot(got[:, 1], got[:, 2])
            assert (np.diff(chroma) > -0.02).all(), (hue, L)
