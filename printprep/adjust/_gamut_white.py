"""Next to white, where a gamut's ridges are sharp: the nearest colours that it holds, on a grid, evened a little."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from printprep.colour.grid import Ring
from printprep.colour.lab import polar
from printprep.colour.solid import Solid
from printprep.files import cache
from printprep.photo.bands import thread_count

Array = NDArray[np.float32]

FROM, FULL = 78.0, 88.0
"""L* from which colours land nearer to the nearest that the gamut holds, and at which there."""

_ROWS, _HUES = 23, 180
_GREY = 0.05
"""C* up to which colours count as grey, and stay."""

_FAR, _STEPS = 150.0, 10
"""Chroma of the furthest node, and nodes from the boundary to there, at squares: most colours lie just outside."""


class White:
    """Where colours next to white land.

    Parameters
    ----------
    gamut : Solid
        What results must lie in.
    """

    def __init__(self, gamut: Solid) -> None:
        (moved,) = cache.made(f"white {gamut.fingerprint}", lambda: (_moved(gamut),))
        # one grid for each step and each of lightness, along the radius and aside
        self._rings = [Ring(*parts) for parts in moved]
        self._gamut = gamut

    def __call__(self, lab: Array, fitted: Array) -> Array:
        """Fitted colours, (n, 3) Lab, drawn towards where those that were asked for, `lab`, land next to white."""
        part = np.clip((lab[:, 0] - FROM) / (FULL - FROM), 0, 1)
        C, turn = polar(lab)
        at = np.flatnonzero((part > 0) & (C > _GREY))
        if not len(at):
            return fitted
        asked, weight, C, turn = lab[at], (part * part * (3 - 2 * part))[at, None], C[at], turn[at]
        h = np.degrees(turn)
        most = self._gamut.max_chroma(np.minimum(asked[:, 0], 100), h)
        step = (_STEPS - 1) * np.sqrt(np.clip((C - most) / (_FAR - most), 0, 1))
        row, column = (asked[:, 0] - FROM) * np.float32((_ROWS - 1) / (100 - FROM)), h * np.float32(_HUES / 360)
        light, out, aside = self._moved(step, row, column)
        out += np.minimum(C, most)
        cos, sin = (f(turn, dtype=np.float64).astype(np.float32) for f in (np.cos, np.sin))
        there = np.stack([asked[:, 0] + light, out * cos - aside * sin, out * sin + aside * cos], axis=-1)
        done = fitted.copy()
        done[at] = self._gamut.nearest(fitted[at] + weight * (there - fitted[at]))
        return done

    def _moved(self, step: Array, row: Array, column: Array) -> Array:
        """From the boundary to where colours land: lightness, along the radius, aside; (3, n)."""
        found = np.zeros((3, len(step)), np.float32)
        for k, ring in enumerate(self._rings):
            share = np.maximum(1 - np.abs(step - k), 0)
            near = np.flatnonzero(share)
            if k > 0 and len(near):  # on the boundary nothing moves
                found[:, near] += share[near] * np.stack(ring(row[near], column[near]))
        return found


def _moved(gamut: Solid) -> Array:
    """From the boundary to where colours land, at the grids' nodes: (steps, 3, rows, hues)."""
    L = np.linspace(FROM, 100, _ROWS, dtype=np.float32)[:, None, None]
    h = np.arange(_HUES, dtype=np.float32)[:, None] * np.float32(360 / _HUES)
    most = gamut.max_chroma(L, h)
    C, turn = most + (_FAR - most) * np.linspace(0, 1, _STEPS, dtype=np.float32) ** 2, np.radians(h)
    cos, sin = np.cos(turn), np.sin(turn)
    beyond = np.stack(np.broadcast_arrays(L, C * cos, C * sin), axis=-1)[..., 1:, :]
    with ThreadPoolExecutor(thread_count()) as pool:
        landed = np.stack(list(pool.map(gamut.nearest, beyond)))
    # from the gamut's own boundary at that lightness and hue, where nothing moves
    moved = np.zeros((*C.shape, 3), np.float32)
    moved[..., 1:, :] = landed - np.stack(np.broadcast_arrays(L, most * cos, most * sin), axis=-1)
    out = moved[..., 1] * cos + moved[..., 2] * sin
    aside = moved[..., 2] * cos - moved[..., 1] * sin
    return np.stack([[_evened(part[..., k]) for part in (moved[..., 0], out, aside)] for k in range(_STEPS)])


def _evened(grid: Array) -> Array:
    """Binomial weights over neighbouring hues and lightnesses."""
    around = np.roll(grid, 1, axis=1) / 4 + grid / 2 + np.roll(grid, -1, axis=1) / 4
    wide = np.pad(around, ((1, 1), (0, 0)), mode="edge")
    return np.asarray(wide[:-2] / 4 + wide[1:-1] / 2 + wide[2:] / 4, np.float32)
