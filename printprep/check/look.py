"""One look at a picture: its colours counted, every pixel, and a reduced copy, in one pass over its bands."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from printprep.check.simulate import greys
from printprep.colour.profile import Profile
from printprep.photo.bands import Work, band_rows, run, thread_count
from printprep.photo.photo import Photo

BINS, FEWER = 96, 64
"""Steps a side of the cube that colours are counted in, even in L*: 1.05 L* wide, or 1.6 where speed counts more."""

SIDE = 1600
"""Longer side of the reduced copy, pixels, at most."""

_BAND = 24 << 20
"""Bytes a band: large, because a count is cleared and added up for each."""


@dataclass(frozen=True)
class Look:
    """What was seen of a picture.

    Parameters
    ----------
    picture : (rows, columns, 3) ndarray of uint16
        A copy reduced by a whole factor, by averaging; the picture itself where it is small.
    factor : int
        Pixels of the picture to one of the copy, each way.
    values : (n, 3) ndarray of float32
        Colours that occur, device values 0..1, each in the middle of its step.
    counts : (n,) ndarray of int64, pixels
        How often.
    profile : Profile
        What the values mean.
    height, width : int, pixels
        Of the picture.
    """

    picture: NDArray[np.uint16] = field(repr=False)
    factor: int
    values: NDArray[np.float32] = field(repr=False)
    counts: NDArray[np.int64] = field(repr=False)
    profile: Profile
    height: int
    width: int

    @property
    def shares(self) -> NDArray[np.float64]:
        """Share of the picture that each colour covers; they add up to 1."""
        return np.asarray(self.counts / self.counts.sum())


def look(
    photo: Photo,
    *,
    side: int = SIDE,
    bins: int = BINS,
    threads: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Look:
    """Look at a picture.

    Parameters
    ----------
    photo : Photo
        Read once, in bands, by several threads.
    side : int
        Longer side of the reduced copy, pixels, at most; 0 for none (counting alone is faster).
    bins : int
        Steps a side of the cube that colours are counted in, at most 256.
    threads : int, optional
        All cores if not given; the result is the same for any number.
    progress : callable, optional
        Told of pixels done (first 0) and of all there are; may raise to stop.

    Raises
    ------
    InputError
        If the pixels cannot be decoded.
    """
    import cv2

    height, width = photo.height, photo.width
    factor = max(1, -(-max(height, width) // side)) if side else 0
    # a picture narrower than the factor keeps one column
    step = min(factor, height, width) if factor else 1
    rows = band_rows(width, step, _BAND)
    ends = _ends(photo.profile, bins)
    total = np.zeros((bins,) * 3, np.int64)
    small = np.zeros((height // step, width // step, 3) if factor else (0, 0, 3), np.uint16)
    lock = threading.Lock()
    if progress is not None:
        progress(0, height * width)

    def worker() -> Work:
        buffer = np.empty((rows, width, 3), np.uint16)

        def work(i: int) -> None:
            top = i * rows
            band = buffer[: min(rows, height - top)]
            photo.pixels.read(top, band)
            coarse = cv2.convertScaleAbs(band, alpha=255 / 65535)
            # counts of a band stay below 2**24, so float32 holds them exactly
            found = cv2.calcHist([cv2.LUT(coarse, ends)], [0, 1, 2], None, [bins] * 3, [0, bins] * 3)
            if factor and len(band) >= step:
                lines = len(band) // step
                whole = np.ascontiguousarray(band[: lines * step, : small.shape[1] * step])
                part = cv2.resize(whole, (small.shape[1], lines), interpolation=cv2.INTER_AREA)
                small[top // step : top // step + lines] = part
            with lock:
                np.add(total, found.reshape(total.shape), out=total, casting="unsafe")
                if progress is not None:
                    progress(band.shape[0] * width, height * width)

        return work

    run(-(-height // rows), thread_count(threads), worker)
    at = np.argwhere(total > 0)
    curve = greys(photo.profile.data)
    nodes = np.interp(np.linspace(0, 1, bins), curve, np.linspace(0, 1, len(curve))).astype(np.float32)
    return Look(small, step, nodes[at], total[tuple(at.T)], photo.profile, height, width)


def _ends(profile: Profile, bins: int) -> NDArray[np.uint8]:
    """The step of each 8-bit value, even in the profile's L*, with both ends in the middle of theirs."""
    curve = greys(profile.data)
    return np.rint(curve[np.arange(256) * 257] * (bins - 1)).astype(np.uint8)
