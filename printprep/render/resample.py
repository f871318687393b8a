"""Resize a picture as its rows are read: Lanczos in two passes, the same pixels wherever bands are cut."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.photo.pixels import Pixels

LOBES = 3
"""Lobes of the Lanczos kernel on each side: sharp, with little ringing (common practice, no source)."""

_PIECE = 32
"""Rows computed together: what they leave on the way stays in the processor's cache."""


@dataclass(frozen=True)
class Taps:
    """Which pixels of one side make each pixel of the resized side, and with what weights.

    Parameters
    ----------
    first : (m,) ndarray of int
        First tap of each output pixel; may lie outside the picture, whose edge pixel then stands in.
    weights : (m, taps) ndarray of float32
        They sum to 1.
    """

    first: NDArray[np.int64]
    weights: NDArray[np.float32]

    @classmethod
    def lanczos(cls, size: int, resized: int) -> Taps:
        """Taps of a Lanczos kernel, as wide as an output pixel where the picture is made smaller.

        Parameters
        ----------
        size, resized : int, pixels
            Before and after; pixel centres lie at halves, and both sides span the same length.
        """
        step = size / resized
        width = max(step, 1.0)
        reach = int(np.ceil(LOBES * width))
        centre = (np.arange(resized) + 0.5) * step - 0.5
        first = np.floor(centre).astype(np.int64) - reach + 1
        x = (first[:, None] + np.arange(2 * reach) - centre[:, None]) / width
        weights = np.where(np.abs(x) < LOBES, np.sinc(x) * np.sinc(x / LOBES), 0.0)
        return cls(first, (weights / weights.sum(axis=1, keepdims=True)).astype(np.float32))

    def span(self, top: int, bottom: int, size: int) -> tuple[int, int]:
        """Rows of the source that the outputs `top` to `bottom` are made from."""
        taps = self.weights.shape[1]
        return max(0, int(self.first[top])), min(size, int(self.first[bottom - 1]) + taps)

    def matrix(self, size: int) -> Any:
        """The same as a sparse matrix; each product is summed tap by tap, in the order of the source."""
        from scipy.sparse import csr_matrix

        resized, taps = self.weights.shape
        index = np.clip(self.first[:, None] + np.arange(taps), 0, size - 1)
        rows = np.arange(0, index.size + 1, taps)
        return csr_matrix((self.weights.ravel(), index.ravel(), rows), shape=(resized, size))


@dataclass(frozen=True)
class ResizedPixels:
    """Another picture's pixels at another size.

    Codes are mixed as they are stored, which for the usual profiles is about even to the eye.

    Parameters
    ----------
    inner : Pixels
        The picture.
    height, width : int, pixels
        Its new size.
    """

    inner: Pixels
    height: int
    width: int

    @cached_property
    def _down(self) -> Taps:
        return Taps.lanczos(self.inner.height, self.height)

    @cached_property
    def _across(self) -> Any:
        width = self.inner.width
        return Taps.lanczos(width, self.width).matrix(width)

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        start, end = self._down.span(top, top + len(out), self.inner.height)
        band = np.empty((end - start, self.inner.width, 3), np.uint16)
        self.inner.read(start, band)
        rows = band.reshape(len(band), -1).astype(np.float32)
        for y in range(0, len(out), _PIECE):
            self._piece(rows, start, top + y, out[y : y + _PIECE])

    def _piece(self, rows: NDArray[np.float32], start: int, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with rows from `top` on, made from `rows`, which begin at row `start` of the picture."""
        import cv2

        narrow = np.empty((len(out), rows.shape[1]), np.float32)
        taps = np.arange(self._down.weights.shape[1])
        for y in range(len(out)):
            weights = self._down.weights[top + y].tolist()
            at = np.clip(self._down.first[top + y] + taps, 0, self.inner.height - 1) - start
            lines = [rows[k : k + 1] for k in at]
            line = narrow[y : y + 1]
            cv2.addWeighted(lines[0], weights[0], lines[1], weights[1], 0, dst=line)
            for k in range(2, len(lines), 2):  # there is an even number of them
                cv2.add(line, cv2.addWeighted(lines[k], weights[k], lines[k + 1], weights[k + 1], 0), dst=line)
        turned = cv2.transpose(narrow.reshape(len(out), -1, 3))  # long runs of memory: five times faster
        columns = self._across @ turned.reshape(self.inner.width, -1)
        codes = cv2.add(columns, 0, dtype=cv2.CV_16U)  # rounds, and clips what the kernel overshoots
        cv2.transpose(codes.reshape(self.width, len(out), 3), dst=out)
