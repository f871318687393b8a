"""A gamut solid: how far colours reach from the neutral axis, for every lightness and hue."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import cached_property
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.colour._boundary import axis_crossings, cube_triangles, envelope
from printprep.colour._nearest import Boundary
from printprep.colour.grid import Ring
from printprep.colour.lab import Floats, polar
from printprep.files import cache

LEVELS = 257
"""Lightness levels of the stored boundary, darkest to white: 0.4 L* apart or less."""

HUES = 360
"""Hue directions of the stored boundary: one degree apart."""


class Solid:
    """What a medium or a colour space holds, in media-relative CIELAB (D50).

    The boundary is stored as the largest chroma, (LEVELS, HUES): row i at ``L* = floor_L + i (white_L - floor_L) /
    (LEVELS - 1)``, column j at hue angle ``j`` degrees, and interpolated linearly between. So it is watertight by its
    form: every horizontal ray from the neutral axis meets it exactly once. Concavities that can be seen from the axis
    are kept.

    `black_L` and `white_L` are the ends of the neutral axis, `floor_L` the lightness of the darkest colour, where
    that is darker than the darkest neutral. Between the two the boundary goes on, closed towards the axis by a cone
    where nothing else is known.
    """

    def __init__(
        self, chroma: ArrayLike, black_L: float, white_L: float = 100.0, floor_L: float | None = None
    ) -> None:
        floor = black_L if floor_L is None else floor_L
        grid = np.ascontiguousarray(chroma, np.float32)
        if grid.shape != (LEVELS, HUES) or not np.isfinite(grid).all():
            raise ValueError(f"a solid needs {LEVELS} x {HUES} finite chroma values")
        if not -1e-6 <= floor <= black_L < white_L <= 101:
            raise ValueError(f"a solid needs 0 <= floor <= black < white <= 101, not {floor}, {black_L}, {white_L}")
        self.chroma = np.maximum(grid, 0)
        self.chroma.flags.writeable = False
        self.black_L, self.white_L, self.floor_L = float(black_L), float(white_L), float(floor)

    # --- building -------------------------------------------------------------------------

    @classmethod
    def from_cube(cls, lab: ArrayLike) -> Self:
        """The solid of a three-channel device or space, from media-relative Lab, (n, n, n, 3), at even steps."""
        triangles = cube_triangles(np.asarray(lab, np.float64))
        return cls.from_triangles(triangles).including(triangles.reshape(-1, 3))

    @classmethod
    def from_triangles(cls, triangles: ArrayLike, *, black_L: float | None = None) -> Self:
        """The outermost surface of triangles in media-relative Lab, (m, 3, 3), of which several sheets may overlap.

        The neutral axis ends at `black_L`, if given; else where it leaves the surface.
        """
        corners = np.asarray(triangles, np.float64)
        enclosed, high = axis_crossings(corners)
        if abs(high - 100) < 0.05:  # media-relative white is 100 by definition; the rest is rounding
            high = 100.0
        black = max(enclosed, 0.0) if black_L is None else black_L
        floor = min(max(float(corners[..., 0].min()), 0.0), black)
        chroma = envelope(corners, floor, high, LEVELS, HUES)
        level = np.linspace(floor, high, LEVELS)
        first = min(int(np.searchsorted(level, enclosed)), LEVELS - 2)
        if first > 0:  # below what the triangles enclose: close the bottom in a cone
            cone = chroma[first] * ((level[:first, None] - floor) / (level[first] - floor))
            chroma[:first] = np.maximum(chroma[:first], cone)
        return cls(chroma, black, high, floor)

    def intersection(self, other: Solid) -> Solid:
        """What both solids hold."""
        black, white = max(self.black_L, other.black_L), min(self.white_L, other.white_L)
        floor = max(self.floor_L, other.floor_L)
        level = np.linspace(floor, white, LEVELS)
        return Solid(np.minimum(self.rows(level), other.rows(level)), black, white, floor)

    def including(self, lab: ArrayLike) -> Self:
        """The solid pulled out, between the nearest rays only, to hold Lab colours, (m, 3), that are known to be held.

        Those darker than the floor or lighter than white are left out.
        """
        lab = np.asarray(lab, np.float64).reshape(-1, 3)
        C, turn = polar(lab)
        h = np.degrees(turn)
        row = (lab[:, 0] - self.floor_L) * ((LEVELS - 1) / (self.white_L - self.floor_L))
        out = (self.max_chroma(lab[:, 0], h) < C) & (row >= 0) & (row <= LEVELS - 1)
        grid = self.chroma.copy()
        i, j = np.floor(row[out]).astype(int), np.floor(h[out] * (HUES / 360)).astype(int)
        for down in (0, 1):
            for left in (0, 1):
                at = np.minimum(i + down, LEVELS - 1), (j + left) % HUES
                np.maximum.at(grid, at, C[out].astype(np.float32))
        return type(self)(grid, self.black_L, self.white_L, self.floor_L)

    def rows(self, level: NDArray[np.float64]) -> NDArray[np.float32]:
        """Largest chroma at given lightnesses, all hues: (n, HUES)."""
        at = (level - self.floor_L) * ((LEVELS - 1) / (self.white_L - self.floor_L))
        at = np.clip(at, 0, LEVELS - 1)
        i = np.minimum(at.astype(np.intp), LEVELS - 2)
        part = (at - i).astype(np.float32)[:, None]
        return np.asarray(self.chroma[i] * (1 - part) + self.chroma[i + 1] * part, np.float32)

    # --- asking ---------------------------------------------------------------------------

    def max_chroma(self, L: ArrayLike, h: ArrayLike) -> Floats:
        """Largest C*ab at a lightness L* and a hue angle (degrees, any turns); 0 outside ``floor_L..white_L``."""
        L, h = np.broadcast_arrays(np.asarray(L, np.float32), np.asarray(h, np.float32))
        scale = np.float32((LEVELS - 1) / (self.white_L - self.floor_L))
        row = (L - np.float32(self.floor_L)) * scale
        inside = (row >= -1e-4) & (row <= LEVELS - 1 + 1e-4)
        return np.where(inside, self._ring(row, h * np.float32(HUES / 360))[0], np.float32(0))

    def contains(self, lab: ArrayLike) -> NDArray[np.bool_]:
        """Whether media-relative Lab colours, (..., 3), lie inside."""
        lab = np.asarray(lab, np.float32)
        C, turn = polar(lab)
        h = np.degrees(turn)
        # float32 resolves about 1e-5 of L* 100 and of C* 128: what lies on the surface is inside
        L = np.clip(lab[..., 0], self.floor_L, self.white_L)
        inside = (np.abs(lab[..., 0] - L) <= 2e-5) & (self.max_chroma(L, h) + np.float32(5e-5) >= C)
        return np.array(inside)

    def nearest(self, lab: ArrayLike) -> NDArray[np.float32]:
        """The colours themselves where inside, else the nearest of the boundary by dE*ab; (..., 3)."""
        lab = np.array(lab, np.float32)
        outside = ~self.contains(lab)
        lab[outside] = self._on_boundary(lab[outside])
        return lab

    def _on_boundary(self, lab: NDArray[np.float32]) -> NDArray[np.float32]:
        """Nearest colours of the boundary; where its flat triangles bulge over the stored one, just inside that."""
        found = self._drawn_in(self._boundary.nearest(lab))
        straight = np.array(lab, np.float32)  # along the radius: no nearer, but for the rounding of ridges
        straight[..., 0] = np.clip(straight[..., 0], self.floor_L, self.white_L)
        straight = self._drawn_in(straight, out=True)
        nearer = np.linalg.norm(straight - lab, axis=-1) < np.linalg.norm(found - lab, axis=-1)
        return np.where(nearer[..., None], straight, found)

    def _drawn_in(self, lab: NDArray[np.float32], *, out: bool = False) -> NDArray[np.float32]:
        """Colours moved along the radius: to the boundary where outside, and with `out` where inside too."""
        C, turn = polar(lab)
        most = self.max_chroma(lab[..., 0], np.degrees(turn))
        wanted = most if out else np.minimum(C, most)
        moved = lab.copy()
        moved[..., 1:] *= (wanted / np.maximum(C, np.float32(1e-6)))[..., None]
        moved[..., 1] = np.where(C > 0, moved[..., 1], wanted)
        return moved

    def cusp(self, h: ArrayLike) -> tuple[Floats, Floats]:
        """Lightness and chroma of the most colourful point of each hue (degrees)."""
        at = np.asarray(h, np.float32) * np.float32(HUES / 360)
        L, C = self._cusps(np.zeros_like(at), at)
        return L, C

    @cached_property
    def _ring(self) -> Ring:
        return Ring(self.chroma)

    @cached_property
    def _cusps(self) -> Ring:
        level = np.linspace(self.floor_L, self.white_L, LEVELS, dtype=np.float32)
        return Ring(level[self.chroma.argmax(axis=0)][None], self.chroma.max(axis=0)[None])

    @cached_property
    def volume(self) -> float:
        """Volume in cubic dE*ab: the integral of C*^2 / 2 over hue and lightness."""
        here = self.chroma.astype(np.float64)
        beside = np.roll(here, -1, axis=1)
        # exact for the flat-sided sectors between two hue columns, by Simpson's rule in lightness
        area = here * beside
        middle = 0.25 * (here[1:] + here[:-1]) * (beside[1:] + beside[:-1])
        step = (self.white_L - self.floor_L) / (LEVELS - 1)
        return float((area[:-1] + 4 * middle + area[1:]).sum() * 0.5 * np.sin(2 * np.pi / HUES) * step / 6)

    @cached_property
    def _boundary(self) -> Boundary:
        return Boundary(self.chroma, self.floor_L, self.white_L)

    # --- identity -------------------------------------------------------------------------

    @cached_property
    def fingerprint(self) -> str:
        """A stable hash of the boundary."""
        ends = np.array([self.floor_L, self.black_L, self.white_L]).tobytes()
        return hashlib.blake2b(ends + self.chroma.tobytes(), digest_size=16).hexdigest()

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Solid) and self.fingerprint == other.fingerprint

    def __hash__(self) -> int:
        return hash(self.fingerprint)

    def __reduce__(self) -> tuple[type[Self], tuple[NDArray[np.float32], float, float, float]]:
        return type(self), (self.chroma, self.black_L, self.white_L, self.floor_L)

    def __repr__(self) -> str:
        return f"<Solid L* {self.black_L:.1f}..{self.white_L:.1f}, {self.volume:.0f} cubic dE>"


def kept(name: str, make: Callable[[], Solid]) -> Solid:
    """A gamut solid, by a name of all that shapes it: found in the cache, or made and kept there."""

    def parts() -> tuple[NDArray[np.float32], NDArray[np.float64]]:
        made = make()
        return made.chroma, np.array([made.black_L, made.white_L, made.floor_L])

    chroma, ends = cache.made(f"solid {name}", parts)
    return Solid(chroma, *ends.tolist())
