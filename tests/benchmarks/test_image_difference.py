"""The colour-image difference: against its formulas written out, and against colour-science."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.image_difference import (
    cam16_ucs,
    difference,
    filtered,
    image_difference,
    reduced,
    sensitivity,
    uniform,
)
from printprep.colour.lab import lab_from_xyz


def texture(rows: int = 48, columns: int = 64) -> np.ndarray:
    random = np.random.default_rng(3)
    y, x = np.mgrid[:rows, :columns]
    lab = np.stack([50 + 20 * np.sin(x / 7) + 5 * np.cos(y / 3), 40 + 0.4 * x, 30 * np.cos(y / 9)], -1)
    return np.asarray(lab + random.normal(0, 3, lab.shape), np.float32)


def test_the_same_picture_has_no_difference() -> None:
    assert image_difference(texture(), texture()) == pytest.approx(0, abs=1e-12)
    assert image_difference(texture(), texture(), intent="chromatic") == pytest.approx(0, abs=1e-12)


def test_uniform_space_is_that_of_colour_science() -> None:
    """CAM16-UCS by colour-science, for what is not so dark that CIE 248:2022 goes on by a straight line."""
    import colour
    from colour.appearance.cam16 import XYZ_to_CAM16

    xyz = colour.sRGB_to_XYZ(np.random.default_rng(1).uniform(0.2, 1, (300, 3)))
    seen = XYZ_to_CAM16(xyz * 100, np.array([95.047, 100, 108.883]), 20, 20)
    jmh = np.stack([seen.J, seen.M, seen.h], -1)
    assert cam16_ucs(xyz) == pytest.approx(colour.models.JMh_CAM16_to_CAM16UCS(jmh), abs=1e-3)


def test_flat_pictures_by_hand() -> None:
    """Two flat greys, two flat colours: contrast and structure agree, so that three factors remain."""
    pairs = (((40, 0, 0), (60, 0, 0)), ((55, 60, 20), (60, 40, 50)))
    for first, second in pairs:
        red, orange = (np.full((30, 30, 3), lab, np.float32) for lab in (first, second))
        one, two = cam16_ucs(filtered_flat(red)), cam16_ucs(filtered_flat(orange))
        C1, C2 = np.hypot(*one[1:]), np.hypot(*two[1:])
        dH2 = ((one[1:] - two[1:]) ** 2).sum() - (C1 - C2) ** 2
        for intent, c in (("perceptual", 0.002), ("chromatic", 0.02)):
            by_hand = 1 - 1 / (1 + 0.002 * (one[0] - two[0]) ** 2) / (1 + c * (C1 - C2) ** 2) / (1 + c * dH2)
            found = image_difference(red, orange, intent=intent)  # type: ignore[arg-type]
            assert found == pytest.approx(by_hand, abs=1e-5)


def filtered_flat(lab: np.ndarray) -> np.ndarray:
    """XYZ (D65) of a flat picture's colour, adapted by colour-science's Bradford matrix."""
    import colour
    from colour.adaptation import matrix_chromatic_adaptation_VonKries

    D50, D65 = np.array([0.9642, 1, 0.8249]), np.array([0.95047, 1, 1.08883])
    xyz = colour.Lab_to_XYZ(lab[0, 0], colour.XYZ_to_xy(D50))
    return np.asarray(matrix_chromatic_adaptation_VonKries(D50, D65, transform="Bradford") @ xyz)


@pytest.mark.parametrize("intent", ["perceptual", "chromatic"])
def test_windows_by_loops(intent: str) -> None:
    """The seven comparisons of one window, summed up as the paper writes them."""
    one, two = uniform(texture(11, 11)), uniform(texture(11, 11)[:, ::-1])
    k = np.arange(-5, 6)
    g = np.exp(-(k**2) / 8)
    w = np.outer(g, g) / np.outer(g, g).sum()
    L1, L2 = one[..., 0], two[..., 0]
    C1, C2 = (np.hypot(p[..., 1], p[..., 2]) for p in (one, two))
    dH = np.sqrt(np.maximum(((one - two)[..., 1:] ** 2).sum(-1) - (C1 - C2) ** 2, 0))

    def moments(x: np.ndarray, y: np.ndarray) -> tuple[float, ...]:
        mx, my = (w * x).sum(), (w * y).sum()
        sx, sy = np.sqrt((w * (x - mx) ** 2).sum()), np.sqrt((w * (y - my) ** 2).sum())
        return mx, my, sx, sy, (w * (x - mx) * (y - my)).sum()

    c4 = {"perceptual": 0.002, "chromatic": 0.02}[intent]
    a, b, sa, sb, sab = moments(L1, L2)
    by_hand = 1 / (0.002 * (a - b) ** 2 + 1) * (10 + 2 * sa * sb) / (10 + sa**2 + sb**2)
    by_hand *= ((10 + abs(sab)) / (10 + sa * sb)) ** 3
    a, b, sa, sb, sab = moments(C1, C2)
    by_hand *= 1 / (c4 * (a - b) ** 2 + 1) / (c4 * (w * dH).sum() ** 2 + 1)
    by_hand *= (10 + 2 * sa * sb) / (10 + sa**2 + sb**2) * (10 + abs(sab)) / (10 + sa * sb)
    from benchmarks.image_difference import likeness

    assert likeness(one, two, intent)[5, 5] == pytest.approx(by_hand, rel=1e-5)  # type: ignore[arg-type]
    assert difference(one, two, intent) == pytest.approx(1 - likeness(one, two, intent).mean())  # type: ignore[arg-type]


def test_filter_is_a_fourier_filter_of_the_mirrored_picture() -> None:
    """By NumPy's FFT of the picture mirrored at its edges, Nyquist at 20 cycles a degree."""
    xyz = np.random.default_rng(2).uniform(0.2, 0.8, (20, 26, 3))
    to = np.array([[0.0556, 0.9981, -0.0254], [0.9510, -0.9038, 0], [0.0386, 1.0822, -1.0276]])
    seen = xyz @ to.T
    f = np.hypot(np.fft.fftfreq(40)[:, None], np.fft.fftfreq(52)) * 40
    for k, share in enumerate(sensitivity(f)):
        mirrored = np.pad(seen[..., k], ((0, 20), (0, 26)), mode="symmetric")
        seen[..., k] = np.fft.ifft2(np.fft.fft2(mirrored) * share).real[:20, :26]
    assert filtered(xyz) == pytest.approx(seen @ np.linalg.inv(to).T, abs=1e-9)
    assert [float(s[0]) for s in sensitivity(np.zeros(1))] == pytest.approx([1, 1, 1], abs=1e-4)


def test_more_taken_away_is_more_difference() -> None:
    lab = texture()
    for intent in ("perceptual", "chromatic"):
        found = []
        for share in (1, 0.9, 0.7, 0.4, 0):
            paler = lab * np.array([1, share, share], np.float32)
            found.append(image_difference(lab, paler, intent=intent))
        assert all(np.diff(found) > 0.001)
        assert found[0] >= 0 and found[-1] < 1
    paler = lab * np.array([1, 0.8, 0.8], np.float32)
    assert image_difference(lab, paler, intent="chromatic") > image_difference(lab, paler)


def test_reduction_is_in_light() -> None:
    """A fine checker of black and white is the grey of half the light, not of half the lightness."""
    fine = np.zeros((64, 64, 3), np.float32)
    fine[::2, ::2, 0] = fine[1::2, 1::2, 0] = 100
    grey = np.full((32, 32, 3), 0, np.float32)
    grey[..., 0] = lab_from_xyz(np.array([0.4821, 0.5, 0.41245]))[0]
    assert image_difference(fine, grey.repeat(2, 0).repeat(2, 1), short_side=32) == pytest.approx(0, abs=1e-4)
    assert reduced(np.zeros((100, 151, 3)), 50).shape == (50, 75, 3)
