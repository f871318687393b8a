"""How strong a colour looks in given light: the colourfulness of CIECAM16."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from printprep.colour.lab import D50, Array

_M16 = np.array(
    [[0.401288, 0.650173, -0.051461], [-0.250268, 1.204414, 0.045854], [-0.002079, 0.048952, 0.953127]]
)
_SURROUNDS = {"average": (1.0, 0.69, 1.0), "dim": (0.9, 0.59, 0.9), "dark": (0.8, 0.525, 0.8)}  # F, c, Nc
_LOW, _HIGH = 0.26, 150.0  # CIE 248:2022: straight lines outside, so that every colour has an answer
_BACKGROUND = 0.2
"""Y_b, as a share of white's."""


def colourfulness(
    xyz: ArrayLike, adapting_luminance: float, surround: Literal["average", "dim", "dark"] = "average"
) -> Array:
    """M of colours, XYZ (..., 3) under D50 with Y of a perfect white = 1, to an eye that has adapted to the light.

    `adapting_luminance` (cd/m2) is L_A, about a fifth of white's. CIE 248:2022; Li et al., Color Research and
    Application 42 (2017), 703-718. The illuminant is not discounted. A colour that gives no positive achromatic
    response has none.
    """
    F, c, N_c = _SURROUNDS[surround]
    k4 = 1 / (5 * adapting_luminance + 1) ** 4
    F_L = float(k4 * adapting_luminance + 0.1 * (1 - k4) ** 2 * np.cbrt(5 * adapting_luminance))
    D = np.clip(F * (1 - np.exp((-adapting_luminance - 42) / 92) / 3.6), 0, 1)
    white = _M16 @ np.asarray(D50) * 100
    gain = D * 100 / white + 1 - D  # chromatic adaptation of each cone channel
    induction = 0.725 * _BACKGROUND**-0.2  # N_bb, the same as N_cb

    def responses(cones: Array) -> Array:
        p = (F_L * np.clip(cones, _LOW, _HIGH) / 100) ** 0.42
        p_low, p_high = (F_L * np.array([_LOW, _HIGH]) / 100) ** 0.42
        below = 400 * p_low / (27.13 + p_low) / _LOW
        beyond = 400 * 27.13 * 0.42 * p_high / _HIGH / (27.13 + p_high) ** 2
        inner = 400 * p / (27.13 + p)
        return np.asarray(inner + np.minimum(cones - _LOW, 0) * below + np.maximum(cones - _HIGH, 0) * beyond)

    R, G, B = np.moveaxis(responses(np.asarray(xyz, np.float64) * 100 @ _M16.T * gain), -1, 0)
    a, b = R - 12 * G / 11 + B / 11, (R + G - 2 * B) / 9
    achromatic = np.maximum(2 * R + G + 0.05 * B, 0) * induction
    of_white = float(responses(white * gain) @ [2, 1, 0.05]) * induction
    root = (achromatic / of_white) ** (c * (1.48 + np.sqrt(_BACKGROUND)) / 2)  # sqrt(J / 100)
    eccentricity = (np.cos(np.arctan2(b, a) + 2) + 3.8) / 4
    total = R + G + 1.05 * B + 0.305
    t = 50_000 / 13 * N_c * induction * eccentricity * np.hypot(a, b) / np.where(total == 0, 1, total)
    chroma = np.maximum(t, 0) ** 0.9 * root * (1.64 - 0.29**_BACKGROUND) ** 0.73
    return np.asarray(chroma * F_L**0.25)
