"""What gamut-fit's spatial part sees of a picture: surroundings, contrast and texture, on a grid of 4 x 4 pixels."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import BLOCK, Box

Array = NDArray[np.float32]

CELL = BLOCK
"""Rows and columns of pixels that one cell of the grid stands for: the block that takes part or does not."""

AROUND = 3
"""Cells around a pixel's own that it depends on: two that are looked at, one more by interpolation."""

CHROMA, FADE = np.float32(3.2), np.float32(0.144)
"""Chroma against lightness: a difference of chroma counts `CHROMA` times near grey (C* of one unit of Oklab,
about) and fades with chroma C by 1 + `FADE` C, as S_C of CIEDE2000 does (1 + 0.045 C*, CIE 142:2001)."""

_WIDER = (1, 2)
"""Cells on each side of the two larger surroundings that a cell's mean is compared with."""

_TEXTURED = np.float32(4)
"""Range of lightness and weighted chroma, within cells all around, at which a cell counts as textured in full."""

_ONE, _OTHER = (0, 1, 2, 3, 0, 0, 1), (0, 1, 2, 3, 1, 2, 3)
"""Which of lightness, chroma, and the same fitted, are multiplied with one another."""

_HARDLY = np.float32(0.1)
"""Contrast that is hardly seen counts less."""

WHOLE = (slice(None), slice(None))


class Sight(NamedTuple):
    """What is seen, cell by cell.

    Parameters
    ----------
    features : (24, rows, columns) ndarray
        For both wider surroundings: by how much the cell's own means differ from theirs, of lightness and weighted
        chroma asked for and of what fitting added to them; the standard deviations of lightness and weighted chroma;
        the share of contrast that fitting left out; the correlation of lightness and chroma; and how much of a
        difference of lightness, and of chroma, fitting changed. Then what the cell lost of lightness and of
        weighted chroma, the weight of chroma, and how textured it is all around, 0..1.
    means : (3, 4, rows, columns) ndarray
        Means of lightness, chroma, and what fitting added to each, over the cell and over both surroundings.
    low, high : (rows, columns) ndarray
        The range of fitted lightness in the cell and those beside it.
    texture : (rows, columns) ndarray
        The least range of lightness and weighted chroma of the cells beside it: at a step edge one of them is flat.
    """

    features: Array
    means: Array
    low: Array
    high: Array
    texture: Array


def look(L: Array, C: Array, new_L: Array, new_C: Array, part: Box = WHOLE) -> Sight:
    """What is seen of a picture, or of a part of it that begins at a whole cell.

    Cells are counted from the first row and column; edges are repeated. Squares are taken of means of 2 x 2 pixels.

    Parameters
    ----------
    L, C : (height, width) ndarray
        Lightness and chroma asked for, Oklab times 100.
    new_L, new_C : (height, width) ndarray
        Those of the fitted colours.
    part : two slices
        Which cells are wanted.
    """
    import cv2

    low, high = _extremes(_filled(new_L), CELL)
    L, C, new_L, new_C = (_halved(_filled(plane)) for plane in (L, C, new_L, new_C))
    added, counts = new_C - C, weight_of_chroma(new_C)
    weighed, new_weighed = C * counts, new_C * counts
    # in double precision: variances are small between large squares, and a last digit of the tables would show
    # where a picture is flat
    four = [plane.astype(np.float64) for plane in (L, weighed, new_L, new_weighed)]
    squares = (four[one] * four[other] for one, other in zip(_ONE, _OTHER, strict=True))
    once = (_halved(plane).astype(np.float64) for plane in (C, added, counts))
    own = cv2.merge([*once, *map(_halved, four), *map(_halved, squares)])
    wide = (cv2.blur(own, (2 * size + 1,) * 2, borderType=cv2.BORDER_REPLICATE) for size in _WIDER)
    sums = np.stack([_channels(np.ascontiguousarray(cells[part])) for cells in (own, *wide)])
    means = _means(sums)
    texture = _texture(L, weighed)[part]
    beside = np.ones((3, 3), np.uint8)
    low, high = cv2.erode(low, beside)[part], cv2.dilate(high, beside)[part]
    return Sight(_features(sums, means, texture), means, low, high, texture)


