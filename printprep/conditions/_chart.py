"""From a measured chart to the gamut solid: the sheets of the device cube that can bound the gamut."""

from __future__ import annotations

from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from printprep.colour.lab import Array, media_relative
from printprep.colour.solid import HUES, LEVELS, Solid
from printprep.conditions.measurement import Measurement


def chart_solid(measured: Measurement) -> Solid:
    """The solid of a chart, in media-relative Lab.

    Every colour on the boundary of what inks can mix has all but two of them at none or full: it
    lies on a two-dimensional face of the device cube. So the patches of each face are joined to
    triangles as neighbours in ink (Delaunay), and along every ray the outermost sheet counts. No
    convex hull is taken, so hollows stay hollow. A patch that still lies outside, on a ridge between
    two rays or by the will of a printer's driver, pulls the boundary out to itself.
    """
    lab = np.asarray(media_relative(measured.lab, measured.white), np.float64)
    if measured.channels == "GRAY":
        return grey(lab)
    return Solid.from_triangles(triangles(measured.device, lab)).including(lab)


def grey(lab: Array, black_L: float | None = None) -> Solid:
    """The solid of a grey scale: the neutral axis between its ends, and no chroma."""
    low = float(lab[:, 0].min()) if black_L is None else black_L
    return Solid(np.zeros((LEVELS, HUES), np.float32), low, 100.0)


def triangles(device: Array, lab: Array) -> NDArray[np.floating]:
    """Triangles in Lab of all two-dimensional faces of the device cube, (m, 3, 3)."""
    from scipy.spatial import Delaunay, QhullError

    channels = device.shape[1]
    found = []
    for pair in combinations(range(channels), 2):
        others = [k for k in range(channels) if k not in pair]
        for ends in product((0.0, 1.0), repeat=len(others)):
            on = (device[:, others] == ends).all(axis=1)
            if on.sum() < 3:
                continue
            try:
                mesh = Delaunay(device[on][:, pair])
            except QhullError:
                continue  # patches in one line span no face
            found.append(lab[on][mesh.simplices])
    return np.concatenate(found)
