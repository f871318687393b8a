"""How far a solid reaches in Oklab, where gamut-fit holds hue: chroma over lightness and hue, as a grid."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from printprep.colour._boundary import envelope, grid_triangles
from printprep.colour.hue import oklab_from_lab
from printprep.colour.solid import HUES, LEVELS, Solid, bilinear

Array = NDArray[np.float32]

_LEVELS = 193
_FLOOR = 1e-3  # no ray ends at nothing, so that ratios stay finite


@dataclass(frozen=True, eq=False)
class Plane:
    """Largest Oklab chroma (times 100) of a solid on a grid of Oklab lightness and hue."""

    chroma: Array
    low: float
    high: float

    def __call__(self, L: Array, hue: Array) -> Array:
        """Largest chroma at lightness `L` (times 100) and `hue` in grid columns."""
        row = (L - np.float32(self.low)) * np.float32((_LEVELS - 1) / (self.high - self.low))
        return np.maximum(bilinear(self.chroma, row, hue), np.float32(_FLOOR))


@lru_cache(maxsize=32)
def plane(solid: Solid) -> Plane:
    """The grid of a solid; kept, because a solid is asked many times."""
    level = np.linspace(solid.black_L, solid.white_L, (LEVELS + 1) // 2)
    chroma = solid.rows(level)[:, ::2].astype(np.float64)
    angle = np.arange(0, HUES, 2) * (2 * np.pi / HUES)
    sheet = np.stack([np.broadcast_to(level[:, None], chroma.shape), chroma * np.cos(angle), chroma * np.sin(angle)], -1)
    sheet = oklab_from_lab(sheet)
    sheet = np.concatenate([sheet, sheet[:, :1]], axis=1)
    low, high = (float(oklab_from_lab(np.array([end, 0.0, 0.0]))[0]) for end in (solid.black_L, solid.white_L))
    return Plane(envelope(grid_triangles(sheet), low, high, _LEVELS, HUES), low, high)
