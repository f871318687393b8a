"""Sharpen for the paper and for the distance that the print is looked at from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Annotated

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from printprep.adjust._lightness import UNITS, LightnessStep
from printprep.conditions.conditions import Conditions

_ANGLE = np.radians(0.5 / 60)
"""Half a minute of arc: an eye of acuity 1.0 sees a gap of one minute (ISO 8596)."""

_RADII = (0.08, 0.15)
"""Bounds of the radius in millimetres of paper: less is swallowed by dots of ink, more is a halo."""

_AMOUNT = {"gloss": 0.7, "lustre": 0.8, "matte": 1.1, "canvas": 1.3}
"""What share of the difference to the surroundings is added: matte coatings spread ink and light (typical values,
common practice, no source)."""

_LIGHTER, _DARKER = 3.0, 4.0
"""L* that no pixel is lightened or darkened beyond; a light rim shows sooner than a dark one."""

_NOISE = 3.5
"""Difference to the surroundings, in L*, of which half is taken; smaller ones, as of noise, are left alone."""

_SIGMAS = 3.0
"""Where the blur is cut off."""


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
    With the difference ``d`` of a pixel's L* to a Gaussian mean around it, ``x = s a |d|^5 / (|d|^4 + 3.5^4)`` is
    added with the sign of ``d``, eased to at most 3 L* on the light side and 4 L* on the dark, ``x / (1 + x / 3)``
    and ``x / (1 + x / 4)``; ``a`` is 0.7 (gloss) to 1.3 (canvas). Nothing goes beyond paper white or black. Flat noise
    of 1 L* rises by less than 10 %. The form is ours; no source.

    Only edges get sharper. Raising all detail that the eye sees best, as its contrast sensitivity (Barten 1999) might
    suggest, would be halos of 5 to 13 mm at 1.5 m.
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
        return int(np.ceil(_SIGMAS * self._sigma(on)))

    def lightness(self, light: NDArray[np.uint16], on: Conditions) -> NDArray[np.uint16]:
        """Sharpen; see `LightnessStep`."""
        import cv2

        side = 2 * self.reach(on) + 1
        # In whole numbers, which OpenCV sums exactly. Mirrored at its ends: right where they are the picture's.
        blurred = cv2.GaussianBlur(light, (side, side), self._sigma(on), borderType=cv2.BORDER_REFLECT)
        assert on.paper.surface is not None
        change = _changes(round(_AMOUNT[on.paper.surface] * self.strength, 6))
        difference = light.astype(np.int32)
        difference -= np.asarray(blurred).reshape(light.shape)
        difference += len(change) // 2
        made = change.take(difference, mode="clip") + light
        black, white = round(on.black * UNITS), 100 * UNITS
        made = np.clip(made, np.minimum(light, black), np.maximum(light, white))
        return np.asarray(made, np.uint16)


@lru_cache(maxsize=8)
def _changes(amount: float) -> NDArray[np.int32]:
    """What is added to lightness for each difference to the surroundings, from the most negative on; in `UNITS`."""
    d = np.arange(-100 * UNITS, 100 * UNITS + 1) / UNITS
    size = np.abs(d)
    x = amount * size**5 / (size**4 + _NOISE**4)
    change = np.where(d > 0, x / (1 + x / _LIGHTER), -x / (1 + x / _DARKER))
    return np.asarray(np.trunc(change * UNITS), np.int32)
