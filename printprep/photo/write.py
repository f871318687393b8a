"""Writing a photograph: 16-bit TIFF, RGB or grey, in bands, whole or not at all, the same for any thread count."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Generator
from contextlib import closing
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep.errors import OutsideError, ParameterError
from printprep.events import Clock, log
from printprep.files import limits
from printprep.files.names import shown
from printprep.files.sink import Sink
from printprep.files.stream_sink import sink as make_sink
from printprep.files.streams import AnyFile
from printprep.parameters import checked_call
from printprep.photo.bands import T, band_rows, ordered, thread_count
from printprep.photo.grey import grey_codes, grey_profile_of
from printprep.photo.picture import Picture
from printprep.photo.tiff.codecs import ENCODERS, encoder
from printprep.photo.tiff.finish import finish
from printprep.results import Result

_START = 16
"""Where pixels begin: after room for the longer of the two headers, which is written last."""


@dataclass(frozen=True)
class Written(Result):
    """What came of writing.

    Attributes
    ----------
    path : Path, str or None
        The file; the name of a place that fsspec knows; None for an open file without a name.
    size : int, bytes
        Of the whole file.
    compression : str
        "none", "lzw", "deflate" or "zstd".
    big : bool
        Whether it had to be a BigTIFF.

    Examples
    --------
    >>> import printprep as pp
    >>> written = pp.read("edit.tif").write("copy.tif", compress="zstd")
    >>> written.compression, written.size < 4000
    ('zstd', True)
    """

    path: Path | str | None
    size: int
    compression: str
    big: bool

    def __str__(self) -> str:
        place = "an open file" if self.path is None else shown(str(self.path))
        return f"{place}: {self.size} bytes, compression {self.compression}" + (", BigTIFF" if self.big else "")


@checked_call
def write(
    photo: Picture,
    path: AnyFile,
    *,
    overwrite: bool = False,
    compress: str | None = None,
    threads: int | None = None,
    progress: Callable[[int], None] | None = None,
    band_bytes: int = limits.BAND_BYTES,
) -> Written:
    """As `printprep.Photo.write`; each thread reads `band_bytes` of pixels at once, which changes no byte."""
    name = photo.compression if compress is None else compress
    check_compression(name)
    clock = Clock()
    with make_sink(path, photo.path, photo.store, overwrite=overwrite) as sink:
        try:
            job = _Job(photo, sink, name, thread_count(threads), progress, band_bytes)
            offsets, counts, end = job.compressed() if name != "none" else job.plain()
            metadata = photo.metadata.with_ticket(photo.ticket()) if photo.ticket else photo.metadata
            size, big = finish(sink, replace(photo, metadata=metadata), name, job.strip_rows, offsets, counts, end)
        except MemoryError:
            raise OutsideError("more memory is needed than there is", where=sink.shown, do="free some") from None
        sink.publish()
    done = Written(sink.told, size, name, big)
    log.info("written %s, in %s", done, clock)
    return done


def check_compression(name: object) -> None:
    """See that `write` knows a compression, or is left the choice by None; else a ParameterError."""
    if name is not None and not (isinstance(name, str) and (name == "none" or name in ENCODERS)):
        raise ParameterError("compress", name, f"must be one of: none, {', '.join(ENCODERS)}")


class _Job:
    """One run over the pixels."""

    def __init__(
        self, photo: Picture, sink: Sink, compression: str, threads: int,
        progress: Callable[[int], None] | None, band_bytes: int,
    ) -> None:  # fmt: skip
        self.pixels, self.sink, self.compression, self.threads = photo.pixels, sink, compression, threads
        self.height, self.width = photo.height, photo.width
        self.swap = photo.metadata.order != ("<" if np.little_endian else ">")
        row_step = int(getattr(self.pixels, "row_step", 1))
        self.grey = grey_profile_of(photo.pixels)
        self.strip_rows = _strip_rows(self.height, self.width, row_step)
        if row_step > 1:  # rows around a band cost less beside a larger one
            band_bytes *= limits.WIDER_BANDS
        self.rows = band_rows(self.width, math.lcm(self.strip_rows, row_step), band_bytes)
        self._progress, self._done, self._lock = progress, 0, threading.Lock()

    def plain(self) -> tuple[NDArray[np.int64], NDArray[np.int64], int]:
        """Uncompressed: every band has its place."""
        row = self.width * (2 if self.grey else 6)

        def place(i: int, band: NDArray[np.uint16]) -> None:
            if self.swap:
                band.byteswap(inplace=True)
            self.sink.write(band.reshape(-1).view(np.uint8).data, _START + i * self.rows * row)

        for _ in self._bands(lambda: place):
            pass
        tops = np.arange(0, self.height, self.strip_rows, dtype=np.int64)
        counts = np.minimum(self.strip_rows, self.height - tops) * row
        return _START + tops * row, counts, _START + self.height * row

    def compressed(self) -> tuple[NDArray[np.int64], NDArray[np.int64], int]:
        """Strips encoded by every thread, appended in order."""
        offsets, counts, end = list[int](), list[int](), _START

        def worker() -> Callable[[int, NDArray[np.uint16]], list[bytes]]:
            encode = encoder(self.compression, self.swap, self.strip_rows)
            return lambda _, band: encode(band)

        with closing(self._bands(worker)) as groups:
            for strip in chain.from_iterable(groups):
                self.sink.write(strip, end)
                offsets.append(end)
                counts.append(len(strip))
                end += len(strip) + len(strip) % 2  # every strip on an even offset; the gap reads as zero
        return np.array(offsets, np.int64), np.array(counts, np.int64), end

    def _bands(self, worker: Callable[[], Callable[[int, NDArray[np.uint16]], T]]) -> Generator[T, None, None]:
        """Read every band as (rows, columns, 3 or 1); what comes of it, by what each thread has of its own."""

        def lane() -> Callable[[int], T]:
            buffer, store = np.empty((min(self.rows, self.height), self.width, 3), np.uint16), worker()

            def work(i: int) -> T:
                top = i * self.rows
                band = buffer[: min(self.rows, self.height - top)]
                self.pixels.read(top, band)
                done = store(i, grey_codes(band, self.grey) if self.grey else band)
                if self._progress:
                    with self._lock:
                        self._done += len(band)
                        self._progress(self._done)
                return done

            return work

        return ordered(-(-self.height // self.rows), self.threads, lane)


def _strip_rows(height: int, width: int, row_step: int) -> int:
    """Rows of a strip in the file; strips and steps of the pixels end together, so that bands need not be large."""
    rows = min(height, band_rows(width, 1, limits.STRIP_BYTES))
    return next(k for k in range(rows, 0, -1) if row_step % k == 0 or k % row_step == 0)
