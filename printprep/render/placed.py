"""A picture on its sheet: white around it, or canvas that goes on over the bars, a keyline, a caption."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from printprep.conditions.layout import Layout
from printprep.photo.pixels import Pixels

BARE = 65535
"""Code of bare paper, in every RGB space."""

_GREY = 0x7000
"""Code of lines and letters: seen, and no more black than the picture's own."""

_KEYLINE_MM = 0.25
_LETTERS_MM, _GAP_MM = 2.8, 4.0
"""Height of an em of the caption, and how far below the picture it stands."""


class SheetPixels:
    """A picture's pixels, already as large as it is printed, on the sheet."""

    def __init__(self, inner: Pixels, layout: Layout) -> None:
        self.inner, self.layout = inner, layout
        self.height, self.width = layout.height, layout.width
        self.row_step = int(getattr(inner, "row_step", 1))

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        left, first, width, height = self.layout.picture
        wrap = self.layout.wrap
        out[:] = BARE
        for begin, end, mirrored in ((-wrap, 0, True), (0, height, False), (height, height + wrap, True)):
            low, high = max(begin, top - first), min(end, top + len(out) - first)
            if low < high:
                rows = out[low + first - top : high + first - top]
                self._picture(rows[:, left - wrap : left + width + wrap], low, high, mirrored=mirrored)
        for row, column, cover in self._marks:
            low, high = max(row, top), min(row + len(cover), top + len(out))
            if low < high:
                part = out[low - top : high - top, column : column + cover.shape[1]]
                ink = cover[low - row : high - row, :, None].astype(np.float32) / 255
                part[:] = np.rint(part + ink * (np.float32(_GREY) - part))

    def _picture(self, out: NDArray[np.uint16], low: int, high: int, *, mirrored: bool) -> None:
        """Rows of the picture, those beyond its ends mirrored, with what goes on at both sides."""
        height, width, wrap = self.inner.height, self.inner.width, self.layout.wrap
        if mirrored:
            low, high = (-high, -low) if low < 0 else (2 * height - high, 2 * height - low)
        rows = out[:, wrap : wrap + width]  # not contiguous: resized and sharpened pixels are as well written there
        self.inner.read(low, rows)
        if mirrored:
            rows[:] = rows[::-1].copy()
        if wrap:
            out[:, :wrap] = rows[:, :wrap][:, ::-1]
            out[:, wrap + width :] = rows[:, width - wrap :][:, ::-1]

    @cached_property
    def _marks(self) -> list[tuple[int, int, NDArray[np.uint8]]]:
        """Keyline and caption: row, column and how much of each pixel they cover."""
        found = []
        left, top, width, height = self.layout.picture
        per_mm = self.layout.ppi / 25.4
        if self.layout.sheet.keyline:
            thick = max(1, round(_KEYLINE_MM * per_mm))
            across, down = np.full((thick, width + 2 * thick), 255, np.uint8), np.full((height, thick), 255, np.uint8)
            found += [(top - thick, left - thick, across), (top + height, left - thick, across)]
            found += [(top, left - thick, down), (top, left + width, down)]
        if self.layout.sheet.caption:
            from printprep.files.names import printable
            from printprep.render.text import coverage, letters

            em = _LETTERS_MM * per_mm
            text = printable(self.layout.sheet.caption)
            outline = letters(text, left, top + height + _GAP_MM * per_mm + em, em)
            if outline:
                cover, row, column = coverage(outline)
                found.append((row, column, cover))
        return [_cut(*mark, self.height, self.width) for mark in found]


def _cut(
    row: int, column: int, cover: NDArray[np.uint8], height: int, width: int
) -> tuple[int, int, NDArray[np.uint8]]:
    """What of a mark lies on the sheet."""
    up, aside = max(0, -row), max(0, -column)
    return row + up, column + aside, cover[up : max(height - row, 0), aside : max(width - column, 0)]
