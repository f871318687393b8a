"""Samples of uncompressed strips and tiles, fetched by positioned reads, without keeping any."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.files.source import InputFile
from printprep.photo.tiff.storage import Pieces

Samples = NDArray[Any]
"""(rows, columns, channels) of uint8 or uint16 in the processor's byte order."""


class RawBlocks:
    """Uncompressed pieces; safe in threads."""

    def __init__(self, file: InputFile, pieces: Pieces) -> None:
        self._file, self._pieces = file, pieces
        p = pieces
        self._pixel = p.samples * p.dtype.itemsize
        flat, need = p.offsets.ravel(), p.rows * p.row_bytes
        # Strips that follow each other without a gap are one run, read in one go.
        self._one_run = not p.tiled and bool((flat[1:] == flat[:-1] + need[:-1]).all())

    def fill(self, top: int, left: int, out: Samples) -> None:
        """Fill `out`, contiguous (rows, columns, channels), with the rectangle of samples from (top, left) on."""
        p = self._pieces
        if p.piece_width == p.width == out.shape[1]:
            self._whole_rows(top, out)
        else:
            for at in p.covering(top, left, *out.shape[:2]):
                self.part(at, top, left, out)
        if p.swapped:
            out.byteswap(inplace=True)

    def _whole_rows(self, top: int, out: Samples) -> None:
        p, row = self._pieces, self._pieces.row_bytes
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
        stride = p.row_bytes
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
