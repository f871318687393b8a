"""Pictures reduced and encoded; pictures and pages as files."""

from __future__ import annotations

from collections.abc import Callable
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.arguments import output_path
from printprep.files.names import AnyPath
from printprep.files.sink import Sink
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


def fitted(picture: NDArray[Any], wide: float, high: float | None = None) -> NDArray[Any]:
    """A picture reduced, by averaging, to so many pixels across and down at most; a smaller one as it is."""
    import cv2

    rows, columns = picture.shape[:2]
    factor = min(wide / columns, (wide if high is None else high) / rows)
    if factor >= 1:
        return picture
    size = (max(1, round(columns * factor)), max(1, round(rows * factor)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), picture.dtype).reshape(*size[::-1], 3)


def jpeg(picture: NDArray[np.uint8], level: int = 90) -> bytes:
    """A JPEG (sRGB, all chroma kept) of (rows, columns, 3) screen values."""
    import imagecodecs

    return bytes(imagecodecs.jpeg_encode(np.ascontiguousarray(picture), level=level, subsampling="444", optimize=True))


def webp(picture: NDArray[np.uint8], level: int = 82) -> bytes:
    """A WebP of (rows, columns, 4) screen values and opacity: what lies over something else on a page."""
    import imagecodecs

    return bytes(imagecodecs.webp_encode(np.ascontiguousarray(picture), level=level))


def save(
    path: AnyPath, data: bytes, endings: tuple[str, ...], *, overwrite: bool = False, source: AnyPath | None = None
) -> None:
    """Write a file whole or not at all; see `printprep.files.sink.Sink` for what is refused."""
    with Sink(output_path(path), source, overwrite=overwrite, endings=endings) as sink:
        sink.write(data, 0)
        sink.publish()


def can_save(
    path: AnyPath, endings: tuple[str, ...], *, overwrite: bool = False, source: AnyPath | None = None
) -> None:
    """Refuse a name now that `save` would refuse later, before long work is done for nothing."""
    with Sink(path, source, overwrite=overwrite, endings=endings):
        pass