def weight_of_chroma(C: Array) -> Array:
    """What a difference of chroma counts against one of lightness."""
    counts = FADE * C
    counts += 1
    return np.asarray(np.divide(CHROMA, counts, out=counts))


def _means(sums: Array) -> Array:
    """Means of lightness and chroma and of what was added to each, (3, 4, rows, columns), of all that was taken."""
    means = np.empty((len(sums), 4, *sums.shape[2:]), np.float32)
    means[:, 0] = sums[:, 3]
    means[:, 1] = sums[:, 0]
    np.subtract(sums[:, 5], sums[:, 3], out=means[:, 2])
    means[:, 3] = sums[:, 1]
    return means


def _features(sums: Array, means: Array, texture: Array) -> Array:
    """See `Sight`; `sums` are chroma, what was added to it, the weight of chroma, four values, and seven products."""
    counts = sums[0, 2].astype(np.float32)
    out = np.empty((2 * 10 + 4, *counts.shape), np.float32)
    wide = out[:20].reshape(2, 10, *counts.shape)
    np.subtract(means[0], means[1:], out=wide[:, :4])
    wide[:, 1] *= counts
    wide[:, 3] *= counts
    four, squares = sums[1:, 3:7], sums[1:, 7:14]
    spread = np.moveaxis(squares - four[:, _ONE] * four[:, _OTHER], 1, 0).astype(np.float32)
    var_L, var_C, var_new_L, var_new_C = np.maximum(spread[:4], 0)
    both, kept_L, kept_C = spread[4:]
    wanted, there = np.sqrt(var_L + var_C), np.sqrt(var_new_L + var_new_C)
    np.minimum(np.sqrt(var_L), 6, out=wide[:, 4])
    np.minimum(np.sqrt(var_C), 6, out=wide[:, 5])
    wanted -= there
    there += _HARDLY
    np.clip(wanted / there, -1, 3, out=wide[:, 6])
    np.divide(both, np.sqrt(var_L * var_C + _HARDLY * _HARDLY), out=wide[:, 7])
    np.divide(kept_L - var_L, var_L + _HARDLY, out=wide[:, 8])
    np.divide(kept_C - var_C, var_C + _HARDLY, out=wide[:, 9])
    _, _, out[20], out[21] = means[0]
    out[21] *= counts
    out[22], out[23] = counts, textured(texture)
    return out


def textured(texture: Array) -> Array:
    """How textured cells count as, 0..1."""
    return np.asarray(np.minimum(texture, _TEXTURED) / _TEXTURED)


def _texture(L: Array, C: Array) -> Array:
    """Of planes halved."""
    import cv2

    (low_L, high_L), (low_C, high_C) = _extremes(L, CELL // 2), _extremes(C, CELL // 2)
    beside = np.ones((3, 3), np.uint8)
    beside[1, 1] = 0
    return np.asarray(cv2.erode(high_L - low_L + (high_C - low_C), beside, borderType=cv2.BORDER_REPLICATE))


def _channels(cells: Array) -> Array:
    """Channels first."""
    import cv2

    rows, columns, count = cells.shape
    return np.asarray(cv2.transpose(cells.reshape(-1, count))).reshape(count, rows, columns)


def _filled(plane: Array) -> Array:
    """Up to whole cells, the edges repeated."""
    import cv2

    below, beside = -plane.shape[0] % CELL, -plane.shape[1] % CELL
    if below or beside:
        plane = cv2.copyMakeBorder(plane, 0, below, 0, beside, cv2.BORDER_REPLICATE)
    return np.asarray(plane)


def _halved(plane: NDArray[Any]) -> NDArray[Any]:
    """Means of 2 x 2 pixels."""
    import cv2

    size = plane.shape[1] // 2, plane.shape[0] // 2
    return np.asarray(cv2.resize(plane, size, interpolation=cv2.INTER_AREA)).reshape(size[::-1])


def _extremes(plane: Array, size: int) -> tuple[Array, Array]:
    """Least and largest of squares."""
    rows = plane.reshape(-1, size, plane.shape[1])
    low, high = rows.min(axis=1), rows.max(axis=1)
    return (
        np.minimum.reduce([low[:, k::size] for k in range(size)]),
        np.maximum.reduce([high[:, k::size] for k in range(size)]),
    )
