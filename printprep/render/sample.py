"""A small sample of a picture, taken as its rows go by, so that figures need no second reading."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from printprep.photo.grey import grey_profile_of
from printprep.photo.pixels import Pixels, Through
from printprep.render.resample import Area

_SIDE = 160
"""Rows and columns sampled at most: 25,600 pixels hold a share of 1 % to within 0.06 % (binomial)."""


class SamplePixels(Through):
    """Another picture's pixels; every k-th row and column is remembered as it is read: `rows`, and their `codes`."""

    def __init__(self, inner: Pixels) -> None:
        super().__init__(inner)
        self.grey = grey_profile_of(inner)
        self.rows = np.linspace(0, inner.height - 1, min(_SIDE, inner.height)).round().astype(int)
        self._columns = np.linspace(0, inner.width - 1, min(_SIDE, inner.width)).round().astype(int)
        self.codes: NDArray[np.uint16] = np.zeros((len(self.rows), len(self._columns), 3), np.uint16)

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        self.inner.read(top, out)
        first, last = np.searchsorted(self.rows, (top, top + len(out)))
        for k in range(first, last):
            self.codes[k] = out[self.rows[k] - top, self._columns]

    def look(self, area: Area) -> None:
        """Read now what is to be remembered of an area."""
        row = np.empty((1, self.width, 3), np.uint16)
        for at in self.rows[_within(self.rows, area[1], area[3])]:
            self.read(int(at), row)

    def of(self, other: SamplePixels, area: Area) -> NDArray[np.uint16]:
        """What another, as large, remembers of an area."""
        left, top, width, height = area
        return other.codes[_within(self.rows, top, height)][:, _within(self._columns, left, width)]


def _within(at: NDArray[np.int_], first: float, count: float) -> NDArray[np.bool_]:
    """Which of these pixels lie wholly in an area that may begin and end within pixels."""
    return np.asarray((at >= first) & (at + 1 <= first + count))
