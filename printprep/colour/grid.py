"""Linear look-up in grids whose columns go round a circle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float32]


class Ring:
    """Grids over rows (held at the ends) and columns (column m is column 0 again), looked up together."""

    def __init__(self, *grids: Array) -> None:
        self.rows, self.columns = grids[0].shape
        wide = [np.concatenate([g, g[:, :1]], axis=1).astype(np.float32).ravel() for g in grids]
        self._grids = wide

    def __call__(self, row: Array, column: Array) -> list[Array]:
        """The value of each grid at rows (clipped) and columns (modulo a turn), counted in cells."""
        row = np.clip(row, 0, self.rows - 1)
        i = np.minimum(row.astype(np.int32), max(self.rows - 2, 0))
        u = (row - i).astype(np.float32)
        whole = np.floor(column)
        v = (column - whole).astype(np.float32)
        stride = self.columns + 1
        first = i * np.int32(stride) + np.mod(whole.astype(np.int32), np.int32(self.columns))
        second = first + np.int32(stride if self.rows > 1 else 0)
        out = []
        for grid in self._grids:
            below = _between(grid.take(first), grid.take(first + 1), v)
            above = _between(grid.take(second), grid.take(second + 1), v)
            out.append(_between(below, above, u))
        return out


def _between(low: Array, high: Array, part: Array) -> Array:
    high -= low
    high *= part
    high += low
    return high
