"""Shapes on a sheet, in millimetres and Lab, and their pixels, band by band."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from printprep.colour.icc import device_from_lab
from printprep.colour.lab import Array, lab_from_lch, lab_from_xyz, xyz_from_lab
from printprep.colour.profile import Profile
from printprep.render.text import Align, coverage, letters

LabTuple = tuple[float, float, float]
ToPrint = Callable[[Array], Array]
"""Lab in the file to Lab on the print, (n, 3)."""

WHITE: LabTuple = (100.0, 0.0, 0.0)
BLACK: LabTuple = (0.0, 0.0, 0.0)


def lab_of(lightness: float, chroma: float, hue: float, digits: int = 2) -> LabTuple:
    """The colour of a lightness, chroma and hue angle in degrees, rounded."""
    L, a, b = lab_from_lch(np.array([lightness, chroma, hue])).round(digits).tolist()
    return L, a, b


def encoded(lab: Array, space: str) -> Array:
    """Media-relative Lab (n, 3) in a well-known space, 0..1; neutrals get three equal values, whatever the rounding."""
    rgb = np.asarray(device_from_lab(lab, Profile.named(space).data), np.float64)
    neutral = (lab[:, 1] == 0) & (lab[:, 2] == 0)
    rgb[neutral] = rgb[neutral, 1:2]
    return np.clip(rgb, 0, 1)


@dataclass(frozen=True)
class Block:
    """A rectangle of one colour; a patch where it has a name."""

    x: float
    y: float
    w: float
    h: float
    lab: LabTuple
    name: str = ""


@dataclass(frozen=True)
class Disc:
    """A disc of one colour; a patch where it has a name."""

    x: float
    y: float
    r: float
    lab: LabTuple
    name: str = ""


@dataclass(frozen=True)
class Polygon:
    """A closed outline of one colour; points (n, 2) in mm."""

    points: tuple[tuple[float, float], ...]
    lab: LabTuple


@dataclass(frozen=True)
class Label:
    """A line of text."""

    x: float
    baseline: float
    text: str
    em: float
    align: Align = "left"
    bold: bool = False
    lab: LabTuple = (30.0, 0.0, 0.0)


@dataclass(frozen=True)
class Gradient:
    """Colours that run smoothly from left to right, and from top to bottom where there are several rows."""

    x: float
    y: float
    w: float
    h: float
    nodes: tuple[tuple[LabTuple, ...], ...]


@dataclass(frozen=True)
class Lines:
    """Even lines of two colours, each `period` wide together, `dark` of it the first colour.

    With ``across`` they lie level; with ``disc`` they fill the disc inscribed in the rectangle.
    """

    x: float
    y: float
    w: float
    h: float
    period: float
    dark: float
    first: LabTuple = BLACK
    second: LabTuple = WHITE
    across: bool = False
    disc: bool = False


Shape = Block | Disc | Polygon | Label | Gradient | Lines


@dataclass
class _Paint:
    """What goes into a rectangle of pixels: colours that broadcast to it, through a mask or a disc."""

    top: int
    left: int
    bottom: int
    right: int
    source: Array
    mask: NDArray[np.uint8] | None = None
    disc: tuple[float, float, float] | None = None
    nodes: bool = False  # the rows of `source` are nodes of a ramp downwards

    def into(self, out: NDArray[np.uint16], first: int) -> None:
        a, b = max(self.top, first), min(self.bottom, first + len(out))
        left, right = max(self.left, 0), min(self.right, out.shape[1])
        if a >= b or left >= right:
            return
        there = out[a - first : b - first, left:right]
        columns = slice(0, 1) if self.source.shape[1] == 1 else slice(left - self.left, right - self.left)
        source = self.source[:, columns]
        if self.nodes:
            source = _stretched(source, self.bottom - self.top, slice(a - self.top, b - self.top))
        elif len(source) > 1:
            source = source[a - self.top : b - self.top]
        if self.mask is None and self.disc is None:
            there[:] = np.rint(source * 65535).astype(np.uint16)
            return
        if self.mask is not None:
            share = self.mask[a - self.top : b - self.top, left - self.left : right - self.left] / 255.0
        else:
            assert self.disc is not None
            x, y, r = self.disc
            away = np.hypot(np.arange(left, right) + 0.5 - x, np.arange(a, b)[:, None] + 0.5 - y)
            share = np.clip(r - away + 0.5, 0, 1)
        behind = there / 65535.0
        there[:] = np.rint((behind + (source - behind) * share[..., None]) * 65535).astype(np.uint16)


@dataclass
class Raster:
    """Shapes of a sheet, in painting order, as rows of 16-bit RGB.

    `space` is the well-known space of the values; `to_print` says what colours turn into before they are encoded,
    `spread_mm` how far the dark of lines runs out on each side.
    """

    shapes: Sequence[Shape]
    width_mm: float
    height_mm: float
    per_mm: float
    space: str
    to_print: ToPrint | None = None
    spread_mm: float = 0.0
    height: int = field(init=False)
    width: int = field(init=False)

    def __post_init__(self) -> None:
        self.height, self.width = round(self.height_mm * self.per_mm), round(self.width_mm * self.per_mm)
        unique = unique_colours(self.shapes)
        printed = unique if self.to_print is None else self.to_print(unique)
        self._printed = dict(zip(map(tuple, unique.tolist()), printed, strict=True))
        self._rgb = dict(zip(map(tuple, unique.tolist()), encoded(printed, self.space), strict=True))
        self._paints = [paint for shape in self.shapes for paint in self._paint(shape)]

    def rgb(self, lab: LabTuple) -> Array:
        """Encoded RGB, 0..1, of a colour that occurs in the shapes."""
        return np.asarray(self._rgb[lab])

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on; several threads may."""
        out[:] = np.rint(self._rgb[WHITE] * 65535).astype(np.uint16)
        self.onto(out, top)

    def onto(self, out: NDArray[np.uint16], top: int = 0) -> None:
        """Paint over the rows from `top` on that are already in `out`."""
        for paint in self._paints:
            paint.into(out, top)

    def whole(self) -> NDArray[np.uint16]:
        """All rows at once."""
        out = np.empty((self.height, self.width, 3), np.uint16)
        self.read(0, out)
        return out

    # --- shapes to paint --------------------------------------------------------------------

    def _rect(self, shape: Block | Gradient | Lines) -> tuple[int, int, int, int]:
        """Whole pixels, so that edges are sharp."""
        p = self.per_mm
        top, left = round(shape.y * p), round(shape.x * p)
        return top, left, max(round((shape.y + shape.h) * p), top + 1), max(round((shape.x + shape.w) * p), left + 1)

    def _paint(self, shape: Shape) -> list[_Paint]:
        p = self.per_mm
        if isinstance(shape, Block):
            return [_Paint(*self._rect(shape), self._rgb[shape.lab][None, None])]
        if isinstance(shape, Disc):
            x, y, r = shape.x * p, shape.y * p, shape.r * p
            box = int(y - r) - 1, int(x - r) - 1, int(y + r) + 2, int(x + r) + 2
            return [_Paint(*box, self._rgb[shape.lab][None, None], disc=(x, y, r))]
        if isinstance(shape, Gradient):
            return [self._ramp(shape)]
        if isinstance(shape, Lines):
            return [self._lines(shape)]
        if isinstance(shape, Polygon):
            mask, top, left = _filled(shape.points, p)
        else:
            mask, top, left = _set(shape.text, shape.x * p, shape.baseline * p, shape.em * p, shape.align, shape.bold)
        return [_Paint(top, left, top + mask.shape[0], left + mask.shape[1], self._rgb[shape.lab][None, None], mask)]

    def _ramp(self, shape: Gradient) -> _Paint:
        """Nodes are even in Lab and many; between them encoded values are taken on a straight line."""
        top, left, bottom, right = self._rect(shape)
        nodes = np.array([[self._rgb[lab] for lab in row] for row in shape.nodes])  # (rows, columns, 3)
        wide = _stretched(nodes.swapaxes(0, 1), right - left).swapaxes(0, 1)
        return _Paint(top, left, bottom, right, wide, nodes=len(nodes) > 1)

    def _lines(self, shape: Lines) -> _Paint:
        top, left, bottom, right = self._rect(shape)
        n = bottom - top if shape.across else right - left
        period, dark = shape.period * self.per_mm, shape.dark * self.per_mm
        share = _dark_share(n, period, dark, self.spread_mm * self.per_mm)
        ends = xyz_from_lab(np.array([self._printed[shape.first], self._printed[shape.second]]))
        levels, back = np.unique(share.round(6), return_inverse=True)
        mixed = lab_from_xyz(levels[:, None] * ends[0] + (1 - levels[:, None]) * ends[1])
        rgb = encoded(np.asarray(mixed, np.float64), self.space)[back]
        for level, end in ((1.0, shape.first), (0.0, shape.second)):
            rgb[share.round(6) == level] = self._rgb[end]
        disc = None
        if shape.disc:
            disc = ((left + right) / 2, (top + bottom) / 2, min(right - left, bottom - top) / 2)
        return _Paint(top, left, bottom, right, rgb[:, None] if shape.across else rgb[None], disc=disc)


