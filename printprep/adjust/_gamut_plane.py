"""What gamut-fit must know of a gamut: in Oklab, how far it reaches, and how lightness and hue should give way."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from threading import Lock

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from printprep.colour._boundary import envelope, grid_triangles
from printprep.colour.grid import Ring
from printprep.colour.hue import lab_from_oklab, oklab_from_lab
from printprep.colour.solid import HUES, LEVELS, Solid
from printprep.files import cache
from printprep.photo.bands import run, thread_count

Array = NDArray[np.float32]

_ROWS = 193
_FLOOR = 1e-3  # no ray ends at nothing, so that ratios stay finite


@dataclass(frozen=True)
class Price:
    """What chroma is worth in lightness; hue is worth `HUE` times that.

    `pull` is the weight of chroma lost against lightness moved, near grey (Oklab times 100); `fade` how that weight
    falls with chroma, for colour differences count for less between strong colours.
    """

    pull: float
    fade: float


AREA, PIXEL = Price(9.0, 0.25), Price(9.0, 0.4)
"""What areas pay, which move as a whole, and what pixels pay on top of that.

Observers trade lightness for chroma at about 1 : 2 to 1 : 2.4 (Katoh and Ito 1996; Ebner and Fairchild 1997); one
Oklab unit of chroma is about three of C*ab. The two are where the colour-image difference of both intents
(`benchmarks.lively`) is best together.
"""

HUE = 1.5
"""What a turn of hue costs, against as large a loss of chroma.

Held at any price, hue costs blues their depth and light cyans a third of their colour. Colour difference formulas have
it between 1.5 and 2 (CIEDE2000: S_C over S_H at C* 25 to 60).
"""

_TURNS = np.arange(-24, 25, 4)
"""Degrees by which hue may turn."""

_FAR = 24
"""Steps of a little over one Oklab lightness (times 100) that shifts are looked for each way: none is worth more."""

_REACH = (1.0, 2.5)
"""Bounds of how many times the paper's chroma a source may ask for."""

_SLIDE_HUES, _SLIDE_ROWS, _SLIDE_STEPS = 90, 49, 12
_SLIDE_FAR = 36.0
"""Largest excess of chroma that the shift is worked out for; Oklab times 100, blue of ROMM RGB has 60."""


