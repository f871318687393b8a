"""Decoding one very large strip a few rows at a time, which deflate can: it stops in the middle."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from printprep.files import limits
from printprep.files.source import InputFile
from printprep.photo.tiff.blocks import Pieces, Samples
from printprep.photo.tiff.layout import COMPRESSIONS


def streams(compression: int) -> bool:
    """Whether a strip of this TIFF compression can be decoded a few rows at a time."""
    return COMPRESSIONS[compression] == "deflate"


def rows_of(file: InputFile, pieces: Pieces, at: tuple[int, int]) -> Iterator[Samples]:
    """The samples of one piece, in runs of whole rows, from its top to its end.

    They are in the file's byte order, not yet summed up where they are differences. EOFError or zlib.error is raised if
    the piece is cut short or damaged.
    """
    import zlib

    row = pieces.piece_width * pieces.samples * pieces.dtype.itemsize
    run, left = max(1, limits.BAND_BYTES // row), pieces.rows_of(at[0])
    place, end = int(pieces.offsets[at]), int(pieces.offsets[at] + pieces.counts[at])
    source = zlib.decompressobj()

    def some(most: int) -> bytes:
        """Up to `most` decoded bytes; none only at the end."""
        nonlocal place
        part = source.decompress(source.unconsumed_tail, most)
        while not part and not source.eof:
            if place >= end:
                raise EOFError
            data = file.read(place, min(limits.STRIP_BYTES, end - place))
            place += len(data)
            part = source.decompress(source.unconsumed_tail + data, most)
        return part

    while left:
        rows = min(run, left)
        buffer, filled = np.empty(rows * row, np.uint8), 0
        while filled < buffer.nbytes:
            part = some(buffer.nbytes - filled)
            if not part:
                raise EOFError
            buffer[filled : filled + len(part)] = np.frombuffer(part, np.uint8)
            filled += len(part)
        yield buffer.view(pieces.dtype).reshape(rows, pieces.piece_width, pieces.samples)
        left -= rows
    while not source.eof:  # on to the checksum, past what pads a last strip to full height
        some(limits.STRIP_BYTES)
