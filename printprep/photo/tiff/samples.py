"""Pixels of a file: its samples turned into 16-bit RGB, band by band."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from printprep.colour.profile import Profile
from printprep.errors import InputError
from printprep.files import limits
from printprep.files.source import InputFile
from printprep.photo._keep import Keeper
from printprep.photo._turn import turned
from printprep.photo.grey import GreyPixels, Scale, greys_in
from printprep.photo.pixels import Pixels
from printprep.photo.tiff.blocks import RawBlocks, Samples
from printprep.photo.tiff.codecs import CodedBlocks, streams
from printprep.photo.tiff.storage import Storage

Blocks = RawBlocks | CodedBlocks


class FilePixels:
    """16-bit RGB of a file as it is stored; rectangles may be read as well as rows."""

    def __init__(self, shown: str, stored: Storage, planes: list[Blocks], grey: NDArray[np.uint16] | None) -> None:
        first = stored.planes[0]
        self._shown, self._alpha, self._planes, self._grey = shown, stored.alpha, planes, grey
        self.height, self.width = first.height, first.width
        self._dtype, self._channels = first.dtype, first.samples * len(planes)
        self._plain = self._channels == 3 and first.dtype.itemsize == 2

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        self.block(top, 0, out)

    def block(self, top: int, left: int, out: NDArray[np.uint16]) -> None:
        """Fill `out`, (rows, columns, 3), with the rectangle that starts at (top, left)."""
        if not 0 <= top <= top + len(out) <= self.height:
            raise IndexError(f"rows {top} to {top + len(out)} of {self.height}")
        if self._plain and out.flags.c_contiguous:
            self._fill(top, left, out)
            return
        samples = np.empty((*out.shape[:2], self._channels), self._dtype)
        self._fill(top, left, samples)
        if self._alpha:
            if (samples[..., -1] != np.iinfo(self._dtype).max).any():
                raise InputError("has transparent parts", where=self._shown, do="flatten it first")
            samples = samples[..., :-1]
        if self._grey is not None:
            np.take(self._grey, samples[..., 0], axis=0, out=out, mode="clip")
        elif self._dtype.itemsize == 1:
            np.multiply(samples, np.uint16(257), out=out, casting="unsafe", dtype=np.uint16)
        else:
            out[:] = samples

    def _fill(self, top: int, left: int, samples: Samples) -> None:
        if len(self._planes) == 1:
            self._planes[0].fill(top, left, samples)
            return
        plane = np.empty((*samples.shape[:2], 1), self._dtype)
        for i, blocks in enumerate(self._planes):
            blocks.fill(top, left, plane)
            samples[..., i] = plane[..., 0]


def source(file: InputFile, stored: Storage, profile: Profile, said: list[str]) -> Pixels:
    """The pixels of a file, upright; grey values are converted by its profile.

    `said` gets a sentence where much memory will be needed.
    """
    first = stored.planes[0]
    down, across = first.offsets.shape
    # Decoded pieces are wanted again while others are decoded; two columns of them where the picture is turned.
    wanted = min(2 * (down if stored.orientation > 4 else across), first.offsets.size)
    need = first.piece_bytes * len(stored.planes) * wanted
    keeper = Keeper(max(need, limits.CACHE_BYTES)) if need <= limits.CACHE_CEILING else None
    raw = first.compression == 1
    planes: list[Blocks] = [RawBlocks(file, p) if raw else CodedBlocks(file, p, keeper) for p in stored.planes]
    whole = not raw and not (keeper is None and streams(first.compression))
    if whole and first.piece_bytes > limits.ANNOUNCED_PIECE:
        said.append(f"is compressed in large pieces; decoding one takes {first.piece_bytes >> 20} MB of memory")
    grey = None
    if stored.grey:  # every grey value in opRGB, (256 or 65536, 3), neutral
        table = greys_in(Profile.named("opRGB"), profile, 1 << 8 * first.dtype.itemsize)[:, None].repeat(3, axis=1)
        grey = np.ascontiguousarray(table[::-1] if stored.inverted else table)
    pixels = turned(FilePixels(file.shown, stored, planes, grey), stored.orientation)
    return GreyPixels(pixels, profile) if stored.grey and Scale.of(profile).grey is not None else pixels
