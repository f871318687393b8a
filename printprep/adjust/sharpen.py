"""Sharpen for the paper and for the distance that the print is looked at from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Annotated

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from printprep.adjust._lightness import AT_ONCE, UNITS, LightnessStep
from printprep.conditions.conditions import Conditions

_ANGLE = np.radians(0.5 / 60)
"""Half a minute of arc: an eye of acuity 1.0 sees a gap of one minute (ISO 8596)."""

_RADII = (0.08, 0.15)
"""Bounds of the radius in millimetres of paper: less is swallowed by dots of ink, more is a halo."""

_AMOUNT = {"gloss": 0.8, "lustre": 0.9, "matte": 1.2, "canvas": 1.4}
"""What share of the difference to the surroundings is added: matte coatings spread ink and light (typical values,
common practice, no source)."""

_LIGHTER, _DARKER = 3.0, 4.0
"""L* that no pixel is lightened or darkened beyond; a light rim shows sooner than a dark one."""

_NOISE = 2.0
"""Variance of the difference, in squared L*, from which places get half of the amount: those of mere noise get less."""

_SIGMAS, _AROUND = 3.0, 1.5
"""Where the blur is cut off, and how far on each side the variance is taken, in radii."""

_COARSE = 30
"""Units of a difference whose square is averaged; the largest, L* 12.75, then fits 16 bits."""


@dataclass(frozen=True)
class Sharpen(LightnessStep):
    """Give edges the crispness that ink on this paper takes, at a scale that the eye just resolves.

    Parameters
    ----------
    strength : float, 0 to 1.5
        1 is what the paper's surface asks for; 0 does nothing.
    radius_mm : float, millimetres of paper, 0.05 to 0.5, optional
        Radius (standard deviation) of the surroundings. Not given: half a minute of arc at the sheet's distance, kept
        within 0.08 and 0.15 mm, and the step does nothing where no size is known.

    Raises
    ------
    ParameterError
        If a value is not a finite number in its range.

    Notes
    -----
    With the difference ``d`` of a pixel's L* to a Gaussian mean around it, and its mean square ``v`` over a few pixels
    around, ``x = s a |d| v^4 / (v^4 + 2^4)`` is added with the sign of ``d``, eased to at most 3 L* on the light
    side and 4 L* on the dark, ``x / (1 + x / 3)`` and ``x / (1 + x / 4)``; ``a`` is 0.8 (gloss) to 1.4 (canvas).
    Nothing goes beyond paper white or black. Flat noise of 1 L* rises by less than 10 %. The form is ours; no source.

    Only edges get sharper. Raising all detail that the eye sees best, as its contrast sensitivity (Barten 1999) might
    suggest, would be halos of 5 to 13 mm at 1.5 m.

    Examples
    --------
    >>> import printprep as pp
    >>> sheet = pp.Sheet(size="A4", ppi=360, distance_m=0.5)
    >>> pp.Sharpen().reach(pp.Conditions(pp.paper("gloss"), pp.room("office"), sheet))
    6
    """

    strength: Annotated[float, Meta(ge=0, le=1.5)] = 1.0
    radius_mm: Annotated[float, Meta(ge=0.05, le=0.5, description="millimetres of paper")] | None = None

    def _radius(self, on: Conditions) -> float | None:
        if self.radius_mm is not None or on.sheet.distance_m is None:
            return self.radius_mm
        return round(float(np.clip(on.sheet.distance_m * 1000 * _ANGLE, *_RADII)), 4)

    def _sigma(self, on: Conditions) -> float:
        if self.strength < 0.005:
            return 0.0
        radius = self._radius(on)
        return 0.0 if radius is None else radius * on.sheet.pixels_per_mm

    def idle(self, on: Conditions) -> bool:
        """Whether no size is known, or none is asked for."""
        return self._sigma(on) == 0

    def resolved(self, on: Conditions) -> Sharpen:
        """The step with its radius."""
        return replace(self, radius_mm=self._radius(on))

    def flat(self, on: Conditions) -> Sharpen:
        """Single colours have nothing to be sharpened against."""
        return replace(self, strength=0.0)

    def reach(self, on: Conditions) -> int:
        """Pixels looked at on each side."""
        return sum(_sides(self._sigma(on)))

    def lightness(self, light: NDArray[np.uint16], on: Conditions) -> NDArray[np.uint16]:
        """Sharpen; see `LightnessStep`.

        Examples
        --------
        >>> import numpy as np
        >>> import printprep as pp
        >>> sheet = pp.Sheet(size="A4", ppi=360, distance_m=0.5)
        >>> on = pp.Conditions(pp.paper("gloss"), pp.room("office"), sheet)
        >>> edge = np.repeat(np.uint16([[20000, 40000]]), 16, axis=1).repeat(16, axis=0)
        >>> bool(pp.Sharpen().lightness(edge, on).max() > 40000)
        True
        """
        import cv2

        sigma = self._sigma(on)
        blur, around = (2 * side + 1 for side in _sides(sigma))
        # In whole numbers, which OpenCV sums exactly. Mirrored at its ends: right where they are the picture's.
        mean = cv2.GaussianBlur(light, (blur, blur), sigma, borderType=cv2.BORDER_REFLECT)
        mean = np.asarray(mean).reshape(light.shape)
        square = np.asarray(cv2.absdiff(light, mean)).reshape(light.shape)
        square //= np.uint16(_COARSE)
        np.minimum(square, np.uint16(255), out=square)
        square *= square
        variance = cv2.blur(square, (around, around), borderType=cv2.BORDER_REFLECT)
        variance = np.asarray(variance).reshape(light.shape)
        assert on.paper.surface is not None
        share = _shares(round(_AMOUNT[on.paper.surface] * self.strength, 6))
        made, rows = square, max(1, AT_ONCE // light.shape[1])
        for top in range(0, len(light), rows):
            some = slice(top, top + rows)
            before = light[some].astype(np.float32)
            x = before - mean[some]
            x *= share.take(variance[some])
            x /= 1 + np.maximum(x * np.float32(1 / (_LIGHTER * UNITS)), x * np.float32(-1 / (_DARKER * UNITS)))
            np.trunc(x, out=x)
            x += before
            np.maximum(x, np.minimum(before, np.float32(round(on.black * UNITS))), out=x)
            np.minimum(x, np.maximum(before, np.float32(100 * UNITS)), out=x)
            made[some] = x
        return made


def _sides(sigma: float) -> tuple[int, int]:
    """Pixels on each side that the blur and the variance take."""
    return int(np.ceil(_SIGMAS * sigma)), int(np.ceil(_AROUND * sigma))


@lru_cache(maxsize=8)
def _shares(amount: float) -> NDArray[np.float32]:
    """What share of a difference is added at each mean square of differences, counted in `_COARSE` units."""
    variance = np.arange(65536) * (_COARSE / UNITS) ** 2
    return np.asarray(amount * variance**4 / (variance**4 + _NOISE**4), np.float32)
