"""How a colour looks in given light: CIECAM16."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from printprep.colour.lab import D50, Array

_M16 = np.array(
    [[0.401288, 0.650173, -0.051461], [-0.250268, 1.204414, 0.045854], [-0.002079, 0.048952, 0.953127]]
)
_SURROUNDS = {"average": (1.0, 0.69, 1.0), "dim": (0.9, 0.59, 0.9), "dark": (0.8, 0.525, 0.8)}  # F, c, Nc
_LOW, _HIGH = 0.26, 150.0  # CIE 248:2022: straight lines outside, so that every colour has an answer


class Appearance(NamedTuple):
    """Correlates of appearance, each of the colours' shape without the last axis.

    J lightness (white 100), C chroma, h hue angle in degrees (0..360), Q brightness, M colourfulness,
    s saturation.
    """

    J: Array
    C: Array
    h: Array
    Q: Array
    M: Array
    s: Array


@dataclass(frozen=True)
class Eye:
    """CIECAM16 for an eye adapted to given viewing conditions.

    `adapting_luminance` (cd/m2) is L_A, about a fifth of white's; `background` is Y_b as a share of white's (0 to 1);
    `white` is the XYZ of the adapted white, Y = 1. CIE 248:2022; Li et al., Color Research and Application 42 (2017),
    703-718. The illuminant is not discounted.
    """

    adapting_luminance: float
    surround: Literal["average", "dim", "dark"] = "average"
    background: float = 0.2
    white: tuple[float, float, float] = D50

    @cached_property
    def luminance_factor(self) -> float:
        """F_L, the share of the light level in the cones' response."""
        k4 = 1 / (5 * self.adapting_luminance + 1) ** 4
        return float(k4 * self.adapting_luminance + 0.1 * (1 - k4) ** 2 * np.cbrt(5 * self.adapting_luminance))

    @cached_property
    def _gain(self) -> Array:
        """Chromatic adaptation of each cone channel."""
        F = _SURROUNDS[self.surround][0]
        D = np.clip(F * (1 - np.exp((-self.adapting_luminance - 42) / 92) / 3.6), 0, 1)
        white = _M16 @ np.asarray(self.white) * 100
        return np.asarray(D * self.white[1] * 100 / white + 1 - D)

    @cached_property
    def _induction(self) -> float:
        """N_bb, the same as N_cb."""
        return float(0.725 * (self.background / self.white[1]) ** -0.2)

    @cached_property
    def _exponent(self) -> float:
        return float(_SURROUNDS[self.surround][1] * (1.48 + np.sqrt(self.background / self.white[1])))

    @cached_property
    def _white_response(self) -> float:
        cones = self._compress(_M16 @ np.asarray(self.white) * 100 * self._gain)
        return float(cones @ [2, 1, 0.05]) * self._induction

    @cached_property
    def _chroma_factor(self) -> float:
        return float((1.64 - 0.29 ** (self.background / self.white[1])) ** 0.73)

    def _curve(self, q: Array) -> Array:
        p = (self.luminance_factor * q / 100) ** 0.42
        return np.asarray(400 * p / (27.13 + p))

    def _slope(self, q: float) -> float:
        p = (self.luminance_factor * q / 100) ** 0.42
        return float(400 * 27.13 * 0.42 * p / q / (27.13 + p) ** 2)

    def _compress(self, cones: Array) -> Array:
        inner = self._curve(np.clip(cones, _LOW, _HIGH))
        below = self._curve(np.array(_LOW)) / _LOW
        return inner + np.minimum(cones - _LOW, 0) * below + np.maximum(cones - _HIGH, 0) * self._slope(_HIGH)

    def see(self, xyz: ArrayLike) -> Appearance:
        """Correlates of appearance of colours: XYZ, (..., 3), Y of a perfect white = 1.

        A colour that gives no positive achromatic response has J = 0.
        """
        cones = self._compress(np.asarray(xyz, np.float64) * 100 @ _M16.T * self._gain)
        R, G, B = np.moveaxis(cones, -1, 0)
        a, b = R - 12 * G / 11 + B / 11, (R + G - 2 * B) / 9
        h = np.degrees(np.arctan2(b, a)) % 360
        A = np.maximum(2 * R + G + 0.05 * B, 0) * self._induction
        root = (A / self._white_response) ** (self._exponent / 2)  # sqrt(J / 100)
        total = R + G + 1.05 * B + 0.305
        t = self._hue_scale(h) * np.hypot(a, b) / np.where(total == 0, 1, total)
        C = np.maximum(t, 0) ** 0.9 * root * self._chroma_factor
        c = _SURROUNDS[self.surround][1]
        F_L = self.luminance_factor**0.25
        Q = 4 / c * root * (self._white_response + 4) * F_L
        M = C * F_L
        s = 100 * np.sqrt(np.divide(M, Q, out=np.zeros_like(M), where=Q > 0))
        return Appearance(100 * root**2, C, h, Q, M, s)

    def _hue_scale(self, h: Array) -> Array:
        eccentricity = (np.cos(np.radians(h) + 2) + 3.8) / 4
        return np.asarray(50_000 / 13 * _SURROUNDS[self.surround][2] * self._induction * eccentricity)
