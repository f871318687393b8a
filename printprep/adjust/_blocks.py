"""Means over blocks of a picture, and block values at its pixels: what steps that look around see of the whole."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import BLOCK


def block_means(picture: NDArray[Any]) -> NDArray[Any]:
    """Means of blocks of `BLOCK` x `BLOCK` pixels, counted from the first row and column; edges are repeated.

    Parameters
    ----------
    picture : (height, width, 3) ndarray of float32 or uint16

    Returns
    -------
    (rows, columns, 3) ndarray of the same type
    """
    height, width = picture.shape[:2]
    rows, columns = height // BLOCK, width // BLOCK
    means = np.empty((-(-height // BLOCK), -(-width // BLOCK), 3), picture.dtype)
    down, right = rows * BLOCK, columns * BLOCK
    for part, place in (  # whole blocks as they lie; only those at the edges are copied
        (picture[:down, :right], means[:rows, :columns]),
        (picture[down:, :right], means[rows:, :columns]),
        (picture[:, right:], means[:, columns:]),
    ):
        if part.size:
            place[:] = _means(part)
    return means


def _means(picture: NDArray[Any]) -> NDArray[Any]:
    import cv2

    below, beside = -picture.shape[0] % BLOCK, -picture.shape[1] % BLOCK
    if below or beside:
        picture = np.asarray(cv2.copyMakeBorder(picture, 0, below, 0, beside, cv2.BORDER_REPLICATE))
    rows, columns = (size // BLOCK for size in picture.shape[:2])
    return np.asarray(cv2.resize(picture, (columns, rows), interpolation=cv2.INTER_AREA)).reshape(rows, columns, 3)


def at_pixels(small: NDArray[np.float32], top: int, rows: int, left: int, columns: int) -> NDArray[np.float32]:
    """Block values interpolated linearly to a rectangle of pixels, the same whatever rectangle asks.

    Parameters
    ----------
    small : (n, m) ndarray
        One value for each block.
    top, rows, left, columns : int
        The rectangle.
    """
    import cv2

    first, last = max(0, top // BLOCK - 1), min(len(small), -(-(top + rows) // BLOCK) + 1)
    start, end = max(0, left // BLOCK - 1), min(small.shape[1], -(-(left + columns) // BLOCK) + 1)
    part = np.ascontiguousarray(small[first:last, start:end])
    whole = cv2.resize(part, ((end - start) * BLOCK, (last - first) * BLOCK), interpolation=cv2.INTER_LINEAR)
    above, beside = top - first * BLOCK, left - start * BLOCK
    return np.asarray(whole[above : above + rows, beside : beside + columns])
