"""Decoding one very large strip a few rows at a time, for the codecs that can stop in the middle."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from printprep.files import limits
from printprep.files.source import InputFile
from printprep.photo.tiff.blocks import Pieces, Samples
from printprep.photo.tiff.layout import COMPRESSIONS


class _Decompressor(Protocol):
    @property
    def eof(self) -> bool: ...
    def more(self, data: bytes, most: int) -> bytes: ...


class _Deflate:
    def __init__(self) -> None:
        import zlib

        self._inner = zlib.decompressobj()

    @property
    def eof(self) -> bool:
        return self._inner.eof

    def more(self, data: bytes, most: int) -> bytes:
        return self._inner.decompress(self._inner.unconsumed_tail + data, most)


class _Lzma:
    def __init__(self) -> None:
        import lzma

        self._inner = lzma.LZMADecompressor()

    @property
    def eof(self) -> bool:
        return self._inner.eof

    def more(self, data: bytes, most: int) -> bytes:
        return self._inner.decompress(data if self._inner.needs_input else b"", most)


_STREAMED: dict[str, Callable[[], _Decompressor]] = {"deflate": _Deflate, "lzma": _Lzma}


def lzma_decode(data: bytes, out: NDArray[np.uint8]) -> bytes:
    """Decode LZMA up to the checksum at its end, which a decoder that fills a buffer does not reach.

    Parameters
    ----------
    data : bytes
        Compressed.
    out : ndarray of uint8
        Filled.

    Returns
    -------
    bytes
        What was decoded; no more than one byte longer than `out`.
    """
    import lzma

    source = lzma.LZMADecompressor()
    found = source.decompress(data, out.nbytes + 1)
    while not source.eof and len(found) <= out.nbytes:
        part = source.decompress(b"", out.nbytes + 1 - len(found))
        if not part and not source.eof:
            raise EOFError
        found += part
    if len(found) != out.nbytes:
        raise EOFError
    out[:] = np.frombuffer(found, np.uint8)
    return found


def streams(compression: int) -> bool:
    """Whether a strip of this TIFF compression can be decoded a few rows at a time."""
    return COMPRESSIONS[compression] in _STREAMED


def rows_of(file: InputFile, pieces: Pieces, at: tuple[int, int], compression: int) -> Iterator[Samples]:
    """The samples of one piece, in runs of whole rows, from its top to its end.

    Parameters
    ----------
    file, pieces, at
        Which piece.
    compression : int
        TIFF code.

    Yields
    ------
    (rows, columns, channels) ndarray
        In the file's byte order, not yet summed up where they are differences.

    Raises
    ------
    EOFError, zlib.error, lzma.LZMAError
        If the piece is cut short or damaged.
    """
    row = pieces.piece_width * pieces.samples * pieces.dtype.itemsize
    run, left = max(1, limits.BAND_BYTES // row), pieces.rows_of(at[0])
    place, end = int(pieces.offsets[at]), int(pieces.offsets[at] + pieces.counts[at])
    source = _STREAMED[COMPRESSIONS[compression]]()

    def some(most: int) -> bytes:
        """Up to `most` decoded bytes; none only at the end."""
        nonlocal place
        part = source.more(b"", most)
        while not part and not source.eof:
            if place >= end:
                raise EOFError
            data = file.read(place, min(limits.STRIP_BYTES, end - place))
            place += len(data)
            part = source.more(data, most)
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
