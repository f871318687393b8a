"""Pixels that are computed as they are read: by a table, or by steps that look around."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import BLOCK
from printprep.photo.photo import Pixels
from printprep.render.chain import Chain
from printprep.render.engine import Engine


@dataclass(frozen=True)
class Through:
    """Another picture's pixels, of the same size, with something done to them as they are read."""

    inner: Pixels

    @property
    def height(self) -> int:
        """Rows."""
        return self.inner.height

    @property
    def width(self) -> int:
        """Columns."""
        return self.inner.width

    @property
    def row_step(self) -> int:
        """Rows that bands should be multiples of."""
        return int(getattr(self.inner, "row_step", 1))


@dataclass(frozen=True)
class TablePixels(Through):
    """Another picture's pixels, through a table."""

    engine: Engine

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        self.inner.read(top, out)
        self.engine.apply(out)


@dataclass(frozen=True)
class BandPixels(Through):
    """Another picture's pixels, through a chain whose steps look around: exact, in floating point, slower.

    Every band is read with as many extra rows as the steps reach, so that the result does not
    depend on where bands are cut.
    """

    chain: Chain
    reach: int

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        first = max(0, top - self.reach) // BLOCK * BLOCK
        last = min(self.height, top + len(out) + self.reach)
        band = np.empty((last - first, self.width, 3), np.uint16)
        self.inner.read(first, band)
        done = self.chain(band.astype(np.float32) / np.float32(65535))
        out[:] = np.rint(done[top - first : top - first + len(out)] * 65535)
