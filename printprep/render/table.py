"""Fold a chain of pointwise steps into one table: a shaper, a cube of nodes and, where needed, a shaper back."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.colour.icc import lab_from_device
from printprep.render.chain import Chain

SIZE = 65
"""Nodes a side. 33 leave up to 2 CIEDE2000 between nodes where the gamut bends; see benchmarks/tables.py."""

_CODES = 65536
_STEEP = 6.0
"""Where a profile's curve is this much steeper at one place than its mean, colours between nodes are
interpolated in L* and taken back to codes by a shaper of their own (linear profiles; it costs a fifth of the speed)."""

_EVEN = 0.02
"""Share of plain device value in the shaper, so that it rises even where a profile's greys stand still."""


@dataclass(frozen=True, eq=False)
class Table:
    """A compiled chain.

    Parameters
    ----------
    shaper : (65536,) ndarray of float32
        Coordinate in the cube, 0..1, of every 16-bit device code.
    cube : (n, n, n, 3) ndarray of float32
        Results at the nodes, red slowest; device values, or shaped ones if there is an `unshaper`.
    unshaper : (m,) ndarray of float32, or None
        Device value of an evenly spaced result.
    """

    shaper: NDArray[np.float32]
    cube: NDArray[np.float32]
    unshaper: NDArray[np.float32] | None = None

    @property
    def size(self) -> int:
        """Nodes a side."""
        return len(self.cube)


def grey_curve(profile: bytes) -> NDArray[np.float64]:
    """The lightness of a profile's greys.

    Parameters
    ----------
    profile : bytes
        ICC profile, RGB.

    Returns
    -------
    (65536,) ndarray
        L* / 100 of equal red, green and blue, made to rise strictly from 0 to 1.
    """
    codes = np.linspace(0, 1, _CODES)
    lightness = lab_from_device(np.repeat(codes[:, None], 3, axis=1), profile, model="RGB")[:, 0]
    rising = np.maximum.accumulate(np.clip(lightness, 0, None)).astype(np.float64)
    if rising[-1] <= rising[0]:
        return codes
    return np.asarray((1 - _EVEN) * (rising - rising[0]) / (rising[-1] - rising[0]) + _EVEN * codes)


def compile_table(chain: Chain, size: int = SIZE) -> Table:
    """Evaluate a chain at the nodes of a table.

    Parameters
    ----------
    chain : Chain
        All steps must be pointwise.
    size : int
        Nodes a side.

    Returns
    -------
    Table
        The nodes stand evenly in the source's L*, so that dark colours get their share.
    """
    codes = np.linspace(0, 1, _CODES)
    shaper = grey_curve(chain.profile)
    axis = np.interp(np.linspace(0, 1, size), shaper, codes).astype(np.float32)

    def slab(first: int) -> NDArray[np.float32]:
        nodes = np.stack(np.meshgrid(axis[first : first + step], axis, axis, indexing="ij"), -1)
        return chain(nodes)

    workers = _cores()
    step = -(-size // (2 * workers))
    with ThreadPoolExecutor(workers) as pool:
        cube = np.concatenate(list(pool.map(slab, range(0, size, step))))
    out = shaper if chain.out_profile == chain.profile else grey_curve(chain.out_profile)
    unshaper = None
    if np.max(np.diff(out)) * _CODES > _STEEP:
        cube = np.interp(cube, codes, out).astype(np.float32)
        unshaper = np.interp(codes, out, codes).astype(np.float32)
    return Table(shaper.astype(np.float32), np.ascontiguousarray(cube), unshaper)


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