@lru_cache(512)
def _set(
    text: str, x: float, baseline: float, em: float, align: Align, bold: bool
) -> tuple[NDArray[np.uint8], int, int]:
    """Text as a mask; kept, because the same sheet is shown under one fault after another."""
    return coverage(letters(text, x, baseline, em, align, bold))


@lru_cache(512)
def _filled(points: tuple[tuple[float, float], ...], per_mm: float) -> tuple[NDArray[np.uint8], int, int]:
    """A polygon as a mask; kept for the same reason."""
    return coverage((np.array(points) * per_mm,))


def _dark_share(n: int, period: float, dark: float, spread: float) -> Array:
    """Share of each of `n` pixels that the dark of even lines covers, the first line starting at 0."""
    wide = min(dark + 2 * spread, period)
    edge = np.arange(n + 1) + spread
    covered = np.floor(edge / period) * wide + np.minimum(edge % period, wide)
    return np.asarray(np.clip(np.diff(covered), 0, 1))


def _stretched(nodes: Array, n: int, part_of: slice = slice(None)) -> Array:
    """(m, ...) nodes, the first and last at the outer edges, as `n` values at pixel centres, or some of them."""
    at = np.clip((np.arange(n)[part_of] + 0.5) / n * (len(nodes) - 1), 0, len(nodes) - 1)
    i = np.minimum(at.astype(int), max(len(nodes) - 2, 0))
    part = (at - i).reshape(-1, *([1] * (nodes.ndim - 1)))
    return np.asarray(nodes[i] * (1 - part) + nodes[np.minimum(i + 1, len(nodes) - 1)] * part)


def unique_colours(shapes: Sequence[Shape]) -> Array:
    """Every colour of some shapes, and white, (n, 3)."""
    return np.unique(np.array([lab for shape in shapes for lab in _colours(shape)] + [WHITE], np.float64), axis=0)


def _colours(shape: Shape) -> list[LabTuple]:
    if isinstance(shape, Gradient):
        return [lab for row in shape.nodes for lab in row]
    if isinstance(shape, Lines):
        return [shape.first, shape.second]
    return [shape.lab]
