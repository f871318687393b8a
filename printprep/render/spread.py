"""Run a step that looks around at the speed of tables; in view of neighbours only where it must."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import BLOCK, Adjustment, Lab, Spread, Steps
from printprep.adjust._blocks import at_pixels, block_means
from printprep.conditions.conditions import Conditions
from printprep.render.chain import Chain
from printprep.render.engine import Engine
from printprep.render.pixels import Through
from printprep.render.table import SIZE, Table, evened, on_nodes, source_axis

_STRIP, _LONGEST = 128, 2048
"""Rows and columns that are treated together: where they are few, threads wait for one another. Where no block of a
strip takes part, the plain table is all there is to do."""

_LEAVE = 81
"""Nodes a side of the table that leads back: it bends where the gamut ends, and 65 leave half as much error again."""

_PAUSE = 16
"""Blocks that take no part and are not worth an interruption."""


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
        The whole chain with the step in its flat form: what holds where no block takes part.
    asked, fitted : Table
        Source codes to the step's own space, and the same fitted.
    leave : Table
        That space within `box` to what is handed over.
    box : (3, 2) ndarray
        Coordinates at the ends of the sides of `leave`.
    """

    plain: Table
    asked: Table
    fitted: Table
    leave: Table
    box: NDArray[np.float64]

    def arrays(self) -> tuple[NDArray[np.float32], ...]:
        """All but the plain table, which is kept by itself; as `of` takes them."""
        parts = (*self.asked.arrays(), *self.fitted.arrays(), *self.leave.arrays())
        return (*parts, self.box.astype(np.float32))

    @classmethod
    def of(cls, plain: Table, arrays: list[NDArray[np.float32]] | None) -> SpreadTables | None:
        """The tables of such parts, if that is what they are."""
        if arrays is None or len(arrays) != 10 or arrays[9].shape != (3, 2):
            return None
        asked, fitted, leave = (Table.of(arrays[k : k + 3]) for k in (0, 3, 6))
        if asked is None or fitted is None or leave is None:
            return None
        return cls(plain, asked, fitted, leave, arrays[9].astype(np.float64))


def compile_spread(chain: Chain, at: int, plain: Table, size: int = SIZE) -> SpreadTables:
    """Evaluate the parts of a chain around a spread step at the nodes of tables.

    Parameters
    ----------
    chain : Chain
        With the step at `at` in its spread form, all others pointwise.
    at : int
        Which step.
    plain : Table
        The chain with the step in its flat form.
    size : int
        Nodes a side of the tables that lead in.
    """
    before, step, after = _split(chain.steps, at)
    parts = step.spread(chain.on)
    assert parts is not None
    axis, shaper, steep = source_axis(chain, size)

    def enter(rgb: NDArray[np.float32]) -> NDArray[np.floating]:
        asked = parts.enter(before(chain.to_print(rgb), chain.on))
        return np.concatenate([asked, parts.fit(asked)], axis=-1)

    def leave(mended: NDArray[np.float32]) -> NDArray[np.floating]:
        return chain.hand_over(after(parts.leave(mended), chain.on))

    into = on_nodes(enter, axis, axis, axis).astype(np.float32)
    box = np.stack([_side(into[..., 3 + k], _LEAVE, around_zero=k > 0) for k in range(3)])
    out = on_nodes(leave, *(np.linspace(low, high, _LEAVE, dtype=np.float32) for low, high in box))
    unshaper = None
    if steep:
        out, unshaper = evened(out, chain.out_profile)
    shaped = None if shaper is None else shaper.astype(np.float32)
    asked, fitted = (Table(np.ascontiguousarray(into[..., k : k + 3]), shaped) for k in (0, 3))
    return SpreadTables(plain, asked, fitted, Table(out.astype(np.float32), None, unshaper), box)


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
        The step's own part: how far blocks take part, and what is done in view of neighbours.
    """

    def __init__(self, tables: SpreadTables, parts: Spread) -> None:
        self._parts = parts
        self._plain, self._asked, self._fitted = Engine(tables.plain), Engine(tables.asked), Engine(tables.fitted)
        self._leave = Engine(tables.leave, tables.box)

    @property
    def halo(self) -> int:
        """Rows and columns that must be known around those that are asked for."""
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
        weights = self._weights(band)
        active = _grown(weights > 0)
        for strip_top in range(top // _STRIP * _STRIP, top + rows, _STRIP):
            # whole strips, so that running sums do not depend on where bands are cut
            start, end = strip_top - begins, min(strip_top + _STRIP - begins, len(band))
            first, last = max(strip_top, top), min(strip_top + _STRIP, top + rows)
            strip, wanted = out[first - top : last - top], slice(first - strip_top, last - strip_top)
            at_work = np.asarray(active[start // BLOCK : -(-end // BLOCK)].any(axis=0))
            if not at_work.any():
                strip[:] = band[start:end][wanted]
                self._plain.apply(strip)
                continue
            for left, right, mend in _runs(at_work, columns):
                if mend:
                    tile = self._mended(band, weights, start, end, left, right)
                else:
                    tile = band[start:end, left:right].copy()
                    self._plain.apply(tile)
                strip[:, left:right] = tile[wanted]

    def _weights(self, band: NDArray[np.uint16]) -> Lab:
        """How far each block takes part."""
        import cv2

        cv2.setNumThreads(1)  # bands have threads of their own
        # exact evaluation takes means in the step's own space; those of codes differ a little where colours meet
        return self._parts.weigh(np.stack(self._asked.planes(block_means(band)), axis=-1))

    def _mended(
        self, band: NDArray[np.uint16], weights: Lab, start: int, end: int, left: int, right: int
    ) -> NDArray[np.uint16]:
        """A rectangle of the band in view of its neighbours."""
        import cv2

        halo = self.halo
        above, beside = max(0, start - halo), max(0, left - halo)
        codes = np.ascontiguousarray(band[above : end + halo, beside : right + halo])
        weight = at_pixels(weights, start, end - start, left, right - left)
        inner = slice(start - above, end - above), slice(left - beside, right - beside)
        tile = self._leave.codes(self._parts.mend(self._asked.planes(codes), self._fitted.planes(codes), weight, inner))
        still = (weight == 0).astype(np.uint8)
        if still.any():
            plain = codes[inner].copy()
            self._plain.apply(plain)
            tile = cv2.copyTo(plain, still, tile)
        return tile


def _runs(at_work: NDArray[np.bool_], columns: int) -> Iterator[tuple[int, int, bool]]:
    """Columns in which some block takes part or none does, from left to right; short pauses count as taking part."""
    at = np.flatnonzero(at_work)
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
    """Blocks that take part, and their neighbours: interpolation carries a weight half a block on."""
    wide = np.pad(mask, 1)
    rows, columns = mask.shape
    grown = np.zeros_like(mask)
    for i in range(3):
        for j in range(3):
            grown |= wide[i : i + rows, j : j + columns]
    return grown


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
