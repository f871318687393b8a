"""How far apart two colours look: CIEDE2000."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from printprep.colour.lab import Floats

_25_7 = 25.0**7


def ciede2000(first: ArrayLike, second: ArrayLike) -> Floats:
    """Colour difference, kL = kC = kH = 1.

    Parameters
    ----------
    first, second : (..., 3) array_like
        CIELAB; shapes are broadcast.

    Returns
    -------
    (...) ndarray
        CIEDE2000: 0 for equal colours, about 1 for the smallest that is seen side by side.

    Notes
    -----
    CIE 142-2001 and ISO/CIE 11664-6; hue cases as in Sharma, Wu, Dalal, Color Research and
    Application 30 (2005), 21-30. Computed in float64 but returned in the precision of the arguments.
    """
    one, two = np.asarray(first), np.asarray(second)
    kept = np.float32 if one.dtype == two.dtype == np.float32 else np.float64
    one, two = one.astype(np.float64), two.astype(np.float64)
    L1, L2 = one[..., 0], two[..., 0]
    mean_7 = ((np.hypot(one[..., 1], one[..., 2]) + np.hypot(two[..., 1], two[..., 2])) / 2) ** 7
    stretch = 1.5 - 0.5 * np.sqrt(mean_7 / (mean_7 + _25_7))
    a1, a2 = stretch * one[..., 1], stretch * two[..., 1]
    b1, b2 = one[..., 2], two[..., 2]
    C1, C2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.arctan2(b1, a1), np.arctan2(b2, a2)
    grey = C1 * C2 == 0
    turn = (h2 - h1 + np.pi) % (2 * np.pi) - np.pi  # the shorter way round; its sign at 180 degrees does not matter
    dH = np.where(grey, 0, 2 * np.sqrt(C1 * C2) * np.sin(turn / 2))
    # Where one is grey its hue is 0 and the mean is the other's; else the middle of the shorter way.
    h = np.where(grey, h1 + h2, h1 + turn / 2)
    L, C = (L1 + L2) / 2, (C1 + C2) / 2
    T = (
        1
        - 0.17 * np.cos(h - np.pi / 6)
        + 0.24 * np.cos(2 * h)
        + 0.32 * np.cos(3 * h + np.pi / 30)
        - 0.20 * np.cos(4 * h - np.radians(63))
    )
    off = np.square(L - 50)
    s_L = 1 + 0.015 * off / np.sqrt(20 + off)
    s_C, s_H = 1 + 0.045 * C, 1 + 0.015 * C * T
    from_blue = np.degrees(h) % 360 - 275
    C_7 = C**7
    turned = -2 * np.sqrt(C_7 / (C_7 + _25_7)) * np.sin(np.radians(60) * np.exp(-np.square(from_blue / 25)))
    light, colour, hue = (L2 - L1) / s_L, (C2 - C1) / s_C, dH / s_H
    total = light * light + colour * colour + hue * hue + turned * colour * hue
    return np.asarray(np.sqrt(np.maximum(total, 0)), kept)
