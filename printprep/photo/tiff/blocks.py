"""Samples of uncompressed strips and tiles, fetched by positioned reads, without keeping any."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from printprep.files.source import InputFile
from printprep.photo.tiff.layout import Layout

NATIVE = "<" if np.little_endian else ">"
"""The processor's byte order."""

Samples = NDArray[Any]
"""(rows, columns, channels) of uint8 or uint16 in the processor's byte order."""


class Blocks(Protocol):
    """Rectangles of a picture's samples as the file means them; safe in threads."""

    def fill(self, top: int, left: int, out: Samples) -> None:
        """Fill `out`, contiguous (rows, columns, channels), with the rectangle that starts at (top, left)."""


@dataclass(frozen=True)
class Pieces:
    """Strips or tiles of one plane: equal rectangles, row after row, the last ones cut off."""

    height: int
    width: int
    samples: int
    dtype: np.dtype[Any]
    order: str
    piece_height: int
    piece_width: int
    tiled: bool
    offsets: NDArray[np.int64]
    counts: NDArray[np.int64]

    @classmethod
    def of(cls, layout: Layout, plane: int) -> Pieces:
        """The pieces of one plane of a layout."""
        return cls(
            layout.height, layout.width, layout.piece_samples, np.dtype(f"u{layout.bits // 8}"), layout.order,
            layout.piece_height, layout.piece_width, layout.tiled, layout.offsets[plane], layout.counts[plane],
        )  # fmt: skip

    @property
    def piece_bytes(self) -> int:
        """Bytes of one whole piece, decoded."""
        return self.piece_height * self.piece_width * self.samples * self.dtype.itemsize

    @property
    def swapped(self) -> bool:
        """Whether samples stand in the other byte order."""
        return self.dtype.itemsize > 1 and self.order != NATIVE

    def rows_of(self, down: int) -> int:
        """Rows stored in the pieces of one row of pieces."""
        return self.piece_height if self.tiled else min(self.piece_height, self.height - down * self.piece_height)

    def covering(self, top: int, left: int, rows: int, columns: int) -> list[tuple[int, int]]:
        """Indices (down, across) of the pieces that a rectangle touches."""
        down = range(top // self.piece_height, (top + rows - 1) // self.piece_height + 1)
        across = range(left // self.piece_width, (left + columns - 1) // self.piece_width + 1)
        return [(d, a) for d in down for a in across]

    def overlap(
        self, at: tuple[int, int], top: int, left: int, shape: tuple[int, ...]
    ) -> tuple[slice, slice, int, int]:
        """Where a piece and a rectangle meet: slices of the rectangle, and the first row and column in the piece."""
        y, x = at[0] * self.piece_height, at[1] * self.piece_width
        first, start = max(y, top), max(x, left)
        last = min(y + self.piece_height, top + shape[0], self.height)
        end = min(x + self.piece_width, left + shape[1], self.width)
        return slice(first - top, last - top), slice(start - left, end - left), first - y, start - x


class RawBlocks:
    """Uncompressed pieces."""

    def __init__(self, file: InputFile, pieces: Pieces) -> None:
        self._file, self._pieces = file, pieces
        p = pieces
        self._pixel = p.samples * p.dtype.itemsize
        rows = np.array([p.rows_of(d) for d in range(len(p.offsets))], np.int64)
        flat, need = p.offsets.ravel(), rows * (self._pixel * p.piece_width)
        # Strips that follow each other without a gap are one run, read in one go.
        self._one_run = not p.tiled and bool((flat[1:] == flat[:-1] + need[:-1]).all())

    def fill(self, top: int, left: int, out: Samples) -> None:
        """Fill `out` with a rectangle of samples."""
        p = self._pieces
        if p.piece_width == p.width == out.shape[1]:
            self._whole_rows(top, out)
        else:
            for at in p.covering(top, left, *out.shape[:2]):
                self.part(at, top, left, out)
        if p.swapped:
            out.byteswap(inplace=True)

    def _whole_rows(self, top: int, out: Samples) -> None:
        p, row = self._pieces, self._pixel * self._pieces.width
        view = out.reshape(-1).view(np.uint8).data
        if self._one_run:
            self._file.read_into(view, int(p.offsets[0, 0]) + top * row)
            return
        for at in p.covering(top, 0, len(out), p.width):
            rows, _, first, _ = p.overlap(at, top, 0, out.shape)
            self._file.read_into(view[rows.start * row : rows.stop * row], int(p.offsets[at]) + first * row)

    def part(self, at: tuple[int, int], top: int, left: int, out: Samples) -> None:
        """Fill the part of a rectangle that lies in one piece, in the file's byte order."""
        p = self._pieces
        rows, columns, first, start = p.overlap(at, top, left, out.shape)
        high, wide = rows.stop - rows.start, columns.stop - columns.start
        stride = self._pixel * p.piece_width
        place = int(p.offsets[at]) + first * stride + start * self._pixel
        if wide * 4 >= p.piece_width:  # cheaper to read the rest of each row along than to ask row by row
            span = (high - 1) * stride + wide * self._pixel
            raw = np.empty(high * stride, np.uint8)
            self._file.read_into(raw.data[:span], place)
            block = raw.view(p.dtype).reshape(high, p.piece_width, p.samples)[:, :wide]
        else:
            block = np.empty((high, wide, p.samples), p.dtype)
            view, step = block.reshape(-1).view(np.uint8).data, wide * self._pixel
            for i in range(high):
                self._file.read_into(view[i * step : (i + 1) * step], place + i * stride)
        out[rows, columns] = block


class PlanarBlocks:
    """Channels that are stored each for itself."""

    def __init__(self, planes: list[Blocks], dtype: np.dtype[Any]) -> None:
        self._planes, self._dtype = planes, dtype

    def fill(self, top: int, left: int, out: Samples) -> None:
        """Fill `out` with a rectangle of samples."""
        plane = np.empty((*out.shape[:2], 1), self._dtype)
        for i, blocks in enumerate(self._planes):
            blocks.fill(top, left, plane)
            out[..., i] = plane[..., 0]
