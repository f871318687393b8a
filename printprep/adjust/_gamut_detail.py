"""The spatial part of gamut-fit: where a whole neighbourhood must move, it moves together and keeps its texture."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import BLOCK
from printprep.adjust._gamut_plane import Plane
from printprep.colour.solid import HUES

Array = NDArray[np.float32]

LIGHT = 1.4
"""How much of the neighbourhood's change of lightness is made beforehand: more than all of it keeps the most texture."""

_FROM = np.float32(0.75)
"""Share of the neighbourhood's chroma at which a pixel begins to move with it; paler pixels stay."""


def asked_of(base: Array, here: Plane, lightness: float) -> Array:
    """What fitting asks of a neighbourhood.

    Parameters
    ----------
    base : (n, 3) ndarray
        Mean colours of neighbourhoods, Oklab times 100.
    here : Plane
        The gamut.
    lightness : float
        The parameter of that name.

    Returns
    -------
    (n, 3) ndarray
        Change of lightness, change of chroma (0 or less), and the chroma at which a pixel moves
        along in full. Changes are 0 where the base lies inside the gamut.
    """
    L = np.clip(base[:, 0], np.float32(here.low), np.float32(here.high))
    C = np.hypot(base[:, 1], base[:, 2])
    hue = np.arctan2(base[:, 2], base[:, 1]) * np.float32(HUES / (2 * np.pi))
    most, _ = here(L, hue)
    excess = np.maximum(C - most, 0)
    moved = np.float32(lightness) * here.slide(L, hue, excess)
    there, _ = here(np.clip(L + moved, np.float32(here.low), np.float32(here.high)), hue)
    drop = np.where(excess > 0, np.minimum(there - C, 0), 0)
    return np.stack([np.where(excess > 0, LIGHT * moved, 0), drop, np.maximum(most, C)], axis=-1).astype(np.float32)


def moved_along(asked: Array, field: Array, detail: float) -> Array:
    """Pixels moved with their neighbourhood, before they are fitted one by one.

    Parameters
    ----------
    asked : (..., 3) ndarray
        Oklab times 100.
    field : (..., 3) ndarray
        What `asked_of` says of each pixel's neighbourhood.
    detail : float
        0 not at all, 1 in full.

    Returns
    -------
    (..., 3) ndarray
        Oklab times 100; hue is held.
    """
    import cv2

    # plane by plane and in place: this runs on every pixel of the neighbourhoods that move
    L, x, y = cv2.split(asked.reshape(1, -1, 3))
    lift, drop, full = cv2.split(field.reshape(1, -1, 3))
    C = cv2.magnitude(x, y)
    part = C / np.maximum(full, np.float32(1e-3))
    part -= _FROM
    part *= 1 / (1 - _FROM)
    np.clip(part, 0, 1, out=part)
    ease = part * -2
    ease += 3
    ease *= part
    part *= ease
    part *= np.float32(detail)
    lift *= part
    L += lift
    drop *= part
    np.maximum(C, np.float32(1e-6), out=C)
    drop /= C
    np.maximum(drop, -1, out=drop)
    drop += 1
    x *= drop
    y *= drop
    return np.asarray(cv2.merge((L, x, y)), np.float32).reshape(asked.shape)


def blocks(values: Array) -> Array:
    """Means of blocks of `BLOCK` x `BLOCK` pixels, counted from the first row and column; edges are repeated.

    Then a mean of each with its eight neighbours, so that noise does not steer.
    """
    import cv2

    height, width = values.shape[:2]
    rows, columns = -(-height // BLOCK), -(-width // BLOCK)
    if (rows * BLOCK, columns * BLOCK) != (height, width):
        values = cv2.copyMakeBorder(
            values, 0, rows * BLOCK - height, 0, columns * BLOCK - width, cv2.BORDER_REPLICATE
        )
    small = cv2.resize(values, (columns, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.blur(small, (3, 3), borderType=cv2.BORDER_REPLICATE), np.float32)


def spread(small: Array, height: int, width: int) -> Array:
    """Block values interpolated linearly to pixels."""
    import cv2

    rows, columns = small.shape[:2]
    whole = cv2.resize(small, (columns * BLOCK, rows * BLOCK), interpolation=cv2.INTER_LINEAR)
    return np.asarray(whole[:height, :width])
