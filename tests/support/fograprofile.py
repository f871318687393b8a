"""A printer profile of a measured chart, built in tests: the chart interpolated, and its inverse by search."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep.colour.lab import media_relative, xyz_from_lab
from printprep.conditions import measurement
from printprep.preset_files import shipped
from tests.support.lutprofile import output_profile

Floats = NDArray[np.float64]

_LEVELS = {
    0: (0, 10, 20, 30, 40, 55, 70, 85, 100), 20: (0, 10, 20, 40, 70, 100), 40: (0, 20, 40, 70, 100),
    60: (0, 20, 40, 70, 100), 80: (0, 40, 70, 100), 100: (0, 40, 100),
}  # fmt: skip
"""Per cent of black, and the cyan, magenta and yellow that the chart (ISO 12642-2) holds in every combination."""

_NEAR = 8.0
"""dE*ab from the paper's colours within which the inverse is made exact."""
_LAB_NODES = 65


def chart(name: str) -> Path:
    """The measurement FOGRA29L or FOGRA39L as it is shipped."""
    return Path(str(shipped() / "measurements" / f"{name}.txt"))


class Press:
    """CMY with black generated from the grey in it, so that three device values say all."""

    def __init__(self, name: str) -> None:
        from scipy.interpolate import RegularGridInterpolator

        found = measurement.read_chart(chart(name))
        self.white = found.white
        inks = np.rint(found.device * 100).astype(int)
        known = {tuple(row): lab for row, lab in zip(inks, media_relative(found.lab, found.white), strict=True)}
        self._layers = {
            black: RegularGridInterpolator(
                (levels,) * 3,
                np.array([[[known[c, m, y, black] for y in levels] for m in levels] for c in levels]),
            )
            for black, levels in _LEVELS.items()
        }

    def lab(self, rgb: Floats) -> Floats:
        """Media-relative Lab of device values, linear between patches."""
        inks = (1 - np.asarray(rgb, np.float64).reshape(-1, 3)) * 100
        black = 100 * (inks.min(axis=1) / 100) ** 1.5
        at = np.array(list(self._layers))
        layers = np.stack([layer(inks) for layer in self._layers.values()])
        low = np.clip(np.searchsorted(at, black, "right") - 1, 0, len(at) - 2)
        part = ((black - at[low]) / (at[low + 1] - at[low]))[:, None]
        rows = np.arange(len(inks))
        return np.asarray(layers[low, rows] * (1 - part) + layers[low + 1, rows] * part)

    def rgb(self, lab: Floats) -> Floats:
        """Device values of the nearest colour: a search among samples, then Gauss and Newton's method."""
        from scipy.spatial import cKDTree

        step = np.linspace(0, 1, 33)
        samples = np.stack(np.meshgrid(step, step, step, indexing="ij"), -1).reshape(-1, 3)
        far, index = cKDTree(self.lab(samples)).query(lab, workers=-1)
        out = samples[index]
        near = far < _NEAR
        best, lab = out[near], lab[near]
        for _ in range(2):
            got = self.lab(best)
            slope = np.stack([self.lab(np.clip(best + d, 0, 1)) - got for d in np.eye(3) * 0.02], -1) / 0.02
            normal = np.einsum("pij,pik->pjk", slope, slope) + np.eye(3)
            move = np.linalg.solve(normal, np.einsum("nij,ni->nj", slope, lab - got)[..., None])[..., 0]
            tried = np.clip(best + move, 0, 1)
            better = np.linalg.norm(self.lab(tried) - lab, axis=1) < np.linalg.norm(got - lab, axis=1)
            best[better] = tried[better]
        out[near] = best
        return np.asarray(out)


@cache
def press_profile(name: str) -> bytes:
    """An ICC profile (16-bit tables) of the chart FOGRA29L or FOGRA39L, driven by RGB."""
    press = Press(name)
    x, y, z = (float(v) for v in xyz_from_lab(np.asarray(press.white, np.float64)))
    return output_profile(press.lab, press.rgb, device_nodes=25, lab_nodes=_LAB_NODES, white=(x, y, z))
