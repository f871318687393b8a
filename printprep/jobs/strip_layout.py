"""Which parts of a picture a test strip shows, where the choice between its values matters most, and where they go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from printprep.colour.difference import ciede2000
from printprep.colour.icc import lab_from_device
from printprep.conditions import lengths
from printprep.errors import PrintprepError
from printprep.photo.photo import Photo
from printprep.pipe import Pipeline

Window = tuple[float, float, float, float]
"""Left, top, width and height, pixels of the edit."""

_NOTHING = 0.05
"""CIEDE2000 on average under which values differ nowhere on a small picture: fine detail counts instead."""

LEAST_MM, MOST_MM = 60.0, 120.0
"""Sides of a crop: under the first an eye does not settle on it, over the second nothing is gained (our choice)."""

MARGINS_MM = (12.0, 15.0)
"""White at the sides, and at the ends, where many printers cannot print (common practice, no source)."""

HEADER_MM, LABEL_MM = 36.0, 5.0
"""Of the text with the small whole picture, and under each crop."""

_ACROSS_MM, _DOWN_MM = 3.0, 4.0
"""White between crops."""


@dataclass(frozen=True)
class Grid:
    """Crops in their places on a sheet as it lies, in millimetres.

    `cell` is width and height of a crop, `places` left and top of each by its place, such as ``B3``: a letter for the
    part or second parameter, a number for the value.
    """

    width: float
    height: float
    cell: tuple[float, float]
    places: dict[str, tuple[float, float]]


def arranged(
    sheet: str, letters: int, numbers: int, cell: tuple[float, float] | None, most: tuple[float, float]
) -> Grid:
    """Lay crops out, as large as they go; an error names the smallest usual sheet on which they fit.

    `cell` is how large a crop must be; squares as large as the sheet allows, 60 to 120 mm, if not given. `most` is the
    picture's own size, which no crop exceeds. All in millimetres.
    """
    if found := _best(lengths.size(sheet), letters, numbers, cell, most):
        return found
    wide, high = cell or (LEAST_MM, LEAST_MM)
    need = f"{letters * numbers} crops of {min(wide, most[0]):.0f} x {min(high, most[1]):.0f} mm do not fit on {sheet}"
    larger = sorted(lengths.SIZES, key=lambda name: lengths.SIZES[name])
    fits = next((name for name in larger if _best(lengths.SIZES[name], letters, numbers, cell, most)), None)
    do = "take fewer values, fewer parts or a smaller crop" + (", or {way}" if fits else "")
    raise PrintprepError(need, where="strip", do=do, way=f"sheet={fits}" if fits else "")


def _best(
    size: tuple[float, float], letters: int, numbers: int, cell: tuple[float, float] | None, most: tuple[float, float]
) -> Grid | None:
    """The arrangement with the largest crops, each letter on lines of its own; upright where that costs nothing."""
    best: tuple[float, Grid] | None = None
    for width, height in sorted({(min(size), max(size)), (max(size), min(size))}):
        for columns in range(numbers, 0, -1):
            lines = letters * -(-numbers // columns)
            room = width - 2 * MARGINS_MM[0], height - 2 * MARGINS_MM[1] - HEADER_MM
            wide = (room[0] - (columns - 1) * _ACROSS_MM) / columns
            high = (room[1] - (lines - 1) * _DOWN_MM) / lines - LABEL_MM
            side = min(wide, high, MOST_MM)
            wanted = cell or (min(side, most[0]), min(side, most[1]))
            least = cell or (min(LEAST_MM, most[0]), min(LEAST_MM, most[1]))
            if wanted[0] > wide + 1e-6 or wanted[1] > high + 1e-6 or wanted[0] < least[0] or wanted[1] < least[1]:
                continue
            if best is None or wanted[0] * wanted[1] > best[0] * 1.02:
                best = wanted[0] * wanted[1], _placed(width, height, wanted, columns, letters, numbers, room)
    return best[1] if best else None


def _placed(
    width: float, height: float, cell: tuple[float, float], columns: int, letters: int, numbers: int,
    room: tuple[float, float],
) -> Grid:  # fmt: skip
    """Crops from the upper left on, spread over the sheet's width."""
    lines = letters * -(-numbers // columns)
    across = (room[0] - columns * cell[0]) / max(columns - 1, 1)
    down = min((room[1] - lines * (cell[1] + LABEL_MM)) / max(lines - 1, 1), 8.0)
    places = {}
    for letter, number in product(range(letters), range(numbers)):
        line = letter * -(-numbers // columns) + number // columns
        x = MARGINS_MM[0] + (number % columns) * (cell[0] + across)
        y = MARGINS_MM[1] + HEADER_MM + line * (cell[1] + LABEL_MM + down)
        places[f"{chr(65 + letter)}{number + 1}"] = x, y
    return Grid(width, height, cell, places)


def hardest(
    photo: Photo, pipes: Sequence[tuple[Pipeline, Pipeline]], within: Window, size: tuple[float, float], count: int
) -> list[Window]:
    """So many windows where pictures that `pipes` prepare differ most, by CIEDE2000 on the picture read small.

    The most first; the mean of pairs; no two overlap where that can be helped. `within` is the part of the edit that is
    printed, `size` width and height of a window in pixels of the edit.
    """
    codes = photo.small
    scale = codes.shape[1] / photo.width, codes.shape[0] / photo.height
    apart = np.mean([_apart(photo, codes, *pair) for pair in pipes], axis=0)
    if apart.mean() < _NOTHING:
        apart = _detail(photo, codes)
    left, top = (int(np.floor(within[k] * scale[k])) for k in (0, 1))
    right, bottom = (int(np.ceil((within[k] + within[k + 2]) * scale[k])) for k in (0, 1))
    apart = apart[top : max(bottom, top + 1), left : max(right, left + 1)].copy()
    wide, high = (max(1, min(round(size[k] * scale[k]), apart.shape[1 - k])) for k in (0, 1))
    found = []
    for _ in range(count):
        total = np.pad(apart.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
        sums = total[high:, wide:] - total[:-high, wide:] - total[high:, :-wide] + total[:-high, :-wide]
        y, x = np.unravel_index(int(sums.argmax()), sums.shape)
        apart[y : y + high, x : x + wide] = 0
        at = (left + int(x)) / scale[0], (top + int(y)) / scale[1]
        found.append(inside((at[0], at[1], size[0], size[1]), within))
    return found


def inside(window: Window, within: Window) -> Window:
    """A window moved so that it lies within another, which is at least as large."""
    x, y, width, height = window
    x = min(max(x, within[0]), max(within[0] + within[2] - width, within[0]))
    y = min(max(y, within[1]), max(within[1] + within[3] - height, within[1]))
    return x, y, width, height


def _apart(photo: Photo, codes: NDArray[np.float32], one: Pipeline, other: Pipeline) -> NDArray[np.float64]:
    labs = []
    for pipe in (one, other):
        profile = pipe.paper.profile if pipe.hand_over == "paper" else photo.profile.data
        assert profile is not None
        labs.append(lab_from_device(pipe.apply(codes, photo.profile), profile))
    return np.asarray(ciede2000(*labs), np.float64)


def _detail(photo: Photo, codes: NDArray[np.float32]) -> NDArray[np.float64]:
    """How much lightness changes from pixel to pixel."""
    L = lab_from_device(codes, photo.profile.data)[..., 0]
    down, across = np.gradient(L) if min(L.shape) > 1 else (np.zeros_like(L), np.zeros_like(L))
    return np.asarray(np.hypot(down, across), np.float64)
