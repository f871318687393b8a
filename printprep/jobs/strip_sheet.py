"""A test strip's sheet as rows of pixels: crops in their places, a small whole picture, and what is said of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.photo.pixels import Pixels
from printprep.render.text import Align, coverage, letters

WHITE = 65535
"""Code of bare paper, in every RGB space."""

_INK = 0x3000
"""Code of letters and lines: read easily, and no more black than the picture's own."""


@dataclass(frozen=True)
class Crop:
    """A part of another picture, where it lies on the sheet; all in pixels.

    Parameters
    ----------
    left, top : int
        On the sheet.
    width, height : int
        Of the part.
    inner : Pixels
        The picture.
    x, y : int
        Where in the picture the part begins.
    """

    left: int
    top: int
    width: int
    height: int
    inner: Pixels
    x: int = 0
    y: int = 0


class StripPixels:
    """The sheet.

    Parameters
    ----------
    width, height : int, pixels
        Of the sheet.
    crops : list of Crop
        None on another.
    """

    def __init__(self, width: int, height: int, crops: list[Crop]) -> None:
        self.width, self.height, self.crops = width, height, crops
        self.row_step = 1
        self._marks: list[tuple[int, int, NDArray[np.uint8], int]] = []

    def words(
        self, x: float, baseline: float, text: str, em: float, align: Align = "left", *, bold: bool = False
    ) -> None:
        """Add a line of text; all in pixels."""
        if outline := letters(text, x, baseline, em, align, bold):
            cover, row, column = coverage(outline)
            self._mark(row, column, cover, _INK)

    def box(self, left: float, top: float, width: float, height: float, code: int = _INK) -> None:
        """Add a filled rectangle, at least a pixel wide and high."""
        x, y = round(left), round(top)
        cover = np.full((max(1, round(top + height) - y), max(1, round(left + width) - x)), 255, np.uint8)
        self._mark(y, x, cover, code)

    def frame(self, left: float, top: float, width: float, height: float, thick: float, code: int) -> None:
        """Add the four sides of a rectangle, inside it."""
        for x, y, w, h in (
            (left, top, width, thick), (left, top + height - thick, width, thick),
            (left, top, thick, height), (left + width - thick, top, thick, height),
        ):  # fmt: skip
            self.box(x, y, w, h, code)

    def _mark(self, row: int, column: int, cover: NDArray[np.uint8], code: int) -> None:
        up, aside = max(0, -row), max(0, -column)
        cover = cover[up : max(self.height - row, 0), aside : max(self.width - column, 0)]
        if cover.size:
            self._marks.append((row + up, column + aside, cover, code))

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        out[:] = WHITE
        bottom = top + len(out)
        for crop in self.crops:
            low, high = max(crop.top, top), min(crop.top + crop.height, bottom)
            if low < high:
                rows = np.empty((high - low, crop.inner.width, 3), np.uint16)
                crop.inner.read(crop.y + low - crop.top, rows)
                out[low - top : high - top, crop.left : crop.left + crop.width] = rows[:, crop.x : crop.x + crop.width]
        for row, column, cover, code in self._marks:
            low, high = max(row, top), min(row + len(cover), bottom)
            if low < high:
                part = out[low - top : high - top, column : column + cover.shape[1]]
                ink = cover[low - row : high - row, :, None].astype(np.float32) / 255
                part[:] = np.rint(part + ink * (np.float32(code) - part))
