"""Decoding strips and tiles, refusing whatever is not there whole; and compressing strips, in any thread."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from functools import partial
from threading import Semaphore
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.errors import InputError, OutsideError, PrintprepError
from printprep.files import limits
from printprep.files.source import InputFile
from printprep.photo._keep import Keeper
from printprep.photo.tiff.blocks import Samples
from printprep.photo.tiff.spool import Spool
from printprep.photo.tiff.storage import COMPRESSIONS, Pieces

ENCODERS = {"lzw": 5, "deflate": 8, "zstd": 50000}
"""Compressions of the output, with their TIFF codes."""

_LEVELS = {"lzw": {}, "deflate": {"level": 1}, "zstd": {"level": 1}}
"""Lowest levels: on 16-bit photographs with the predictor higher ones take 2 to 5 times as long for 0 to 3 % less."""


def decoder(compression: int, shown: str) -> Callable[..., Any]:
    """The library's function for a TIFF compression code; an InputError if the codec is not installed."""
    import imagecodecs

    name = COMPRESSIONS[compression]
    codec = "zlib" if name == "deflate" and not imagecodecs.DEFLATE.available else name
    if not getattr(imagecodecs, codec.upper()).available:
        what = f"is stored with {name}, which is not installed"
        raise InputError(what, where=shown, do="export it with LZW or deflate")
    found: Callable[..., Any] = getattr(imagecodecs, f"{codec}_decode")
    return found


class CodedBlocks:
    """Compressed pieces. Those that a band cuts are kept for the next, by `keeper` in memory; without one, on disk."""

    def __init__(self, file: InputFile, pieces: Pieces, keeper: Keeper | None) -> None:
        self._file, self._pieces, self._keeper = file, pieces, keeper
        self._decode = decoder(pieces.compression, file.shown)
        self._spool = Spool(pieces, file.shown) if keeper is None else None
        self._large = pieces.piece_bytes > limits.LARGE_PIECE
        self._turn = Semaphore(1) if self._large else nullcontext()

    def __reduce__(self) -> tuple[type, tuple[object, ...]]:
        return type(self), (self._file, self._pieces, self._keeper)  # a copy has locks and a temporary file of its own

    def fill(self, top: int, left: int, out: Samples) -> None:
        """Fill `out`; as `RawBlocks.fill`."""
        p = self._pieces
        raw: slice | None = None
        for at in p.covering(top, left, *out.shape[:2]):
            rows, columns, first, start = p.overlap(at, top, left, out.shape)
            part = out[rows, columns]
            whole = part.shape == p.shape(at[0])
            if whole and part.shape[1] == out.shape[1] and part.flags.c_contiguous:
                self._piece(at, part)
                raw = rows if raw is None else slice(raw.start, rows.stop)
                continue
            if self._whole_in(at, part.shape):
                block = self._piece(at)
            elif self._keeper is not None:
                block = self._keeper.get((id(p), *at), partial(self._piece, at))
            else:
                assert self._spool is not None
                self._spool.part(at, top, left, out, self._runs)
                continue
            part[:] = block[first : first + part.shape[0], start : start + part.shape[1]]
        if raw is not None:
            # once for all of them: threads that do many short things wait for each other
            self._finished(out[raw])

    def _whole_in(self, at: tuple[int, int], shape: tuple[int, ...]) -> bool:
        """Whether a rectangle holds all of a piece that lies within the picture."""
        p = self._pieces
        high = min(p.piece_height, p.height - at[0] * p.piece_height)
        wide = min(p.piece_width, p.width - at[1] * p.piece_width)
        return shape[:2] == (high, wide)

    def _runs(self, at: tuple[int, int]) -> Iterator[Samples]:
        """A piece in runs of rows: several where it is large and its codec can stop in the middle."""
        if not (self._large and streams(self._pieces.compression)):
            yield self._piece(at)
            return
        with self._complaints():
            for rows in _inflated(self._file, self._pieces, at):
                yield self._finished(rows)

    def _piece(self, at: tuple[int, int], out: Samples | None = None) -> Samples:
        """A whole piece; into `out`, where that is given, as it stands in the file (see `_finished`)."""
        p = self._pieces
        with self._complaints(), self._turn:
            data = self._file.read(int(p.offsets[at]), int(p.counts[at]))
            block = np.empty(p.shape(at[0]), p.dtype) if out is None else out
            flat = block.reshape(-1).view(np.uint8)
            if len(self._exactly(data, flat)) != flat.nbytes:
                raise EOFError
            return self._finished(block) if out is None else block

    @contextmanager
    def _complaints(self) -> Iterator[None]:
        """Whatever a codec says, in the user's terms."""
        try:
            yield
        except MemoryError:
            what = "needs more memory to decode than there is"
            raise OutsideError(what, where=self._file.shown, do="free some") from None
        except PrintprepError:
            raise
        except Exception:  # codecs raise errors of many kinds
            what = "its picture data is damaged"
            raise InputError(what, where=self._file.shown, do="copy or export it again") from None

    def _finished(self, block: Samples) -> Samples:
        """Samples in the processor's byte order, differences summed up; in place."""
        if self._pieces.swapped:
            block.byteswap(inplace=True)
        if self._pieces.predicted:
            import imagecodecs

            imagecodecs.delta_decode(block, axis=1, out=block)
        return block

    def _exactly(self, data: bytes, flat: NDArray[np.uint8]) -> Any:
        """Decode into a buffer; a last strip that was padded to full height is cut."""
        try:
            return self._decode(data, out=flat)
        except Exception:
            full = self._pieces.piece_bytes
            if full <= flat.nbytes:
                raise
            padded = np.empty(full, np.uint8)
            if len(self._decode(data, out=padded)) != full:
                raise
            flat[:] = padded[: flat.nbytes]
            return flat


def streams(compression: int) -> bool:
    """Whether a strip of this TIFF compression can be decoded a few rows at a time."""
    return COMPRESSIONS[compression] == "deflate"


def _inflated(file: InputFile, pieces: Pieces, at: tuple[int, int]) -> Iterator[Samples]:
    """The samples of one large piece, in runs of whole rows; EOFError or zlib.error if it is cut short or damaged.

    They are in the file's byte order, not yet summed up where they are differences.
    """
    import zlib

    row = pieces.row_bytes
    run, left = max(1, limits.BAND_BYTES // row), pieces.shape(at[0])[0]
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


def encoder(compression: str, swap: bool, strip_rows: int) -> Callable[[NDArray[np.uint16]], list[bytes]]:
    """A function that compresses a band (rows, width, 3 or 1) in strips, with the horizontal predictor of TIFF 6.0.

    Not to be shared between threads: it uses its memory again. `swap`: the file has the other byte order.
    """
    import imagecodecs

    encode: Callable[..., Any] = getattr(imagecodecs, f"{compression}_encode")
    options = _LEVELS[compression]
    buffer = np.empty(0, np.uint16)

    def strips(band: NDArray[np.uint16]) -> list[bytes]:
        nonlocal buffer
        if buffer.size < band.size:
            buffer = np.empty(band.size, np.uint16)
        differences = buffer[: band.size].reshape(band.shape)
        differences[:, 0] = band[:, 0]
        # all strips at once: threads that do many short things wait for each other
        np.subtract(band[:, 1:], band[:, :-1], out=differences[:, 1:])
        if swap:
            differences.byteswap(inplace=True)
        return [bytes(encode(differences[y : y + strip_rows], **options)) for y in range(0, len(band), strip_rows)]

    return strips
