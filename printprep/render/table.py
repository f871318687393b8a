"""Fold a chain of pointwise steps into one table: a shaper, a cube of nodes and, where needed, a shaper back."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from printprep.colour.icc import lab_from_device
from printprep.photo.bands import thread_count
from printprep.render.chain import Chain

SIZE = 65
"""Nodes a side. 33 leave up to 2 CIEDE2000 between nodes where the gamut bends; see benchmarks/tables.py."""

_CODES = 65536
_STEEP = 4.0
"""Where a profile's greys rise this many times faster than on average over a 64th of its codes (linear profiles),
nodes stand evenly in L*, results are interpolated in L*, and a second shaper takes them back to codes; the two cost
a fifth of the speed."""

_GREY = 0.07
"""Error of greys, CIEDE2000, beyond which a shaper gives the darkest codes more nodes; it costs a twentieth of
the speed, so tables that do without it have none."""

_FOOT = (5 / 32, 15 / 64)
"""Codes below the first get as many nodes as, evenly spread, those below the second would: 15 of 64, one of them
on the end of ROMM's straight foot (1/32, ISO 22028-2)."""

_EVEN = 0.02
"""Share of plain device value in the shaper, so that it rises even where a profile's greys stand still."""


@dataclass(frozen=True, eq=False)
class Table:
    """A compiled chain.

    Parameters
    ----------
    cube : (n, n, n, 3) ndarray of float32
        Results at the nodes, red slowest; device values, or shaped ones if there is an `unshaper`.
    shaper : (65536,) ndarray of float32, or None
        Coordinate in the cube, 0..1, of every 16-bit device code; the code itself if None.
    unshaper : (m,) ndarray of float32, or None
        Device value of an evenly spaced result; the result itself if None.
    """

    cube: NDArray[np.float32]
    shaper: NDArray[np.float32] | None = None
    unshaper: NDArray[np.float32] | None = None

    @property
    def size(self) -> int:
        """Nodes a side."""
        return len(self.cube)

    def arrays(self) -> tuple[NDArray[np.float32], ...]:
        """Its parts, as `of` takes them; a shaper that is not there is empty."""
        none = np.empty(0, np.float32)
        return tuple(none if part is None else part for part in (self.cube, self.shaper, self.unshaper))

    @property
    def fingerprint(self) -> str:
        """A stable hash of its values."""
        digest = hashlib.blake2b(digest_size=16)
        for part in self.arrays():
            digest.update(f"{part.shape}".encode() + np.ascontiguousarray(part).tobytes())
        return digest.hexdigest()

    @classmethod
    def of(cls, arrays: list[NDArray[Any]] | None) -> Self | None:
        """The table of such parts, if that is what they are."""
        if arrays is None or [a.dtype for a in arrays] != [np.float32] * 3:
            return None
        cube, shaper, unshaper = arrays
        if cube.ndim != 4 or cube.shape[3] != 3 or shaper.shape not in ((0,), (_CODES,)) or unshaper.ndim != 1:
            return None
        return cls(cube, shaper if shaper.size else None, unshaper if unshaper.size else None)


def grey_curve(profile: bytes, count: int = _CODES) -> NDArray[np.float64]:
    """L* / 100 of a profile's greys, evenly in codes, made to rise strictly from 0 to 1."""
    codes = np.linspace(0, 1, count)
    lightness = lab_from_device(np.repeat(codes[:, None], 3, axis=1), profile)[:, 0]
    rising = np.maximum.accumulate(np.clip(lightness, 0, None)).astype(np.float64)
    if rising[-1] <= rising[0]:
        return codes
    return np.asarray((1 - _EVEN) * (rising - rising[0]) / (rising[-1] - rising[0]) + _EVEN * codes)


def compile_table(chain: Chain, size: int = SIZE) -> Table:
    """Evaluate a chain of pointwise steps at the nodes of a table, `size` a side.

    They stand about evenly in the source's L*, so that dark colours get their share.
    """
    axis, shaper, steep = source_axis(chain, size)
    cube, unshaper = on_nodes(chain, axis, axis, axis), None
    if steep:  # made even in lightness, with the shaper that takes it back to device values
        codes, out = np.linspace(0, 1, _CODES), grey_curve(chain.out_profile)
        cube, unshaper = np.interp(cube, codes, out), np.interp(codes, out, codes).astype(np.float32)
    return Table(cube.astype(np.float32), None if shaper is None else shaper.astype(np.float32), unshaper)


def source_axis(chain: Chain, size: int = SIZE) -> tuple[NDArray[np.float32], NDArray[np.float64] | None, bool]:
    """Device values of the nodes along each side, the shaper that spaces them, and whether results need one too."""
    codes, axis, shaper = np.linspace(0, 1, _CODES), np.linspace(0, 1, size), None
    steep = max(_steepest(profile) for profile in {chain.profile, chain.out_profile}) > _STEEP
    if steep:
        shaper = grey_curve(chain.profile)
    elif _grey_error(chain, size) > _GREY:
        shaper = np.interp(codes, (0, _FOOT[0], 1), (0, _FOOT[1], 1))
    if shaper is not None:
        axis = np.interp(axis, shaper, codes)
    return axis.astype(np.float32), shaper, steep


def _grey_error(chain: Chain, size: int) -> float:
    """Largest error of greys, CIEDE2000, between nodes that stand evenly in codes."""
    between = 16
    greys = np.linspace(0, 1, between * (size - 1) + 1)
    exact = chain(np.repeat(greys[:, None], 3, axis=1).astype(np.float32))
    nodes = np.stack([np.interp(greys, greys[::between], exact[::between, k]) for k in range(3)], axis=-1)
    wanted, got = (lab_from_device(device, chain.out_profile)[:, 0] for device in (exact, nodes))
    # the weight of lightness in CIEDE2000 (Sharma et al. 2005, equation 14); greys stay grey
    weight = 1 + 0.015 * (wanted - 50) ** 2 / np.sqrt(20 + (wanted - 50) ** 2)
    return float(np.max(np.abs(got - wanted) / weight))


def on_nodes(
    function: Callable[[NDArray[np.float32]], NDArray[np.floating]], *axes: NDArray[np.float32]
) -> NDArray[np.floating]:
    """A function of colours at all nodes of three axes, on all cores; (n, n, n, 3), first axis slowest."""
    from concurrent.futures import ThreadPoolExecutor

    one, two, three = axes

    def slab(first: int) -> NDArray[np.floating]:
        return function(np.stack(np.meshgrid(one[first : first + step], two, three, indexing="ij"), -1))

    workers = thread_count()
    step = -(-len(one) // (2 * workers))
    with ThreadPoolExecutor(workers) as pool:
        return np.concatenate(list(pool.map(slab, range(0, len(one), step))))


def _steepest(profile: bytes) -> float:
    """Largest slope of its greys over a 64th of the scale; single codes may jump where a curve is coarse."""
    curve = grey_curve(profile, 1025)
    return float(np.max(curve[16:] - curve[:-16])) * 64
