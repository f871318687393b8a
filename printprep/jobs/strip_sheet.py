"""A test strip's sheet as rows of pixels: crops in their places, a small whole picture, and what is said of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.colour.profile import Profile
from printprep.photo.pixels import Pixels
from printprep.render.placed import BARE
from printprep.render.text import Align, coverage, letters

_INK = 0x3000
"""Code of letters and lines: read easily, and no more black than the picture's own."""


@dataclass(frozen=True)
class Crop:
    """A part of another picture, which begins at x, y there and at left, top on the sheet; all in pixels."""

    left: int
    top: int
    width: int
    height: int
    inner: Pixels
    x: int = 0
    y: int = 0

    def rows(self, top: int, bottom: int) -> NDArray[np.uint16]:
        """Rows of the part, counted from its own first."""
        rows = np.empty((bottom - top, self.inner.width, 3), np.uint16)
        self.inner.read(self.y + top, rows)
        return rows[:, self.x : self.x + self.width]


class StripPixels:
    """The sheet: crops of which none lies on another; `grey` is what all of it can be written grey in."""

    def __init__(self, width: int, height: int, crops: list[Crop], grey: Profile | None = None) -> None:
        self.width, self.height, self.crops, self.grey = width, height, crops, grey
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

    def framed(self, left: float, top: float, width: float, height: float, per_mm: float, letter: str) -> None:
        """Say where a part is on the small picture: a light line between dark ones, and a letter."""
        thin = 0.18 * per_mm
        for inset, thick, code in ((0.0, 3 * thin, 0x2000), (thin, thin, BARE)):
            x, y, w, h = left + inset, top + inset, width - 2 * inset, height - 2 * inset
            for u, v in ((x, y), (x, y + h - thick)):
                self.box(u, v, w, thick, code)
            for u, v in ((x, y), (x + w - thick, y)):
                self.box(u, v, thick, h, code)
        if letter:
            side_mm = 3.4 * per_mm
            self.box(left, top, side_mm, side_mm, BARE)
            self.words(left + side_mm / 2, top + 0.8 * side_mm, letter, 2.8 * per_mm, "centre", bold=True)

    def rule(self, left: float, base: float, per_mm: float) -> None:
        """50 mm, to find a dialogue that scaled."""
        thin = 0.18 * per_mm
        self.box(left, base, 50 * per_mm, thin)
        for mm in range(0, 51, 5):
            tall = (1.8 if mm % 10 == 0 else 1.0) * per_mm
            self.box(left + mm * per_mm - (thin if mm == 50 else thin / 2 if mm else 0), base - tall, thin, tall)
        text = "50 mm: measure it, to see whether the size was kept"
        self.words(left + 52 * per_mm, base + 0.2 * per_mm, text, 1.9 * per_mm)

    def _mark(self, row: int, column: int, cover: NDArray[np.uint8], code: int) -> None:
        up, aside = max(0, -row), max(0, -column)
        cover = cover[up : max(self.height - row, 0), aside : max(self.width - column, 0)]
        if cover.size:
            self._marks.append((row + up, column + aside, cover, code))

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        out[:] = BARE
        bottom = top + len(out)
        for crop in self.crops:
            low, high = max(crop.top, top), min(crop.top + crop.height, bottom)
            if low < high:
                rows = crop.rows(low - crop.top, high - crop.top)
                out[low - top : high - top, crop.left : crop.left + crop.width] = rows
        for row, column, cover, code in self._marks:
            low, high = max(row, top), min(row + len(cover), bottom)
            if low < high:
                part = out[low - top : high - top, column : column + cover.shape[1]]
                ink = cover[low - row : high - row, :, None].astype(np.float32) / 255
                part[:] = np.rint(part + ink * (np.float32(code) - part))
