"""Resize a part of a picture as its rows are read: Lanczos in two passes, the same pixels wherever bands are cut."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from printprep.photo.pixels import Pixels

LOBES = 3
"""Lobes of the Lanczos kernel on each side: sharp; beside an edge it rings by at most 0.12 of the step, 0.02 where the
picture is made smaller."""

_TILE = 32
"""Output rows, or columns, that are made together, by one small matrix."""

_HELD = 12 << 20
"""Bytes of the picture's rows held at once, if need be."""

_AVERAGED = 2 << 20
"""Bytes of the picture's rows that are averaged at once, if one row of blocks is not more."""

_CHUNK = 12_288
"""Values of a row that are mixed at once."""

_TILES = 16
"""Tiles of columns that are mixed at once."""

_COARSE, _LEFT = 3.0, 1.5
"""How many times smaller a picture gets before it is first averaged in whole blocks, and what is then left to do:
kernels as wide as a gigapixel's reduction would need its rows by the hundred."""


Area = tuple[float, float, float, float]
"""Left, top, width and height of what is shown of a picture, pixels; it may begin and end within pixels."""


@dataclass(frozen=True)
class Tiles:
    """How each pixel of a resized side is mixed from those of the side, in tiles of `_TILE` output pixels.

    Parameters
    ----------
    index : (tiles, taps) ndarray of int
        The pixels that a tile is mixed from; beyond the picture its edge pixel stands in.
    weights : (tiles, _TILE, taps) ndarray of float32
        Rows sum to 1; those past the end of the last tile are 0.
    count : int
        Output pixels.
    """

    index: NDArray[np.intp]
    weights: NDArray[np.float32]
    count: int

    @classmethod
    def lanczos(cls, size: int, resized: int, start: float = 0.0, span: float | None = None) -> Tiles:
        """A Lanczos kernel for a side of `size` pixels, as wide as an output pixel where the picture is made smaller.

        `start` and `span` are the part of the side that is shown, all if not given; pixel centres lie at halves.
        """
        step = (size if span is None else span) / resized
        width = max(step, 1.0)
        reach = int(np.ceil(LOBES * width))
        centre = start + (np.arange(resized) + 0.5) * step - 0.5
        first = np.floor(centre).astype(np.int64) - reach + 1
        x = (first[:, None] + np.arange(2 * reach) - centre[:, None]) / width
        taps = np.where(np.abs(x) < LOBES, np.sinc(x) * np.sinc(x / LOBES), 0.0)
        taps /= taps.sum(axis=1, keepdims=True)
        tiles = -(-resized // _TILE)
        begin = first[::_TILE]
        offset = first - np.repeat(begin, _TILE)[:resized]
        weights = np.zeros((tiles, _TILE, int(offset.max()) + 2 * reach), np.float32)
        at = np.arange(resized)
        weights[(at // _TILE)[:, None], (at % _TILE)[:, None], offset[:, None] + np.arange(2 * reach)] = taps
        index = np.clip(begin[:, None] + np.arange(weights.shape[2]), 0, size - 1)
        return cls(index, weights, resized)


class ResizedPixels:
    """An area of another picture's pixels, all if not given, at another size.

    Codes are mixed as they are stored, which for the usual profiles is about even to the eye: photographs made larger
    come 0.2 to 0.9 dB nearer to the truth than by mixing light.
    """

    row_step = _TILE

    def __init__(self, inner: Pixels, height: int, width: int, area: Area | None = None) -> None:
        self.inner, self.height, self.width = inner, height, width
        self.area = area or (0.0, 0.0, float(inner.width), float(inner.height))

    @cached_property
    def _down(self) -> Tiles:
        return Tiles.lanczos(self.inner.height, self.height, self.area[1], self.area[3])

    @cached_property
    def _across(self) -> Tiles:
        return Tiles.lanczos(self.inner.width, self.width, self.area[0], self.area[2])

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        first, last = top // _TILE, -(-(top + len(out)) // _TILE)
        while first < last:
            some = self._held(first, last)
            start, end = int(self._down.index[first].min()), int(self._down.index[some - 1].max()) + 1
            band = np.empty((end - start, self.inner.width, 3), np.uint16)
            self.inner.read(start, band)
            for tile in range(first, some):
                rows = self._tile(tile, band, start)
                low, high = max(top, tile * _TILE), min(top + len(out), tile * _TILE + len(rows))
                out[low - top : high - top] = rows[low - tile * _TILE : high - tile * _TILE]
            first = some

    def _held(self, first: int, last: int) -> int:
        """Up to which tile the picture's rows are held together."""
        row = self.inner.width * 6
        start = int(self._down.index[first].min())
        for tile in range(first + 1, last):
            if (int(self._down.index[tile].max()) + 1 - start) * row > _HELD:
                return tile
        return last

    def _tile(self, tile: int, band: NDArray[np.uint16], start: int) -> NDArray[np.uint16]:
        """The rows of one tile, of the picture's rows from `start` on."""
        import cv2

        rows = min(_TILE, self.height - tile * _TILE)
        lines, weights = band.reshape(len(band), -1), self._down.weights[tile]
        index = self._down.index[tile] - start
        narrow = np.empty((_TILE, lines.shape[1]), np.float32)
        for at in range(0, lines.shape[1], _CHUNK):
            np.matmul(weights, lines[index, at : at + _CHUNK].astype(np.float32), out=narrow[:, at : at + _CHUNK])
        # columns first: what one tile of columns needs is then one run of memory
        turned = np.asarray(cv2.transpose(narrow.reshape(_TILE, -1, 3))).reshape(self.inner.width, -1)
        del narrow
        across = self._across
        codes = np.empty((len(across.index) * _TILE, _TILE * 3), np.uint16)
        for at in range(0, len(across.index), _TILES):
            some = slice(at, at + _TILES)
            columns = (across.weights[some] @ turned[across.index[some]]).reshape(-1, _TILE * 3)
            cv2.add(columns, 0, dst=codes[at * _TILE :][: len(columns)], dtype=cv2.CV_16U)  # rounds, clips overshoots
        del turned
        upright = cv2.transpose(codes[: self.width].reshape(self.width, _TILE, 3))
        return np.asarray(upright).reshape(_TILE, self.width, 3)[:rows]


@dataclass(frozen=True)
class AveragedPixels:
    """Another picture's pixels, averaged in blocks of so many each way; what is left over at its ends is not shown."""

    inner: Pixels
    block: int

    @property
    def height(self) -> int:
        """Rows."""
        return max(1, self.inner.height // self.block)

    @property
    def width(self) -> int:
        """Columns."""
        return max(1, self.inner.width // self.block)

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        import cv2

        some = max(1, _AVERAGED // (self.inner.width * 6 * self.block))
        for first in range(0, len(out), some):
            part = out[first : first + some]
            rows = np.empty((len(part) * self.block, self.inner.width, 3), np.uint16)
            self.inner.read((top + first) * self.block, rows)
            whole = np.ascontiguousarray(rows[:, : self.width * self.block])
            means = cv2.resize(whole, (self.width, len(part)), interpolation=cv2.INTER_AREA)
            part[:] = np.asarray(means).reshape(part.shape)


def resized(inner: Pixels, height: int, width: int, area: Area | None = None) -> ResizedPixels:
    """A part of a picture at another size, in a little memory however large it is; as `ResizedPixels`."""
    left, top, across, down = area or (0.0, 0.0, float(inner.width), float(inner.height))
    step = min(across / width, down / height)
    if step < _COARSE:
        return ResizedPixels(inner, height, width, (left, top, across, down))
    block = int(step / _LEFT)
    averaged = AveragedPixels(inner, block)
    return ResizedPixels(averaged, height, width, (left / block, top / block, across / block, down / block))
