"""What source spaces hold, computed apart from the package's own way."""

from __future__ import annotations

import numpy as np

from printprep.colour.blackpoint import compensate
from printprep.colour.icc import lab_from_device
from printprep.colour.lab import lab_from_xyz
from printprep.colour.solid import Solid


def source_solid(space: str, black_L: float) -> Solid:
    """The solid of a source space compensated to a black."""
    step = np.linspace(0, 1, 25)
    rgb = np.stack(np.meshgrid(step, step, step, indexing="ij"), axis=-1)
    if space == "ROMM RGB":  # ISO 22028-2
        matrix = np.array([[0.7976749, 0.1351917, 0.0313534], [0.2880402, 0.7118741, 0.0000857], [0, 0, 0.8249]])
        lab = lab_from_xyz(rgb**1.8 @ (matrix * np.array([0.9642, 1.0, 0.8249])[:, None] / matrix.sum(1)[:, None]).T)
    else:
        lab = np.asarray(lab_from_device(rgb, srgb()))
    return Solid.from_cube(compensate(lab, 0.0, black_L))


def srgb() -> bytes:
    """An sRGB profile, as LittleCMS makes it."""
    import imagecodecs

    return bytes(imagecodecs.cms_profile("srgb"))
