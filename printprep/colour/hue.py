"""A space in which lines of constant hue are straight: Oklab, from Lab under D50 and back."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.colour.lab import D50, Floats, lab_from_xyz, xyz_from_lab

# Ottosson, "A perceptual color space for image processing", 2020: XYZ (D65) to cone-like signals,
# and their cube roots to Oklab.
_M1 = np.array([
    [0.8189330101, 0.3618667424, -0.1288597137],
    [0.0329845436, 0.9293118715, 0.0361456387],
    [0.0482003018, 0.2643662691, 0.6338517070],
])
_M2 = np.array([
    [0.2104542553, 0.7936177850, -0.0040720468],
    [1.9779984951, -2.4285922050, 0.4505937099],
    [0.0259040371, 0.7827717662, -0.8086757660],
])
# Bradford, D50 to D65: the inverse of ICC.1's adaptation matrix
_D65_TO_D50 = np.array([
    [1.0478400, 0.0228979, -0.0501808],
    [0.0295537, 0.9904924, -0.0170663],
    [-0.0092459, 0.0150633, 0.7518389],
])


def _matrices() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    cones = _M1 @ np.linalg.inv(_D65_TO_D50)
    cones /= (cones @ np.array(D50))[:, None]  # greys exactly grey: white gives 1, 1, 1
    opponent = _M2.copy()
    opponent[0] /= opponent[0].sum()
    opponent[1:] -= opponent[1:].sum(axis=1, keepdims=True) / 3
    return cones, opponent


_CONES, _OPPONENT = _matrices()
_CONES_INVERSE, _OPPONENT_INVERSE = np.linalg.inv(_CONES), np.linalg.inv(_OPPONENT)


def oklab_from_lab(lab: ArrayLike) -> Floats:
    """Oklab, times 100, of CIELAB colours under D50.

    Parameters
    ----------
    lab : (..., 3) array_like
        CIELAB, D50.

    Returns
    -------
    (..., 3) ndarray
        Oklab L, a, b times 100: L 0..100 as in CIELAB; greys have a = b = 0. Colours beyond the
        spectrum keep a finite value: cube roots keep their sign.
    """
    xyz = xyz_from_lab(lab)
    return np.cbrt(xyz @ _CONES.T.astype(xyz.dtype)) @ (100 * _OPPONENT.T).astype(xyz.dtype)


def lab_from_oklab(oklab: ArrayLike) -> Floats:
    """Undo `oklab_from_lab`."""
    oklab = np.asarray(oklab)
    root = oklab @ (_OPPONENT_INVERSE.T / 100).astype(oklab.dtype)
    return lab_from_xyz((root * root * root) @ _CONES_INVERSE.T.astype(oklab.dtype))
