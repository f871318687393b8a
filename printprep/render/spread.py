"""Run a step that looks around at the speed of tables: pixels move with their blocks, then one by one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import BLOCK, Adjustment, Lab, Spread, Steps
from printprep.conditions.conditions import Conditions
from printprep.render.chain import Chain
from printprep.render.engine import Engine
from printprep.render.pixels import Through
from printprep.render.table import SIZE, Table, evened, on_nodes, source_axis

_STRIP, _LONGEST = 32, 512
"""Rows and columns that are treated together: they stay in the processor's cache. Where no block of a strip
moves, the plain table is all there is to do."""

_PAUSE = 16
"""Blocks without a move that are not worth an interruption."""


def spread_at(steps: Steps, on: Conditions) -> int | None:
    """Which step has to be run here: the only one that looks around, where it has a fast form."""
    around = [k for k, step in enumerate(steps) if step.reach(on)]
    if len(around) != 1 or steps.items[around[0]].spread(on) is None:
        return None
    return around[0]


@dataclass(frozen=True, eq=False)
class SpreadTables:
    """The tables around a spread step.

    Parameters
    ----------
    plain : Table
        The whole chain with the step pointwise: what holds where no block moves.
    head : Table
        Source codes to Oklab as the step enters it.
    tail : Table
        Oklab within `box` to what is handed over.
    box : (3, 2) ndarray
        Oklab at the ends of the sides of `tail`.
    """

    plain: Table
    head: Table
    tail: Table
    box: NDArray[np.float64]

    def arrays(self) -> tuple[NDArray[np.float32], ...]:
        """Head, tail and box, as `of` takes them; the plain table is kept by itself."""
        return (*self.head.arrays(), *self.tail.arrays(), self.box.astype(np.float32))

    @classmethod
    def of(cls, plain: Table, arrays: list[NDArray[np.float32]] | None) -> SpreadTables | None:
        """The tables of such parts, if that is what they are."""
        if arrays is None or len(arrays) != 7 or arrays[6].shape != (3, 2):
            return None
        head, tail = Table.of(arrays[:3]), Table.of(arrays[3:6])
        return None if head is None or tail is None else cls(plain, head, tail, arrays[6].astype(np.float64))


def compile_spread(chain: Chain, at: int, plain: Table, size: int = SIZE) -> SpreadTables:
    """Evaluate the parts of a chain before and after a spread step at the nodes of two tables.

    Parameters
    ----------
    chain : Chain
        With the step at `at` in its spread form, all others pointwise.
    at : int
        Which step.
    plain : Table
        The chain with the step in its pointwise form.
    size : int
        Nodes a side.
    """
    before, step, after = _split(chain.steps, at)
    parts = step.spread(chain.on)
    assert parts is not None
    axis, shaper, steep = source_axis(chain, size)

    def head(rgb: NDArray[np.float32]) -> NDArray[np.floating]:
        return parts.enter(before(chain.to_print(rgb), chain.on))

    def tail(oklab: NDArray[np.float32]) -> NDArray[np.floating]:
        lab = parts.rest(oklab.reshape(-1, 3)).reshape(oklab.shape)
        return chain.hand_over(after(lab, chain.on))

    into = on_nodes(head, axis, axis, axis)
    box = np.stack([_side(into[..., k], size, around_zero=k > 0) for k in range(3)])
    out = on_nodes(tail, *(np.linspace(low, high, size, dtype=np.float32) for low, high in box))
    unshaper = None
    if steep:
        out, unshaper = evened(out, chain.out_profile)
    shaped = None if shaper is None else shaper.astype(np.float32)
    one, two = Table(into.astype(np.float32), shaped), Table(out.astype(np.float32), None, unshaper)
    return SpreadTables(plain, one, two, box)


def _split(steps: Steps, at: int) -> tuple[Steps, Adjustment, Steps]:
    return Steps(steps.items[:at]), steps.items[at], Steps(steps.items[at + 1 :])


def _side(values: NDArray[np.floating], size: int, *, around_zero: bool) -> tuple[float, float]:
    """Ends of a side that holds all values; zero falls on a node, so that greys are exactly on nodes."""
    low, high = float(values.min()), float(values.max())
    if high - low < 1:
        low, high = low - 0.5, high + 0.5
    if not around_zero:
        return low, high
    low, high = min(low, -0.5), max(high, 0.5)
    below = min(max(round((size - 1) * -low / (high - low)), 1), size - 2)
    step = max(-low / below, high / (size - 1 - below))
    return -below * step, (size - 1 - below) * step


class SpreadEngine:
    """Spread tables ready to run; safe to share between threads.

    Parameters
    ----------
    tables : SpreadTables
        What to apply.
    parts : Spread
        The step's own part: what blocks ask for, and how pixels move.
    """

    def __init__(self, tables: SpreadTables, parts: Spread) -> None:
        self._parts = parts
        self._plain, self._head, self._tail = Engine(tables.plain), Engine(tables.head), Engine(tables.tail, tables.box)

    @property
    def halo(self) -> int:
        """Rows that must be known above and below those that are asked for."""
        return self._parts.around * BLOCK

    def apply(self, band: NDArray[np.uint16], begins: int, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with results.

        Parameters
        ----------
        band : (n, columns, 3) ndarray of uint16
            Rows of the picture from `begins` on, a whole number of blocks: all strips that `out` has
            a part in, and `halo` rows around them, as far as there are any.
        begins, top : int
            Rows of the picture where `band` and `out` begin.
        out : (rows, columns, 3) ndarray of uint16
        """
        rows, columns, _ = out.shape
        small = self._small_field(band)
        moves = _grown(small[..., 3] > 0)
        for strip_top in range(top // _STRIP * _STRIP, top + rows, _STRIP):
            first, last = max(strip_top, top), min(strip_top + _STRIP, top + rows)
            strip = out[first - top : last - top]
            strip[:] = band[first - begins : last - begins]
            at = (strip_top - begins) // BLOCK
            moving = np.asarray(moves[at : at + _STRIP // BLOCK].any(axis=0))
            if not moving.any():
                self._plain.apply(strip)
                continue
            for left, right, move in _runs(moving, columns):
                tile = np.ascontiguousarray(strip[:, left:right])
                if move:
                    self._move(tile, _interpolated(small, first - begins, last - first, left, right))
                else:
                    self._plain.apply(tile)
                strip[:, left:right] = tile

    def _small_field(self, band: NDArray[np.uint16]) -> Lab:
        """What each block asks for."""
        import cv2

        cv2.setNumThreads(1)  # bands have threads of their own
        height, width = band.shape[:2]
        rows, columns = -(-height // BLOCK), -(-width // BLOCK)
        if (rows * BLOCK, columns * BLOCK) != (height, width):
            band = cv2.copyMakeBorder(
                band, 0, rows * BLOCK - height, 0, columns * BLOCK - width, cv2.BORDER_REPLICATE
            )
        codes = cv2.resize(band, (columns, rows), interpolation=cv2.INTER_AREA)
        base = np.empty(codes.shape, np.float32)
        self._head.convert(np.ascontiguousarray(codes, np.uint16), base)
        return self._parts.field(base)

    def _move(self, tile: NDArray[np.uint16], field: Lab) -> None:
        """Overwrite a tile by its results."""
        asked = np.empty(tile.shape, np.float32)
        self._head.convert(tile, asked)
        moved = np.ascontiguousarray(self._parts.move(asked, field))
        weight = field[..., 3:]
        if weight.min() >= 1:
            self._tail.convert(moved, tile)
            return
        together = np.empty(tile.shape, np.uint16)
        self._tail.convert(moved, together)
        self._plain.apply(tile)
        change = together.astype(np.float32)
        change -= tile
        change *= weight
        change += tile
        np.rint(change, out=tile, casting="unsafe")


def _runs(moving: NDArray[np.bool_], columns: int) -> Iterator[tuple[int, int, bool]]:
    """Columns in which some block moves or none does, from left to right; short pauses count as moving."""
    at = np.flatnonzero(moving)
    done = 0
    for run in np.split(at, np.flatnonzero(np.diff(at) > _PAUSE) + 1):
        start, end = int(run[0]) * BLOCK, min((int(run[-1]) + 1) * BLOCK, columns)
        if start > done:
            yield done, start, False
        for left in range(start, end, _LONGEST):
            yield left, min(left + _LONGEST, end), True
        done = end
    if done < columns:
        yield done, columns, False


def _grown(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Blocks that move, and their neighbours: interpolation carries a move half a block on."""
    wide = np.pad(mask, 1)
    rows, columns = mask.shape
    grown = np.zeros_like(mask)
    for i in range(3):
        for j in range(3):
            grown |= wide[i : i + rows, j : j + columns]
    return grown


def _interpolated(small: Lab, top: int, rows: int, left: int, right: int) -> Lab:
    """Block values interpolated to the pixels of a tile, the same whatever tile asks."""
    import cv2

    first, last = max(0, top // BLOCK - 1), min(len(small), -(-(top + rows) // BLOCK) + 1)
    start, end = max(0, left // BLOCK - 1), min(small.shape[1], -(-right // BLOCK) + 1)
    part = np.ascontiguousarray(small[first:last, start:end])
    whole = cv2.resize(part, ((end - start) * BLOCK, (last - first) * BLOCK), interpolation=cv2.INTER_LINEAR)
    above, beside = top - first * BLOCK, left - start * BLOCK
    return np.asarray(whole[above : above + rows, beside : beside + right - left])


@dataclass(frozen=True)
class SpreadPixels(Through):
    """Another picture's pixels, through a spread step and all that is around it.

    The grid of blocks is counted from the picture's first row and column, and every band is read
    with the blocks around it, so the result does not depend on where bands are cut.
    """

    engine: SpreadEngine

    @property
    def row_step(self) -> int:
        """Rows that bands should be multiples of."""
        return _STRIP

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        first = max(0, top // _STRIP * _STRIP - self.engine.halo)
        last = min(self.height, -(-(top + len(out)) // _STRIP) * _STRIP + self.engine.halo)
        band = np.empty((last - first, self.width, 3), np.uint16)
        self.inner.read(first, band)
        self.engine.apply(band, first, top, out)
