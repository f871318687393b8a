"""Pixels: rows of 16-bit RGB, read or computed when asked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray


@runtime_checkable
class Pixels(Protocol):
    """Rows of 16-bit RGB, read or computed when asked for; several threads may ask at once.

    Pixels that depend on rows around them may have an attribute ``row_step``: bands of whole multiples of so many
    rows, counted from the first, cost the least; and those of a grey picture an attribute ``grey``, the profile that
    they can be written in.
    """

    @property
    def height(self) -> int:
        """Rows."""

    @property
    def width(self) -> int:
        """Columns."""

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out`, contiguous (rows, width, 3), with the rows from `top` on, as many as it has."""


@dataclass(frozen=True)
class ArrayPixels:
    """Pixels in memory."""

    array: NDArray[np.uint16]

    @property
    def height(self) -> int:
        """Rows."""
        return len(self.array)

    @property
    def width(self) -> int:
        """Columns."""
        return int(self.array.shape[1])

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Copy rows into `out`."""
        out[:] = self.array[top : top + len(out)]


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
