"""A fingerprint of a picture's pixels, taken while they are read for something else."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from printprep.photo.bands import band_rows
from printprep.photo.grey import grey_profile_of
from printprep.photo.pixels import Pixels


class Fingerprinted:
    """Another picture's pixels, passed through and remembered as one short digest of each row.

    The result depends on the pixels alone: not on bands, threads, the order of reading, rows read twice, or how the
    file was compressed.
    """

    def __init__(self, inner: Pixels) -> None:
        import xxhash

        self.inner, self._digest = inner, xxhash.xxh3_128_digest
        self.height, self.width = inner.height, inner.width
        self.row_step = int(getattr(inner, "row_step", 1))
        self.grey = grey_profile_of(inner)
        self._rows = np.zeros((self.height, 16), np.uint8)
        self._seen = np.zeros(self.height, np.bool_)

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        self.inner.read(top, out)
        bottom = top + len(out)
        if self._seen[top:bottom].all():
            return
        little = out if np.little_endian else out.byteswap()
        found = b"".join([self._digest(row) for row in np.ascontiguousarray(little)])
        self._rows[top:bottom] = np.frombuffer(found, np.uint8).reshape(-1, 16)
        self._seen[top:bottom] = True

    def hexdigest(self) -> str:
        """XXH3 (128 bits) over width, height and the rows' own digests, as 32 hexadecimal digits.

        Rows that nobody has asked for yet are read now.
        """
        import xxhash

        step = band_rows(self.width)
        for top in range(0, self.height, step):
            if not self._seen[top : top + step].all():
                self.read(top, np.empty((min(step, self.height - top), self.width, 3), np.uint16))
        head = np.array([self.width, self.height], "<u8").tobytes()
        return str(xxhash.xxh3_128_hexdigest(head + self._rows.tobytes()))


def fingerprint(pixels: Pixels) -> str:
    """The fingerprint of pixels, read only for this; see `Fingerprinted`."""
    return Fingerprinted(pixels).hexdigest()
