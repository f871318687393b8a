"""Pixels that are computed as they are read: by a table, or by steps that look around."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from printprep.photo.part import Part
from printprep.photo.pixels import Pixels, Through
from printprep.photo.small import small
from printprep.render.chain import Chain
from printprep.render.engine import Engine
from printprep.render.field import Field

Make = Callable[[NDArray[np.float32], int, int], Field]


class FieldPixels(Through):
    """Another picture's pixels, exposed by place.

    `make` makes the field, of the picture read small (`codes`; read with the first pixels, if not given) and of its
    height and width, or of those of what it is a `part` of.
    """

    def __init__(
        self, inner: Pixels, make: Make, codes: NDArray[np.float32] | None = None, part: Part | None = None
    ) -> None:
        super().__init__(inner)
        self._make, self._codes, self._part, self._making, self._field = make, codes, part, Lock(), list[Field]()

    def __reduce__(self) -> tuple[type, tuple[Pixels, Make, NDArray[np.float32] | None, Part | None]]:
        return type(self), (self.inner, self._make, self._codes, self._part)

    @property
    def field(self) -> Field:
        """The picture's field."""
        with self._making:  # threads that begin together wait for one of them
            if not self._field:
                codes = small(self.inner) if self._codes is None else self._codes
                whole = self._part or self.inner
                self._field.append(self._make(codes, whole.height, whole.width))
        return self._field[0]

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        field = self.field
        self.inner.read(top, out)
        field.expose(out, top, self._part.left if self._part else 0)


def begin(pixels: Pixels | None) -> None:
    """Make now what all threads would wait for at the first pixels: tables and fields, however deep they lie."""
    while pixels is not None:
        if isinstance(pixels, FieldPixels):
            pixels.field  # noqa: B018
        elif isinstance(pixels, TablePixels):
            pixels.engine.prepare()
        pixels = getattr(pixels, "inner", None)


@dataclass(frozen=True)
class TablePixels(Through):
    """Another picture's pixels, through a table."""

    engine: Engine

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        self.inner.read(top, out)
        self.engine.apply(out)


@dataclass(frozen=True)
class BandPixels(Through):
    """Another picture's pixels, through a chain whose steps look around: exact, in floating point, slower.

    Every band is read with as many extra rows as the steps reach, so that the result does not
    depend on where bands are cut.
    """

    chain: Chain
    reach: int

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        first, last = max(0, top - self.reach), min(self.height, top + len(out) + self.reach)
        band = np.empty((last - first, self.width, 3), np.uint16)
        self.inner.read(first, band)
        done = self.chain(band.astype(np.float32) / np.float32(65535))
        out[:] = np.rint(done[top - first : top - first + len(out)] * 65535)
