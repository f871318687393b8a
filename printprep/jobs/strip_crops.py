"""Which parts of a picture a test strip shows: where the choice between its values matters most."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from printprep.colour.difference import ciede2000
from printprep.colour.icc import lab_from_device
from printprep.photo.photo import Photo
from printprep.pipe import Pipeline

Window = tuple[float, float, float, float]
"""Left, top, width and height, pixels of the edit."""

_NOTHING = 0.05
"""CIEDE2000 on average under which values differ nowhere on a small picture: fine detail counts instead."""


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
