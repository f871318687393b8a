"""The spatial part of gamut-fit: where a whole neighbourhood must move, it moves together and keeps its texture.

Fitted one by one, the pixels of a petal are pushed towards the same place and its texture is flattened.
So the mean of each block of pixels is asked how it would be fitted; its pixels are first moved by that
answer, all alike, and only what then still lies outside is fitted one by one. At the edge of a saturated
area neighbouring blocks ask for different moves; there the result fades to the pointwise one, which has
no halo.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import BLOCK
from printprep.adjust._gamut_plane import Plane
from printprep.colour.solid import HUES

Array = NDArray[np.float32]

_MORE, _MORE_AT_MOST = np.float32(0.4), np.float32(0.6)
"""Lightness moves beforehand by this share more than the block asks for, and by so many L at most: less is left
to be squeezed pixel by pixel. The bound keeps flat areas within 1 L* of the pointwise result."""

_FROM = np.float32(0.75)
"""Share of the block's chroma at which a pixel begins to move with it; paler pixels stay."""

_ALIKE, _APART = np.float32(0.7), np.float32(1.8)
"""Where the moves of blocks two around differ by less they are a texture, by more an edge; Oklab L times 100."""

_CHROMA_WEIGHT = np.float32(0.3)
"""How differences of moves in chroma count in that."""

_COLOUR_WEIGHT = np.float32(0.12)
"""And differences of the blocks' own a and b: between two hues a block that holds both asks for neither's move."""

_SURE = np.float32(0.3)
"""Mean excess of chroma from which on the spatial result counts in full; Oklab times 100."""

AROUND = 4
"""Blocks looked at on each side: smoothed with one, compared over two, interpolated with one."""


def asked_of(base: Array, here: Plane, lightness: float) -> tuple[Array, Array, Array, Array]:
    """How colours would be fitted.

    Parameters
    ----------
    base : (n, 3) ndarray
        Oklab times 100.
    here : Plane
        The gamut.
    lightness : float
        The parameter of that name.

    Returns
    -------
    lift, drop : (n,) ndarray
        Change of lightness and of chroma; 0 inside the gamut.
    chroma, most : (n,) ndarray
        Chroma asked for, and what the gamut holds (at every hue, where `chroma` is less than that).
    """
    L = np.clip(base[:, 0], np.float32(here.low), np.float32(here.high))
    C = np.hypot(base[:, 1], base[:, 2])
    lift, drop, most = np.zeros_like(L), np.zeros_like(L), here.least(L)
    near = np.flatnonzero(most <= C)
    hue = np.arctan2(base[near, 2], base[near, 1]) * np.float32(HUES / (2 * np.pi))
    most[near] = here(L[near], hue)[0]
    beyond = most[near] < C[near]
    over, hue = near[beyond], hue[beyond]
    lift[over] = np.float32(lightness) * here.slide(L[over], hue, C[over] - most[over])
    at = np.clip(L[over] + lift[over], np.float32(here.low), np.float32(here.high))
    drop[over] = np.minimum(here(at, hue)[0] - C[over], 0)
    return lift, drop, C, most


def moves(base: Array, here: Plane, lightness: float) -> Array:
    """What blocks ask for.

    Parameters
    ----------
    base : (rows, columns, 3) ndarray
        Mean colours of blocks, Oklab times 100.
    here, lightness
        As for `asked_of`.

    Returns
    -------
    (rows, columns, 4) ndarray
        Change of lightness, change of chroma (0 or less), the chroma at which a pixel moves along in
        full, and the weight of the spatial result against the pointwise one: 0 where a block lies
        inside the gamut on average with its neighbours, and at edges.
    """
    shape = base.shape[:2]
    lift, drop, chroma, most = (p.reshape(shape) for p in asked_of(base.reshape(-1, 3), here, lightness))
    if not drop.any():
        return np.zeros((*shape, 4), np.float32)
    field = _smooth(np.stack([lift, drop, np.maximum(chroma, most), chroma - most], axis=-1))
    apart = np.maximum(_range(field[..., 0]), _CHROMA_WEIGHT * _range(field[..., 1]))
    colour = _smooth(base)
    for k in (1, 2):
        np.maximum(apart, _COLOUR_WEIGHT * _range(colour[..., k]), out=apart)
    edge = np.clip((apart - _ALIKE) / (_APART - _ALIKE), 0, 1)
    field[..., 0] += np.clip(_MORE * field[..., 0], -_MORE_AT_MOST, _MORE_AT_MOST)
    field[..., 3] = (1 - edge * edge * (3 - 2 * edge)) * np.clip(field[..., 3] / _SURE, 0, 1)
    return np.asarray(field, np.float32)


def moved_along(asked: Array, field: Array, detail: float) -> Array:
    """Pixels moved with their neighbourhood, before they are fitted one by one.

    Parameters
    ----------
    asked : (..., 3) ndarray
        Oklab times 100.
    field : (..., 4) ndarray
        What `moves` says of each pixel's neighbourhood.
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
    lift, drop, full, _ = cv2.split(field.reshape(1, -1, 4))
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
    """Means of blocks of `BLOCK` x `BLOCK` pixels, counted from the first row and column; edges are repeated."""
    import cv2

    height, width = values.shape[:2]
    rows, columns = -(-height // BLOCK), -(-width // BLOCK)
    below, beside = rows * BLOCK - height, columns * BLOCK - width
    if below or beside:
        values = cv2.copyMakeBorder(values, 0, below, 0, beside, cv2.BORDER_REPLICATE)
    return np.asarray(cv2.resize(values, (columns, rows), interpolation=cv2.INTER_AREA)).reshape(rows, columns, 3)


def spread(small: Array, height: int, width: int) -> Array:
    """Block values interpolated linearly to pixels."""
    import cv2

    rows, columns = small.shape[:2]
    whole = cv2.resize(small, (columns * BLOCK, rows * BLOCK), interpolation=cv2.INTER_LINEAR)
    return np.asarray(whole[:height, :width])


def _smooth(values: Array) -> Array:
    """Means of each block with its eight neighbours, so that noise does not steer."""
    import cv2

    return np.asarray(cv2.blur(values, (3, 3), borderType=cv2.BORDER_REPLICATE)).reshape(values.shape)


def _range(values: Array) -> Array:
    """Largest less smallest among blocks up to two away."""
    import cv2

    five = np.ones((5, 5), np.uint8)
    values = np.ascontiguousarray(values)
    largest = cv2.dilate(values, five, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(largest - cv2.erode(values, five, borderType=cv2.BORDER_REPLICATE))
