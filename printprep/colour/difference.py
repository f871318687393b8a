"""How far apart two colours look: CIEDE2000."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from printprep.colour.lab import Floats

_25_7 = 25.0**7


def ciede2000(first: ArrayLike, second: ArrayLike) -> Floats:
    """Colour difference, (...), of CIELAB colours, (..., 3), kL = kC = kH = 1.

    0 for equal colours, about 1 for the smallest that is seen side by side. Computed in float32 where both are
    float32 (exact to 1e-4), else in float64.

    CIE 142-2001 and ISO/CIE 11664-6; hue cases as in Sharma, Wu, Dalal, Color Research and Application 30 (2005),
    21-30.
    """
    one, two = np.asarray(first), np.asarray(second)
    kind = np.float32 if one.dtype == two.dtype == np.float32 else np.float64
    one, two = one.astype(kind, copy=False), two.astype(kind, copy=False)
    L1, L2, b1, b2 = one[..., 0], two[..., 0], one[..., 2], two[..., 2]
    mean = (np.hypot(one[..., 1], b1) + np.hypot(two[..., 1], b2)) / 2
    stretch = 1.5 - 0.5 * _saturated(mean)
    a1, a2 = stretch * one[..., 1], stretch * two[..., 1]
    C1, C2 = np.hypot(a1, b1), np.hypot(a2, b2)
    whole = kind(2 * np.pi)
    h1, h2 = np.arctan2(b1, a1) % whole, np.arctan2(b2, a2) % whole
    grey = C1 * C2 == 0
    turn = h2 - h1 - whole * np.rint((h2 - h1) / whole)  # the shorter way round
    dH = np.where(grey, 0, 2 * np.sqrt(C1 * C2) * np.sin(turn / 2))
    # Where one is grey its hue is 0 and the mean is the other's; else the middle of the shorter way.
    h = np.where(grey, h1 + h2, h1 + turn / 2)
    L, C = (L1 + L2) / 2, (C1 + C2) / 2
    off = np.square(L - 50)
    s_L = 1 + kind(0.015) * off / np.sqrt(20 + off)
    s_C, s_H = 1 + kind(0.045) * C, 1 + kind(0.015) * C * _hue_weight(h)
    from_blue = np.degrees(h) % 360 - 275
    turned = -2 * _saturated(C) * np.sin(kind(np.pi / 3) * np.exp(-np.square(from_blue / 25)))
    light, colour, hue = (L2 - L1) / s_L, (C2 - C1) / s_C, dH / s_H
    total = light * light + colour * colour + hue * hue + turned * colour * hue
    return np.asarray(np.sqrt(np.maximum(total, 0)), kind)


def _saturated(chroma: Floats) -> Floats:
    """``sqrt(C^7 / (C^7 + 25^7))``."""
    squared = chroma * chroma
    seventh = squared * squared * squared * chroma
    return np.asarray(np.sqrt(seventh / (seventh + chroma.dtype.type(_25_7))))


def _hue_weight(h: Floats) -> Floats:
    """T of the formula, by the cosine and sine of h alone (multiple angles)."""
    kind = h.dtype.type
    c1, s1 = np.cos(h), np.sin(h)
    c2, s2 = c1 * c1 - s1 * s1, 2 * s1 * c1
    c3, s3 = c2 * c1 - s2 * s1, s2 * c1 + c2 * s1
    c4, s4 = c2 * c2 - s2 * s2, 2 * s2 * c2

    def part(weight: float, degrees: float, cosine: Floats, sine: Floats) -> Floats:
        """``weight cos(k h + degrees)``."""
        angle = np.radians(degrees)
        return kind(weight * np.cos(angle)) * cosine - kind(weight * np.sin(angle)) * sine

    total = part(-0.17, -30, c1, s1) + part(0.24, 0, c2, s2) + part(0.32, 6, c3, s3) + part(-0.20, -63, c4, s4)
    return np.asarray(1 + total)
