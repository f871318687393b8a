"""Compressing strips in any thread, and appending them in order."""

from __future__ import annotations

from collections.abc import Callable
from threading import Condition
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.files.sink import Sink

ENCODERS = {"lzw": 5, "deflate": 8, "zstd": 50000}
"""Compressions of the output, with their TIFF codes."""

_LEVELS = {"lzw": {}, "deflate": {"level": 1}, "zstd": {"level": 1}}
"""Lowest levels: on 16-bit photographs with the predictor higher ones take 2 to 5 times as long for 0 to 3 % less."""


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


class Stopped(Exception):
    """Another thread has failed; its error is the one that counts."""


class Appender:
    """Writes groups of strips one after the other from `start` on, in the order of their numbers.

    How many groups beyond the one that is due may be worked on, `ahead`, bounds what is held in memory.
    """

    def __init__(self, sink: Sink, start: int, ahead: int) -> None:
        self._sink, self._end, self._ahead = sink, start, ahead
        self._due, self._waiting, self._stopped = 0, dict[int, list[bytes]](), False
        self._offsets, self._counts = list[int](), list[int]()
        self._change = Condition()

    def wait_for(self, number: int) -> None:
        """Wait until a group may be worked on."""
        with self._change:
            self._change.wait_for(lambda: self._stopped or number <= self._due + self._ahead)
            if self._stopped:
                raise Stopped

    def add(self, number: int, strips: list[bytes]) -> None:
        """Hand over a group; written now, with those after it that were waiting, if it is due."""
        with self._change:
            self._waiting[number] = strips
            group = list[tuple[int, bytes]]()
            while self._due in self._waiting:
                for strip in self._waiting.pop(self._due):
                    group.append((self._end, strip))
                    self._offsets.append(self._end)
                    self._counts.append(len(strip))
                    self._end += len(strip) + len(strip) % 2  # every strip on an even offset; the gap reads as zero
                self._due += 1
            self._change.notify_all()
        for place, strip in group:
            self._sink.write(strip, place)

    def stop(self) -> None:
        """Let no one wait any more."""
        with self._change:
            self._stopped = True
            self._change.notify_all()

    def result(self) -> tuple[NDArray[np.int64], NDArray[np.int64], int]:
        """Offsets and sizes of all strips, and where the next thing may be written."""
        return np.array(self._offsets, np.int64), np.array(self._counts, np.int64), self._end
