"""A picture that is a part of another: what depends on the whole is decided by the whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import xxhash
from numpy.typing import NDArray

from printprep.photo.pixels import Pixels
from printprep.photo.small import small


@dataclass(frozen=True, eq=False)
class Part:
    """Where a picture lies in one of which it is a part, and that whole read small.

    `names` are the files of all parts, left to right; `codes`, 0..1, (rows, columns, 3), the whole read small; height
    and width those of the whole, and `left` its columns before this part, pixels.
    """

    names: tuple[str, ...]
    codes: NDArray[np.float32]
    height: int
    width: int
    left: int

    @property
    def told(self) -> dict[str, Any]:
        """What a ticket tells of it: the names, and the hash of the whole read small."""
        return {"names": list(self.names), "xxh3_128": xxhash.xxh3_128_hexdigest(self.codes.tobytes())}


def parts(names: Sequence[str], pixels: Sequence[Pixels]) -> list[Part]:
    """Pictures of one height, side by side, as parts of what they make together."""
    joined = _Joined(pixels)
    codes = small(joined)
    return [Part(tuple(names), codes, joined.height, joined.width, left) for left in joined.lefts]


class _Joined:
    """Pictures side by side."""

    def __init__(self, parts: Sequence[Pixels]) -> None:
        self._parts = parts
        *self.lefts, self.width = np.cumsum([0, *(part.width for part in parts)]).tolist()
        self.height = parts[0].height

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        for part, left in zip(self._parts, self.lefts, strict=True):
            rows = np.empty((len(out), part.width, 3), np.uint16)
            part.read(top, rows)
            out[:, left : left + part.width] = rows
