"""Text as coverage of pixels: set in the typeface that matplotlib ships, without hinting, the same everywhere."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Align = Literal["left", "centre", "right"]

_UNIT = 100.0
"""Size at which matplotlib gives outlines, units per em."""
_SUB = 8
"""Rows in which coverage is taken within a pixel; across, it is exact."""

_SPACE = 0.48
"""From the last mark of a word to the first of the next, ems: a space and both bearings, on the safe side."""

Outline = tuple[NDArray[np.float64], ...]
"""Closed contours, (n, 2) each, that are filled by the even-odd rule."""


@lru_cache(4096)
def outline(text: str, bold: bool = False) -> tuple[Outline, float]:
    """Contours of a line of text, y up from the baseline, and its width from the first to the last mark; in ems."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.path import Path
    from matplotlib.textpath import text_to_path

    # The family that is part of matplotlib itself, so that every machine sets the same letters.
    font = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal")
    points, codes = text_to_path.get_text_path(font, text, ismath=False)  # dollar signs are letters too
    contours = tuple(np.asarray(p) / _UNIT for p in Path(points, codes).to_polygons(closed_only=True))
    if not contours:
        return (), 0.0
    left = min(float(c[:, 0].min()) for c in contours)
    right = max(float(c[:, 0].max()) for c in contours)
    return tuple(c - np.array([left, 0.0]) for c in contours), right - left


def width(text: str, em: float, bold: bool = False) -> float:
    """Width of a line of text, in the unit of `em`."""
    return outline(text, bold)[1] * em


def wrapped(text: str, em: float, room: float, bold: bool = False) -> list[str]:
    """Lines of words that each fit into `room`; one word that does not stays whole."""
    lines: list[str] = []
    used = 0.0
    for word in text.split():
        wide = width(word, em, bold)
        if lines and used + _SPACE * em + wide <= room:
            lines[-1] += f" {word}"
            used += _SPACE * em + wide
        else:
            lines.append(word)
            used = wide
    return lines


def coverage(contours: Outline) -> tuple[NDArray[np.uint8], int, int]:
    """How much of each pixel contours (in pixels, y down) cover, 0..255; and top and left of that mask's corner."""
    points = np.concatenate(contours)
    left, top = np.floor(points.min(axis=0)).astype(int)
    right, bottom = np.ceil(points.max(axis=0)).astype(int) + 1
    high, wide = int(bottom - top), int(right - left)
    first = points - [left, top]
    last = np.concatenate([np.roll(c, -1, axis=0) for c in contours]) - [left, top]
    # where each side crosses the middle of each sub-row it spans
    y0, y1 = first[:, 1] * _SUB - 0.5, last[:, 1] * _SUB - 0.5
    begin, end = np.ceil(np.minimum(y0, y1)).astype(int), np.ceil(np.maximum(y0, y1)).astype(int)
    side = np.repeat(np.arange(len(first)), end - begin)
    row = np.arange(len(side)) - np.repeat(np.cumsum(end - begin) - end, end - begin)
    x = first[side, 0] + (row - y0[side]) / (y1 - y0)[side] * (last[side, 0] - first[side, 0])
    order = np.lexsort((x, row))
    row, x = row[order], np.maximum(x[order], 0)
    # even-odd: in and out alternate, so each crossing adds or takes all that lies to its left
    sign = np.where((np.arange(len(row)) - np.searchsorted(row, row)) % 2 == 0, -1.0, 1.0)
    cell = np.floor(x).astype(int)
    part, whole = np.zeros((high * _SUB, wide)), np.zeros((high * _SUB, wide + 1))
    np.add.at(part, (row, cell), sign * (x - cell))
    np.add.at(whole, (row, cell), sign)
    covered = part + np.cumsum(whole[:, ::-1], axis=1)[:, ::-1][:, 1:]
    mean = covered.reshape(high, _SUB, wide).mean(axis=1)
    return np.rint(np.clip(mean, 0, 1) * 255).astype(np.uint8), int(top), int(left)


def letters(text: str, x: float, baseline: float, em: float, align: Align = "left", bold: bool = False) -> Outline:
    """Contours of a line of text in its place, y down, in the unit of `x`, `baseline` and `em`.

    `align` says which part of the text lies at `x`.
    """
    contours, wide = outline(text, bold)
    start = x - {"left": 0.0, "centre": 0.5, "right": 1.0}[align] * wide * em
    return tuple(np.stack([start + c[:, 0] * em, baseline - c[:, 1] * em], -1) for c in contours)
