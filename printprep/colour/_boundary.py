"""From triangles in Lab to the outermost chroma on a grid of lightness and hue."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from printprep.colour.lab import Array


def grid_triangles(sheet: Array) -> Array:
    """Two triangles for each cell of a (n, m, 3) sheet of colours; (2 (n-1) (m-1), 3, 3)."""
    a, b, c, d = sheet[:-1, :-1], sheet[:-1, 1:], sheet[1:, :-1], sheet[1:, 1:]
    halves = np.stack([np.stack([a, b, d], axis=-2), np.stack([a, d, c], axis=-2)])
    return halves.reshape(-1, 3, 3)


def cube_triangles(cube: Array) -> Array:
    """Triangles of the six faces of a (n, n, n, 3) cube of colours."""
    if cube.ndim != 4 or cube.shape[-1] != 3 or min(cube.shape[:3]) < 2:
        raise ValueError(f"expected a cube of colours (n, n, n, 3), not {cube.shape}")
    faces = [np.take(cube, end, axis) for axis in range(3) for end in (0, -1)]
    return np.concatenate([grid_triangles(face) for face in faces])


def axis_crossings(triangles: Array, slack: float = 1e-3) -> tuple[float, float]:
    """Lowest and highest lightness at which the neutral axis passes through triangles, (m, 3, 3) corners in Lab.

    The lightness range of the corners where no triangle is met (a toned grey scale). A triangle that misses the
    axis by `slack` (dE*ab) counts as met: a corner meant to lie on the axis does so to rounding only.
    """
    nearest = np.maximum(np.hypot(triangles[..., 1], triangles[..., 2]).min(axis=1), 0)
    size = np.abs(triangles[..., 1:] - np.roll(triangles[..., 1:], 1, axis=1)).sum(axis=-1).max(axis=1)
    corner = triangles[nearest <= size + slack]  # others are too far off for their size
    a, b, lightness = corner[..., 1], corner[..., 2], corner[..., 0]
    a1, a2, b1, b2 = a[:, [1, 2, 0]], a[:, [2, 0, 1]], b[:, [1, 2, 0]], b[:, [2, 0, 1]]
    part = a1 * b2 - a2 * b1  # twice the areas that the edges span with the axis, seen along it
    total = part.sum(axis=-1)
    sign = np.where(total < 0, -1.0, 1.0)[:, None]
    hit = (part * sign >= -slack * np.hypot(a1 - a2, b1 - b2)).all(axis=-1) & (np.abs(total) > 1e-9)
    low, high = float(triangles[..., 0].min()), float(triangles[..., 0].max())
    if not hit.any():
        return low, high
    L = (part[hit] * lightness[hit]).sum(axis=-1) / total[hit]
    L = np.clip(L, lightness[hit].min(axis=-1), lightness[hit].max(axis=-1))
    return (float(L.min()), float(L.max())) if np.ptp(L) > 1 else (low, high)


def envelope(triangles: Array, low: float, high: float, levels: int, hues: int) -> NDArray[np.float32]:
    """Outermost C*ab, (levels, hues), of triangles in Lab along horizontal rays from the neutral axis; 0 if none.

    Every triangle is cut at the levels it spans, `low` to `high` in L*, which gives line segments in (a*, b*); every
    segment is met by the hue rays within its angle as seen from the axis.
    """
    step = (high - low) / (levels - 1)
    order = np.argsort(triangles[..., 0], axis=1)
    corner = np.take_along_axis(triangles, order[..., None], axis=1)
    # a hair's breadth below the last level, so that the tip of the solid has a cut of its own
    row = np.clip((corner[..., 0] - low) / step, -1, levels + 1)
    first = np.maximum(np.ceil(row[:, 0]), 0).astype(np.int64)
    last = np.minimum(np.floor(row[:, 2]), levels - 1).astype(np.int64)
    which, level = _runs(first, last)
    bottom, middle, top = (corner[which, k] for k in range(3))
    L = low + level * step

    def cut(p: Array, q: Array) -> Array:
        rise = q[:, 0] - p[:, 0]
        part = np.clip((L - p[:, 0]) / np.where(rise > 1e-12, rise, 1.0), 0, 1)[:, None]
        return p[:, 1:] + part * (q[:, 1:] - p[:, 1:])

    lower = (middle[:, 0] >= L)[:, None]
    one = cut(bottom, top)
    two = cut(np.where(lower, bottom, middle), np.where(lower, middle, top))
    turn = hues / (2 * np.pi)
    start = np.arctan2(one[:, 1], one[:, 0]) * turn
    span = np.arctan2(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0], (one * two).sum(axis=-1)) * turn
    slack = 1e-7
    which, hue = _runs(
        np.ceil(np.minimum(start, start + span) - slack).astype(np.int64),
        np.floor(np.maximum(start, start + span) + slack).astype(np.int64),
    )
    x, y = one[which, 0], one[which, 1]
    dx, dy = two[which, 0] - x, two[which, 1] - y
    u, v = np.cos(hue / turn), np.sin(hue / turn)
    across = u * dy - v * dx
    # a segment that points at the axis: its outer end
    along = np.maximum(np.hypot(x, y), np.hypot(x + dx, y + dy))
    chroma = np.where(np.abs(across) > 1e-12, (x * dy - y * dx) / np.where(across == 0, 1.0, across), along)
    chroma = np.clip(chroma, 0, along)
    grid = np.zeros(levels * hues, np.float64)
    np.maximum.at(grid, level[which] * hues + hue % hues, chroma)
    return grid.reshape(levels, hues).astype(np.float32)


def _runs(first: NDArray[np.int64], last: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Every whole number from `first` to `last`, and which pair it belongs to."""
    count = np.maximum(last - first + 1, 0)
    which = np.repeat(np.arange(len(first)), count)
    start = np.cumsum(count) - count
    return which, first[which] + np.arange(len(which)) - start[which]
