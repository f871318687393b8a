"""Compressing strips, in any thread."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

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
