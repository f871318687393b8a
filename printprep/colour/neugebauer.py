"""A device cube from its eight corners: Neugebauer mixing with Demichel's dot shares."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.colour.lab import lab_from_xyz, xyz_from_lab

YULE_NIELSEN = 1.5
"""How far light spreads in the paper between dots. Of 1, 1.5, 2, 3 and 5 this puts the most colourful points of
nine measured offset papers nearest to the measurement: 1.0 C*ab off on average and 2.6 at the 95th hundredth,
against 1.4 and 5.5 with 1 (Neugebauer's own, no spread) and 1.2 and 3.0 with 2."""


def mix(corners: ArrayLike, lights: ArrayLike) -> NDArray[np.float64]:
    """Lab, (..., 3), of mixes of eight corner colours.

    In `corners`, (2, 2, 2, 3) in Lab, index 1 of each axis is the light end: ``corners[1, 1, 1]`` is paper,
    ``corners[0, 1, 1]`` cyan, ``corners[1, 0, 1]`` magenta, ``corners[1, 1, 0]`` yellow, ``corners[0, 0, 0]`` the
    darkest mix. `lights`, (..., 3), are the shares of the area that cyan, magenta and yellow each leave free, 0..1.

    Neugebauer 1937: a halftone reflects the mean of its eight kinds of area, the shares being products of the dot
    areas (Demichel). Yule and Nielsen 1951: means are taken of XYZ to the power of ``1 / n``, because light leaves
    the paper elsewhere than it entered.
    """
    xyz = np.maximum(xyz_from_lab(np.asarray(corners, np.float64)), 0) ** (1 / YULE_NIELSEN)
    share = np.asarray(lights, np.float64)
    pair = np.stack([1 - share, share], -1)  # (..., 3, 2)
    area = np.einsum("...a,...b,...c->...abc", pair[..., 0, :], pair[..., 1, :], pair[..., 2, :])
    mixed = np.einsum("...abc,abcx->...x", area, xyz)
    return np.asarray(lab_from_xyz(mixed**YULE_NIELSEN), np.float64)


def cube(corners: ArrayLike, steps: int = 17) -> NDArray[np.float64]:
    """Lab of an even grid of mixes, (steps, steps, steps, 3); the last index of each axis is its light end."""
    share = np.linspace(0, 1, steps)
    return mix(corners, np.stack(np.meshgrid(share, share, share, indexing="ij"), -1))
