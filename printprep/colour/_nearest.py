"""The nearest point of a boundary given as chroma on a grid of lightness and hue."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float32]

_CAP = np.array([0.0, 0.2, 0.4, 0.6, 0.8], np.float32)  # rings that close a flat bottom or top


_SINGLE_TREE = 4
"""FLANN's exact k-d tree (KDTREE_SINGLE)."""


class Boundary:
    """Nearest-point search on chroma by lightness (`floor_L` to `white_L`) and hue.

    The nearest grid point is found first, then the nearest of the triangles around it.
    """

    def __init__(self, chroma: Array, floor_L: float, white_L: float) -> None:
        import cv2

        levels, hues = chroma.shape
        level = np.linspace(floor_L, white_L, levels)
        bottom, top = _CAP[:, None] * chroma[0], _CAP[::-1, None] * chroma[-1]
        radius = np.concatenate([bottom, chroma, top])
        height = np.concatenate([np.full(len(_CAP), floor_L), level, np.full(len(_CAP), white_L)])
        angle = np.arange(hues) * (2 * np.pi / hues)
        self._points = np.stack(
            [np.broadcast_to(height[:, None], radius.shape), radius * np.cos(angle), radius * np.sin(angle)], axis=-1
        ).astype(np.float32)
        # one exact tree, in a library that is loaded anyway: SciPy's takes a quarter of a second to import
        self._tree = cv2.flann.Index(self._points.reshape(-1, 3), {"algorithm": _SINGLE_TREE, "leaf_max_size": 32})

    def nearest(self, lab: Array) -> Array:
        """Nearest boundary colours, (..., 3)."""
        asked = np.ascontiguousarray(lab, np.float32).reshape(-1, 3)
        if not len(asked):
            return np.array(lab, np.float32)
        if not np.isfinite(asked).all():  # for which the tree tells whatever was in memory
            raise ValueError("colours must be finite")
        index = self._tree.knnSearch(asked, 1, params={"checks": -1})[0][:, 0]
        rows, hues = self._points.shape[:2]
        i, j = index // hues, index % hues
        best = self._points[i, j].copy()
        least = _dot(best - asked)
        for down, left in ((-1, -1), (-1, 0), (0, -1), (0, 0)):
            i0 = np.clip(i + down, 0, rows - 2)
            j0, j1 = (j + left) % hues, (j + left + 1) % hues
            a, b = self._points[i0, j0], self._points[i0, j1]
            c, d = self._points[i0 + 1, j0], self._points[i0 + 1, j1]
            for corners in ((a, b, d), (a, d, c)):
                point = _on_triangle(asked, *corners)
                apart = _dot(point - asked)
                closer = apart < least
                least = np.where(closer, apart, least)
                best[closer] = point[closer]
        return np.asarray(best.reshape(np.shape(lab)), np.float32)


def _dot(a: Array, b: Array | None = None) -> Array:
    """Products of vectors (n, 3), of each with itself by default: quicker than a sum over so short an axis."""
    product = a * (a if b is None else b)
    return np.asarray(product[:, 0] + product[:, 1] + product[:, 2], np.float32)


def _on_triangle(p: Array, a: Array, b: Array, c: Array) -> Array:
    """Nearest points of triangles: inside by projection, else the nearest of the three edges."""
    ab, ac, ap = b - a, c - a, p - a
    d00, d01, d11 = _dot(ab), _dot(ab, ac), _dot(ac)
    d20, d21 = _dot(ap, ab), _dot(ap, ac)
    area = d00 * d11 - d01 * d01
    safe = np.where(area > 1e-12, area, 1.0)
    v, w = (d11 * d20 - d01 * d21) / safe, (d00 * d21 - d01 * d20) / safe
    inside = (area > 1e-12) & (v >= 0) & (w >= 0) & (v + w <= 1)
    best = a + v[:, None] * ab + w[:, None] * ac
    least = np.where(inside, 0.0, np.inf)
    for start, end in ((a, b), (b, c), (c, a)):
        along = end - start
        length = _dot(along)
        t = np.clip(_dot(p - start, along) / np.where(length > 0, length, 1.0), 0, 1)
        point = start + t[:, None] * along
        apart = _dot(point - p)
        closer = apart < least
        least = np.where(closer, apart, least)
        best = np.where(closer[:, None], point, best)
    return np.asarray(best, np.float32)
