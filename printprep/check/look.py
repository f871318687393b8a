"""A picture reduced, in one pass over its bands."""

from __future__ import annotations

from collections.abc import Callable
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from printprep.photo.bands import Work, band_rows, run, thread_count
from printprep.photo.photo import Photo

_BAND = 24 << 20
"""Bytes a band."""


def look(
    photo: Photo,
    side: int,
    *,
    threads: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> NDArray[np.uint16]:
    """A copy of a picture, its longer side at most `side` pixels, reduced by a whole factor by averaging.

    The picture is read once, in bands; the result is the same for any number of threads. `progress` is told of pixels
    done (first 0) and of all there are, and may raise to stop.
    """
    import cv2

    height, width = photo.height, photo.width
    # a picture narrower than the factor keeps one column
    step = min(max(1, -(-max(height, width) // side)), height, width)
    rows = band_rows(width, step, _BAND)
    small = np.zeros((height // step, width // step, 3), np.uint16)
    lock = Lock()
    if progress is not None:
        progress(0, height * width)

    def worker() -> Work:
        buffer = np.empty((rows, width, 3), np.uint16)

        def work(i: int) -> None:
            top = i * rows
            band = buffer[: min(rows, height - top)]
            photo.pixels.read(top, band)
            if (lines := len(band) // step) > 0:
                whole = np.ascontiguousarray(band[: lines * step, : small.shape[1] * step])
                part = cv2.resize(whole, (small.shape[1], lines), interpolation=cv2.INTER_AREA)
                small[top // step : top // step + lines] = part
            with lock:
                if progress is not None:
                    progress(band.shape[0] * width, height * width)

        return work

    run(-(-height // rows), thread_count(threads), worker)
    return small