class Plane:
    """Grids over Oklab lightness and hue for a gamut and the source that asks; without it twice the gamut's chroma."""

    def __init__(self, gamut: Solid, source: Solid | None) -> None:
        ends = oklab_from_lab(np.array([[gamut.black_L, 0, 0], [gamut.white_L, 0, 0.0]]))
        self.low, self.high = float(ends[0, 0]), float(ends[1, 0])
        self._gamut, self._slides = gamut, dict[Price, Array]()
        self._name = f"{gamut.fingerprint} {source and source.fingerprint}"
        self.chroma, reach = cache.made(f"plane {self._name}", lambda: self._grids(source))
        self._ring = Ring(self.chroma, reach)

    def _grids(self, source: Solid | None) -> tuple[NDArray[np.float64], Array]:
        """Largest chroma, and how many times that the source may ask for."""
        gamut = self._gamut
        level = np.linspace(gamut.black_L, gamut.white_L, (LEVELS + 1) // 2)
        chroma = gamut.rows(level)[:, ::2].astype(np.float64)
        angle = np.arange(0, HUES, 2) * (2 * np.pi / HUES)
        across, up = chroma * np.cos(angle), chroma * np.sin(angle)
        sheet = oklab_from_lab(np.stack([np.broadcast_to(level[:, None], across.shape), across, up], axis=-1))
        around = np.concatenate([sheet, sheet[:, :1]], axis=1).astype(np.float64)
        chroma = np.maximum(envelope(grid_triangles(around), self.low, self.high, _ROWS, HUES), _FLOOR)
        return chroma, self._reach(chroma, source)

    def __call__(self, L: Array, hue: Array) -> tuple[Array, Array]:
        """Largest chroma, and how many times that the source may ask for; `hue` in columns of a degree."""
        chroma, reach = self._ring((L - np.float32(self.low)) * np.float32((_ROWS - 1) / (self.high - self.low)), hue)
        return chroma, reach

    def slide(self, price: Price, L: Array, hue: Array, excess: Array) -> Array:
        """By how much lightness and hue should give way to save chroma: L (Oklab times 100) and degrees, (2, n).

        `price` is `AREA` or `PIXEL`; `hue` is in columns of a degree, `excess` is chroma beyond what the gamut holds.
        """
        row = (L - np.float32(self.low)) * np.float32((_SLIDE_ROWS - 1) / (self.high - self.low))
        far = np.clip(excess * np.float32((_SLIDE_STEPS - 1) ** 2 / _SLIDE_FAR), 0, (_SLIDE_STEPS - 1) ** 2)
        k = np.minimum(np.sqrt(far).astype(np.int32), _SLIDE_STEPS - 2)  # nodes at squares, linear between
        part = (far - np.square(k)) / (2 * k + 1).astype(np.float32)
        row = np.clip(row, 0, _SLIDE_ROWS - 1)
        i = np.minimum(row.astype(np.int32), _SLIDE_ROWS - 2)
        u = row - i
        column = hue * np.float32(_SLIDE_HUES / HUES)
        whole = np.floor(column)
        v = column - whole
        j = np.mod(whole.astype(np.int32), np.int32(_SLIDE_HUES))
        first = (j * np.int32(_SLIDE_ROWS) + i) * np.int32(_SLIDE_STEPS) + k
        out, slides = np.zeros((2, len(L)), np.float32), self._of(price)
        for across, weight_v in ((0, 1 - v), (_SLIDE_ROWS * _SLIDE_STEPS, v)):
            for down, weight_u in ((0, 1 - u), (_SLIDE_STEPS, u)):
                at = first + np.int32(across + down)
                near = slides.take(at, axis=1)
                out += weight_v * weight_u * (near + part * (slides.take(at + 1, axis=1) - near))
        return out

    def _reach(self, chroma: NDArray[np.float64], source: Solid | None) -> Array:
        gamut = self._gamut
        if source is None:
            return np.full(chroma.shape, 2.0, np.float32)
        L = np.linspace(self.low, self.high, _ROWS, dtype=np.float32)[:, None]
        turn = np.arange(HUES, dtype=np.float32) * np.float32(2 * np.pi / HUES)
        across, up = chroma * np.cos(turn), chroma * np.sin(turn)
        lab = lab_from_oklab(np.stack([np.broadcast_to(L, across.shape), across, up], axis=-1))
        h = np.degrees(np.arctan2(lab[..., 2], lab[..., 1]))
        ratio = source.max_chroma(lab[..., 0], h) / np.maximum(gamut.max_chroma(lab[..., 0], h), np.float32(_FLOOR))
        return np.clip(ratio, *_REACH).astype(np.float32)

    def _of(self, price: Price) -> Array:
        """The shifts at a price, worked out when they are first asked for; a field needs those of areas only."""
        if price not in self._slides:
            with _making:
                if price not in self._slides:
                    (self._slides[price],) = cache.made(f"slides {self._name} {price}", lambda: (self._best(price),))
        return self._slides[price]

    def _best(self, price: Price) -> Array:
        """Best shifts and turns at every lightness, hue and excess of a coarse grid, flat, hue 0 again at the end.

        The shift d and the turn t minimise ``d^2 + (w max(C - most(L + d, h + t), 0))^2 + (v w C t)^2`` with ``w =
        pull / (1 + fade C)``, v `HUE`; a soft minimum over all candidates, less its value where nothing is in excess.
        """
        step = np.linspace(0, 1, _SLIDE_STEPS, dtype=np.float32)
        here = np.ascontiguousarray(self.chroma[:: (_ROWS - 1) // (_SLIDE_ROWS - 1), :: HUES // _SLIDE_HUES].T)
        C = here[:, :, None] + np.float32(_SLIDE_FAR) * step * step  # (hues, rows, steps)
        weight = np.square(np.float32(price.pull) / (1 + np.float32(price.fade) * C))
        turn = np.radians(_TURNS, dtype=np.float32)
        d = np.arange(-_FAR, _FAR + 1, dtype=np.float32) * np.float32((self.high - self.low) / (_ROWS // 2))
        shift = np.empty((2, *C.shape), np.float32)
        each = np.broadcast_arrays(np.float32(1), d, _TURNS.astype(np.float32)[:, None])
        counted = np.stack(each, axis=-1).reshape(-1, len(each))

        def at(hue: int) -> None:
            there = self.chroma[::2, (hue * (HUES // _SLIDE_HUES) + _TURNS) % HUES]
            there = np.pad(there, ((_FAR, _FAR), (0, 0)), constant_values=-np.inf)
            there = sliding_window_view(there, len(d), axis=0)[:: _ROWS // 2 // (_SLIDE_ROWS - 1)]
            over, w = C[hue], weight[hue]
            cost = np.square(np.maximum(over[..., None, None] - there[:, None], 0))  # (rows, steps, turns, shifts)
            cost += np.square(HUE * over[..., None] * turn)[..., None]
            cost *= w[..., None, None]
            cost += np.square(d)
            least = cost.min(axis=(-2, -1), keepdims=True)
            likely = np.exp(np.subtract(least, cost, out=cost), out=cost)
            total, shift[0, hue], shift[1, hue] = np.moveaxis(likely.reshape(*over.shape, -1) @ counted, -1, 0)
            shift[:, hue] /= total

        run(len(C), thread_count(), lambda: at)
        shift -= shift[..., :1]
        return np.concatenate([shift, shift[:, :1]], axis=1).reshape(2, -1)


def plane(gamut: Solid, source: Solid | None) -> Plane:
    """The grids of a gamut; kept, because they are asked for again with every band."""
    with _making:  # threads that begin together wait for one of them
        return _kept(gamut, source)


@lru_cache(maxsize=32)
def _kept(gamut: Solid, source: Solid | None) -> Plane:
    return Plane(gamut, source)


_making = Lock()
