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
from printprep.photo.tiff.blocks import Blocks, Pieces, PlanarBlocks, RawBlocks
from printprep.photo.tiff.codecs import CodedBlocks
from printprep.photo.tiff.layout import Layout
from printprep.photo.tiff.stream import streams


class FilePixels:
    """16-bit RGB of a file as it is stored; rectangles may be read as well as rows."""

    def __init__(self, shown: str, layout: Layout, blocks: Blocks, grey: NDArray[np.uint16] | None) -> None:
        self._shown, self._layout, self._blocks, self._grey = shown, layout, blocks, grey
        self.height, self.width = layout.height, layout.width
        self._plain = layout.samples == 3 and layout.bits == 16
        self._dtype = np.dtype(f"u{layout.bits // 8}")

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        self.block(top, 0, out)

    def block(self, top: int, left: int, out: NDArray[np.uint16]) -> None:
        """Fill `out`, (rows, columns, 3), with the rectangle that starts at (top, left)."""
        if not 0 <= top <= top + len(out) <= self.height:
            raise IndexError(f"rows {top} to {top + len(out)} of {self.height}")
        if self._plain and out.flags.c_contiguous:
            self._blocks.fill(top, left, out)
            return
        samples = np.empty((*out.shape[:2], self._layout.samples), self._dtype)
        self._blocks.fill(top, left, samples)
        if self._layout.alpha:
            if (samples[..., -1] != np.iinfo(self._dtype).max).any():
                raise InputError("has transparent parts", where=self._shown, do="flatten it first")
            samples = samples[..., :-1]
        if self._grey is not None:
            np.take(self._grey, samples[..., 0], axis=0, out=out, mode="clip")
        elif self._layout.bits == 8:
            np.multiply(samples, np.uint16(257), out=out, casting="unsafe", dtype=np.uint16)
        else:
            out[:] = samples


def source(file: InputFile, layout: Layout, profile: Profile, said: list[str]) -> Pixels:
    """The pixels of a file, upright; grey values are converted by its profile.

    `said` gets a sentence where much memory will be needed.
    """
    planes: list[Blocks] = []
    need = _kept_at_once(layout)
    keeper = Keeper(max(need, limits.CACHE_BYTES)) if need <= limits.CACHE_CEILING else None
    for plane in range(len(layout.offsets)):
        pieces = Pieces.of(layout, plane)
        planes.append(
            RawBlocks(file, pieces)
            if layout.compression == 1
            else CodedBlocks(file, pieces, layout.compression, layout.predicted, keeper)
        )
    whole = layout.compression != 1 and not (keeper is None and streams(layout.compression))
    if whole and layout.piece_bytes > limits.ANNOUNCED_PIECE:
        said.append(f"is compressed in large pieces; decoding one takes {layout.piece_bytes >> 20} MB of memory")
    blocks = planes[0] if len(planes) == 1 else PlanarBlocks(planes, np.dtype(f"u{layout.bits // 8}"))
    grey = _grey_table(profile, layout) if layout.grey else None
    pixels = turned(FilePixels(file.shown, layout, blocks, grey), layout.orientation)
    return GreyPixels(pixels, profile) if layout.grey and Scale.of(profile).grey is not None else pixels


def _kept_at_once(layout: Layout) -> int:
    """Bytes of decoded pieces that are wanted again while others are decoded."""
    planes, down, across = layout.offsets.shape
    wanted = 2 * planes * (down if layout.orientation > 4 else across)  # two columns of them where it is turned
    return layout.piece_bytes * int(min(wanted, layout.offsets.size))


def _grey_table(profile: Profile, layout: Layout) -> NDArray[np.uint16]:
    """Every grey value in opRGB, (256 or 65536, 3), neutral."""
    table = greys_in(Profile.named("opRGB"), profile, 1 << layout.bits)[:, None].repeat(3, axis=1)
    return np.ascontiguousarray(table[::-1] if layout.inverted else table)
