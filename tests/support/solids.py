"""How far colours are from the boundary of a gamut solid."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.colour.solid import Solid


def distance(solid: Solid, lab: ArrayLike) -> NDArray[np.float32]:
    """dE*ab from media-relative Lab colours to the nearest of the boundary: positive outside, negative inside."""
    lab = np.asarray(lab, np.float32)
    apart = np.linalg.norm(solid._on_boundary(lab) - lab, axis=-1)
    return np.asarray(np.where(solid.contains(lab), -apart, apart), np.float32)


def within(solid: Solid, lab: ArrayLike, tolerance: float) -> NDArray[np.bool_]:
    """Whether colours lie inside, or outside by no more than this, dE*ab."""
    return np.asarray(distance(solid, lab) <= tolerance)
