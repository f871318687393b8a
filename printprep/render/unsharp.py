"""Sharpen a picture as its rows are read: an unsharp mask, the same pixels wherever bands are cut."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from printprep.render.pixels import Through

_SIGMAS = 3.5
"""Where the blur is cut off: what is left out weighs less than 0.05 %."""


@dataclass(frozen=True)
class UnsharpPixels(Through):
    """Another picture's pixels, with what a blur takes away added once more.

    All three channels get what their grey (luma by the weights of ITU-R BT.601) would get: edges gain no colour.

    Parameters
    ----------
    inner : Pixels
        The picture.
    sigma : float, pixels, more than 0
        Radius of the blur.
    amount : float
        How much of the difference is added: 1 is 100 %.
    threshold : float, share of full scale
        Differences lose this much first, so that noise below it is left alone.
    """

    sigma: float
    amount: float
    threshold: float = 0.0

    @property
    def reach(self) -> int:
        """Pixels looked at on each side."""
        return int(np.ceil(_SIGMAS * self.sigma))

    @cached_property
    def _kernel(self) -> NDArray[np.float32]:
        x = np.arange(-self.reach, self.reach + 1)
        weights = np.exp(-0.5 * np.square(x / self.sigma))
        return np.asarray(weights / weights.sum(), np.float32)

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        import cv2

        first, last = max(0, top - self.reach), min(self.height, top + len(out) + self.reach)
        band = np.empty((last - first, self.width, 3), np.uint16)
        self.inner.read(first, band)
        grey = cv2.cvtColor(band, cv2.COLOR_RGB2GRAY).astype(np.float32)
        # Mirrored at its ends: right where they are the picture's, and what is wrong elsewhere is cut off.
        blurred = cv2.sepFilter2D(grey, -1, self._kernel, self._kernel, borderType=cv2.BORDER_REFLECT)
        inside = slice(top - first, top - first + len(out))
        grey, blurred, codes = grey[inside], blurred[inside], band[inside]
        least = -self.amount * self.threshold * 65535
        brighter, darker = (
            cv2.cvtColor(cv2.addWeighted(grey, a, blurred, -a, least, dtype=cv2.CV_16U), cv2.COLOR_GRAY2RGB)
            for a in (self.amount, -self.amount)
        )
        cv2.add(codes, brighter, dst=out)
        cv2.subtract(out, darker, dst=out)
