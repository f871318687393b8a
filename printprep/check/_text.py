"""Text as coverage of pixels: set in the typeface that matplotlib ships, without hinting, the same everywhere."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Align = Literal["left", "centre", "right"]

_UNIT = 100.0
"""Size at which outlines are kept, units per em."""
_SUB = 4
"""Sub-pixels each way."""

Outline = tuple[NDArray[np.float64], ...]


@lru_cache(4096)
def outline(text: str, bold: bool = False) -> tuple[Outline, float]:
    """Contours of a line of text, and its width.

    Parameters
    ----------
    text : str
        One line.
    bold : bool
        Weight.

    Returns
    -------
    contours : tuple of (n, 2) ndarray
        In ems, y up from the baseline; even-odd filling.
    width : float, ems
        From the left of the first to the right of the last mark.
    """
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    # The family that is part of matplotlib itself, so that every machine sets the same letters.
    font = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal")
    path = TextPath((0, 0), text, size=_UNIT, prop=font)
    contours = tuple(np.asarray(p) / _UNIT for p in path.to_polygons(closed_only=True))
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
    for word in text.split():
        if lines and width(f"{lines[-1]} {word}", em, bold) <= room:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def coverage(contours: Outline) -> tuple[NDArray[np.uint8], int, int]:
    """How much of each pixel closed contours cover.

    Parameters
    ----------
    contours : tuple of (n, 2) ndarray
        In pixels, y down; even-odd filling.

    Returns
    -------
    mask : (h, w) ndarray of uint8
        0..255.
    top, left : int
        Pixel of the mask's corner.
    """
    import cv2

    points = np.concatenate(contours)
    left, top = np.floor(points.min(axis=0)).astype(int) - 1
    right, bottom = np.ceil(points.max(axis=0)).astype(int) + 1
    high, wide = int(bottom - top), int(right - left)
    fine = np.zeros((high * _SUB, wide * _SUB), np.uint8)
    # fillPoly counts from pixel centres, in 1/16 of a sub-pixel here
    shifted = [np.rint(((c - [left, top]) * _SUB - 0.5) * 16).astype(np.int32) for c in contours]
    cv2.fillPoly(fine, shifted, 255, lineType=cv2.LINE_8, shift=4)
    mean = fine.reshape(high, _SUB, wide, _SUB).mean(axis=(1, 3))
    return np.rint(mean).astype(np.uint8), int(top), int(left)


def letters(
    text: str, x: float, baseline: float, em: float, align: Align = "left", bold: bool = False,
) -> Outline:
    """Contours of text in its place, y down.

    Parameters
    ----------
    text : str
        One line.
    x, baseline : float
        Where it is anchored, in any unit.
    em : float
        Size, in the same unit.
    align : {"left", "centre", "right"}
        Which part of the text lies at `x`.
    bold : bool
        Weight.
    """
    contours, wide = outline(text, bold)
    start = x - {"left": 0.0, "centre": 0.5, "right": 1.0}[align] * wide * em
    return tuple(np.stack([start + c[:, 0] * em, baseline - c[:, 1] * em], -1) for c in contours)
