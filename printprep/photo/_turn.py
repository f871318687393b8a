"""Pictures that are stored turned or mirrored, set upright as they are read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from printprep.files import limits
from printprep.photo._keep import Keeper
from printprep.photo.bands import band_rows
from printprep.photo.pixels import Pixels, Through


class Rectangles(Pixels, Protocol):
    """Pixels of which rectangles can be read too."""

    def block(self, top: int, left: int, out: NDArray[np.uint16]) -> None:
        """Fill `out`, (rows, columns, 3), with the rectangle that starts at (top, left)."""


def turned(pixels: Rectangles, orientation: int) -> Pixels:
    """Pixels set upright from a TIFF orientation 1..8; anything else counts as 1."""
    if orientation in (2, 3, 4):
        return Mirrored(pixels, down=orientation != 2, across=orientation != 4)
    if orientation in (5, 6, 7, 8):
        return Transposed(pixels, down=orientation in (7, 8), across=orientation in (6, 7))
    return pixels


@dataclass(frozen=True)
class Mirrored(Through):
    """Rows, columns or both in reverse."""

    down: bool
    across: bool

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        band = np.empty_like(out)
        self.inner.read(self.height - top - len(out) if self.down else top, band)
        out[:] = band[:: -1 if self.down else 1, :: -1 if self.across else 1]


class Transposed:
    """Rows become columns; the new rows or columns, or both, in reverse.

    Reading one new row takes a column of the file. So panels of columns are read, as many at once as
    stay small, each for several bands; the file is read once from end to end, whatever its size.
    """

    def __init__(self, inner: Rectangles, *, down: bool, across: bool) -> None:
        self._inner, self._down, self._across = inner, down, across
        self.height, self.width = inner.width, inner.height
        self._rows = max(1, limits.PANEL_BYTES // (6 * self.width))
        self._keeper = Keeper(3 * limits.PANEL_BYTES)

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        row = top
        while row < top + len(out):
            number = row // self._rows
            panel = self._keeper.get(number, lambda number=number: self._panel(number))  # type: ignore[misc]
            first = row - number * self._rows
            part = panel[first : first + top + len(out) - row]
            out[row - top : row - top + len(part)] = part
            row += len(part)

    def _panel(self, number: int) -> NDArray[np.uint16]:
        """Upright rows of one panel."""
        import cv2

        top = number * self._rows
        rows = min(self._rows, self.height - top)
        left = self.height - top - rows if self._down else top
        panel, high = np.empty((rows, self.width, 3), np.uint16), band_rows(rows)
        for first in range(0, self.width, high):  # in parts, that no second panel is needed
            end = min(self.width, first + high)
            block = np.empty((end - first, rows, 3), np.uint16)
            self._inner.block(first, left, block)
            place = slice(self.width - end, self.width - first) if self._across else slice(first, end)
            turned = cv2.transpose(block)  # by blocks, five times as fast as NumPy
            if self._down or self._across:
                cv2.flip(turned, -1 if self._down and self._across else 0 if self._down else 1, dst=turned)
            panel[:, place] = np.asarray(turned).reshape(rows, end - first, 3)
        return panel
