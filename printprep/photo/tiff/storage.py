"""How a picture is stored in its file, read from the tags and held against what the file can hold."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.errors import InputError
from printprep.files import limits
from printprep.photo.tiff.directory import Container, Damaged, Directory

WIDTH, HEIGHT, BITS, COMPRESSION, PHOTOMETRIC, FILL_ORDER = 256, 257, 258, 259, 262, 266
STRIPS, ORIENTATION, SAMPLES, STRIP_ROWS, STRIP_COUNTS, PLANAR = 273, 274, 277, 278, 279, 284
NEW_KIND, OLD_KIND = 254, 255
PREDICTOR, TILE_WIDTH, TILE_HEIGHT, TILES, TILE_COUNTS, EXTRA, SAMPLE_FORMAT = 317, 322, 323, 324, 325, 338, 339

COMPRESSIONS = {
    1: "none",
    5: "lzw",
    8: "deflate",
    32946: "deflate",
    32773: "packbits",
    50000: "zstd",
}
"""What can be read, by TIFF compression code."""

_REFUSED_COMPRESSIONS = {
    **dict.fromkeys((2, 3, 4), "fax compression"),
    **dict.fromkeys((34676, 34677), "SGI log compression"),
    **dict.fromkeys((34712, 33005), "JPEG 2000 compression"),
    **dict.fromkeys((50002, 52546), "JPEG XL compression"),
    22610: "JPEG XR compression",
    32809: "ThunderScan compression",
    34661: "JBIG compression",
    34713: "sensor data compression",
    34887: "LERC compression",
    34925: "LZMA compression",
}
_LOSSY = {6: "JPEG", 7: "JPEG", 34892: "JPEG", 50001: "WebP"}
_PLAINER = "export it with LZW, deflate or no compression"
_REFUSED_MODELS = {
    3: "palette colours",
    4: "a transparency mask",
    5: "CMYK colours",
    6: "YCbCr colours",
    **dict.fromkeys((8, 9, 10), "Lab colours"),
    **dict.fromkeys((32803, 34892), "undeveloped sensor data"),
    **dict.fromkeys((32844, 32845), "log-encoded light"),
    51177: "a depth map",
}
_REDUCED, _MASK = 1, 4  # bits of NewSubfileType, TIFF 6.0
_FORMATS = {2: "signed", 3: "floating point", 5: "complex", 6: "complex"}


@dataclass(frozen=True)
class Pieces:
    """Strips or tiles of one plane: equal rectangles, row after row, the last ones cut off.

    Height and width are those of the picture as stored, before it is turned; `samples` the channels in a piece, and
    `dtype` theirs, in the processor's byte order, of which the file's is the other where `swapped`. `predicted` samples
    are differences along the row. Where each piece is, and its bytes, is (down, across).
    """

    height: int
    width: int
    samples: int
    dtype: np.dtype[Any]
    swapped: bool
    compression: int
    predicted: bool
    piece_height: int
    piece_width: int
    tiled: bool
    offsets: NDArray[np.int64]
    counts: NDArray[np.int64]

    @property
    def row_bytes(self) -> int:
        """Bytes of one row of a piece, decoded."""
        return self.piece_width * self.samples * self.dtype.itemsize

    @property
    def piece_bytes(self) -> int:
        """Bytes of one whole piece, decoded."""
        return self.piece_height * self.row_bytes

    @property
    def rows(self) -> NDArray[np.int64]:
        """Rows stored in the pieces of each row of pieces."""
        found = np.full(len(self.offsets), self.piece_height, np.int64)
        if not self.tiled:
            found[-1] = self.height - self.piece_height * (len(found) - 1)
        return found

    def shape(self, down: int) -> tuple[int, int, int]:
        """Rows, columns and channels stored in the pieces of one row of pieces."""
        rows = self.piece_height if self.tiled else min(self.piece_height, self.height - down * self.piece_height)
        return rows, self.piece_width, self.samples

    def covering(self, top: int, left: int, rows: int, columns: int) -> list[tuple[int, int]]:
        """Indices (down, across) of the pieces that a rectangle touches."""
        down = range(top // self.piece_height, (top + rows - 1) // self.piece_height + 1)
        across = range(left // self.piece_width, (left + columns - 1) // self.piece_width + 1)
        return [(d, a) for d in down for a in across]

    def overlap(
        self, at: tuple[int, int], top: int, left: int, shape: tuple[int, ...]
    ) -> tuple[slice, slice, int, int]:
        """Where a piece and a rectangle meet: slices of the rectangle, and the first row and column in the piece."""
        y, x = at[0] * self.piece_height, at[1] * self.piece_width
        first, start = max(y, top), max(x, left)
        last = min(y + self.piece_height, top + shape[0], self.height)
        end = min(x + self.piece_width, left + shape[1], self.width)
        return slice(first - top, last - top), slice(start - left, end - left), first - y, start - x


@dataclass(frozen=True)
class Storage:
    """The planes of a picture, one or one for each channel, and what their samples mean.

    `grey` is grey rather than RGB, `inverted` white stored as 0, `alpha` one more channel of opacity; `orientation` is
    1..8, or 0 for a value that is none of them.
    """

    grey: bool
    inverted: bool
    alpha: bool
    orientation: int
    planes: tuple[Pieces, ...]


class Reader:
    """Tags of one directory, with errors that name the file."""

    def __init__(self, container: Container, directory: Directory) -> None:
        self.container, self.directory, self.shown = container, directory, container.file.shown

    def refuse(self, what: str, do: str = "export the picture again", way: str = "") -> InputError:
        """An error about this file; see `PrintprepError`."""
        return InputError(what, where=self.shown, do=do, way=way)

    def contradiction(self, what: str) -> InputError:
        """An error about tags that cannot all be true."""
        return self.refuse(f"its tags contradict each other ({what})")

    def numbers(self, tag: int, what: str, most: int) -> NDArray[np.int64] | None:
        """The values of a tag of whole numbers, at most so many; None where it is absent."""
        slot = self.directory.slots.get(tag)
        if slot is None:
            return None
        if tag in self.directory.repeated:
            raise self.contradiction(f"{what} is given twice")
        if slot.count > most:  # before reading them: a header may claim as many as the file has bytes
            raise self.contradiction(f"{slot.count} values of {what}, {most} expected")
        try:
            values = self.container.integers(slot)
        except Damaged:
            raise self.refuse(f"its {what} cannot be read", "copy or export it again") from None
        if values.size == 0 or values.min() < 0:
            raise self.contradiction(f"impossible {what}")
        return values

    def number(self, tag: int, what: str, default: int | None = None) -> int:
        """The single value of a tag."""
        values = self.numbers(tag, what, 1)
        if values is None:
            if default is None:
                raise self.refuse(f"its {what} is missing", "copy or export it again")
            return default
        return int(values[0])

    def same(self, tag: int, what: str, samples: int, default: int) -> int:
        """The value that a tag gives for every sample alike."""
        values = self.numbers(tag, what, samples)
        if values is None:
            return default
        if values.size not in (1, samples):
            raise self.contradiction(f"{values.size} values of {what} for {samples} channels")
        if (values != values[0]).any():
            raise self.refuse(f"has channels of different {what}", "export it as 16-bit RGB")
        return int(values[0])


def main_picture(container: Container) -> Reader:
    """The tags of the only full picture; an InputError if there is none, or more than one.

    Reduced copies are passed over; a chain that loops, or ends in rubbish after a sound picture, ends there.
    """
    shown = container.file.shown
    found: list[Directory] = []
    mask = reduced = False
    seen: set[int] = set()
    offset = container.first
    while offset and offset not in seen and len(seen) < limits.PAGES:
        seen.add(offset)
        try:
            directory = container.directory(offset)
        except Damaged:
            if len(seen) == 1:
                raise InputError("its directory is damaged", where=shown, do="copy or export it again") from None
            break
        slots = directory.slots
        if NEW_KIND in slots:
            kind = container.single(slots[NEW_KIND], 0, 0)
        else:
            kind = _REDUCED if container.single(slots.get(OLD_KIND), 0, 0) == 2 else 0
        if kind & _REDUCED:
            reduced = True
        elif kind & _MASK:
            mask = True
        elif len(seen) == 1 or (WIDTH in slots and HEIGHT in slots and (STRIPS in slots or TILES in slots)):
            found.append(directory)
        offset = directory.following
    if len(found) > 1:
        raise InputError("holds several pictures", where=shown, do="export the one to print")
    if not found:
        what = "only a reduced copy of a picture" if reduced else "no picture"
        raise InputError(f"holds {what}", where=shown, do="export the picture itself")
    if mask:
        raise InputError("has a transparency mask", where=shown, do="flatten it first")
    return Reader(container, found[0])


def storage(tags: Reader, max_pixels: int = limits.PIXELS) -> Storage:
    """How the picture in a directory is stored; an InputError if it is none that can be read whole and right."""
    width, height = tags.number(WIDTH, "width"), tags.number(HEIGHT, "height")
    if not width or not height:
        raise tags.refuse("has no pixels")
    if width * height > max_pixels:
        raise tags.refuse(
            f"declares {width} x {height} pixels, more than the limit of {max_pixels // 1_000_000} million",
            "raise the limit if that is right",
        )
    compression = tags.number(COMPRESSION, "compression", 1)
    model = tags.number(PHOTOMETRIC, "colour model")
    if compression in _LOSSY:  # before the model: such files are mostly stored as YCbCr
        raise tags.refuse(f"is stored with {_LOSSY[compression]} compression, which loses detail", _PLAINER)
    if model in _REFUSED_MODELS:
        raise tags.refuse(f"holds {_REFUSED_MODELS[model]}", "export it as 16-bit RGB")
    if model not in (0, 1, 2):
        raise tags.refuse(f"has an unknown colour model ({model})", "export it as 16-bit RGB")
    if compression not in COMPRESSIONS:
        name = _REFUSED_COMPRESSIONS.get(compression, f"an unknown compression ({compression})")
        raise tags.refuse(f"is stored with {name}", _PLAINER)
    samples, bits, alpha = _channels(tags, model)
    planar = tags.number(PLANAR, "planar configuration", 1)
    if planar not in (1, 2):
        raise tags.contradiction("unknown planar configuration")
    if tags.number(FILL_ORDER, "fill order", 1) != 1:
        raise tags.refuse("stores its bits in reverse order", "export it again in the usual order")
    predictor = tags.number(PREDICTOR, "predictor", 1)
    if predictor not in (1, 2):
        raise tags.refuse(f"uses a predictor for other than whole numbers ({predictor})")
    if predictor == 2 and compression == 1:
        raise tags.refuse("is marked as stored in differences but not compressed, which programs read differently")
    planes = samples if planar == 2 else 1
    piece, tiled = _piece(tags, width, height)
    down, across = -(-height // piece[0]), -(-width // piece[1])
    swapped = bits == 16 and (tags.container.order == "<") != (sys.byteorder == "little")
    offsets, counts = _places(tags, tiled, (planes, down, across))
    pieces = tuple(
        Pieces(
            height, width, samples // planes, np.dtype(f"u{bits // 8}"), swapped, compression, predictor == 2, *piece,
            tiled, offsets[k], counts[k],
        )
        for k in range(planes)
    )  # fmt: skip
    _hold(tags, pieces[0], offsets, counts)
    orientation = tags.container.single(tags.directory.slots.get(ORIENTATION), absent=1, damaged=0)
    return Storage(model != 2, model == 0, alpha, orientation if 1 <= orientation <= 8 else 0, pieces)


def _channels(tags: Reader, model: int) -> tuple[int, int, bool]:
    colours = 3 if model == 2 else 1
    samples = tags.number(SAMPLES, "number of channels", 1)
    if samples > limits.CHANNELS:
        raise tags.refuse(f"has {samples} channels", "export it as 16-bit RGB")
    form = tags.same(SAMPLE_FORMAT, "sample format", samples, 1)
    bits = tags.same(BITS, "depth", samples, 1)
    if form in _FORMATS:
        raise tags.refuse(f"holds {_FORMATS[form]} numbers", "export it as 16-bit RGB")
    if form not in (1, 4):
        raise tags.contradiction(f"unknown sample format {form}")
    if bits not in (8, 16):
        raise tags.refuse(f"has {bits} bits a channel", "export it as 16-bit RGB")
    if samples < colours:
        raise tags.contradiction(f"{samples} channels for RGB")
    extra = tags.numbers(EXTRA, "extra channels", samples)
    kinds = [] if extra is None else extra.tolist()
    if len(kinds) != samples - colours or kinds not in ([], [1], [2]):
        raise tags.refuse("has extra channels beside its colours", "flatten it first")
    return samples, bits, bool(kinds)


def _piece(tags: Reader, width: int, height: int) -> tuple[tuple[int, int], bool]:
    has = tags.directory.slots
    strips, tiles = STRIPS in has, TILES in has
    if strips == tiles:
        raise tags.contradiction("both strips and tiles" if strips else "neither strips nor tiles")
    if strips:
        rows = tags.number(STRIP_ROWS, "rows in a strip", height)
        if rows < 1:
            raise tags.contradiction("strips without rows")
        return (min(rows, height), width), False
    size = tags.number(TILE_HEIGHT, "tile height"), tags.number(TILE_WIDTH, "tile width")
    if min(size) < 1 or max(size) > 1 << 20:
        raise tags.contradiction("impossible tile size")
    return size, True


def _places(tags: Reader, tiled: bool, shape: tuple[int, int, int]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    word = "tiles" if tiled else "strips"
    need = shape[0] * shape[1] * shape[2]
    if need > limits.PIECES:
        raise tags.refuse(f"is cut into {need} {word}", f"export it with larger {word}")
    offsets = tags.numbers(TILES if tiled else STRIPS, f"{word}' places", need)
    counts = tags.numbers(TILE_COUNTS if tiled else STRIP_COUNTS, f"{word}' sizes", need)
    if offsets is None or counts is None:
        raise tags.refuse(f"does not say how large its {word} are", "copy or export it again")
    if offsets.size != need or counts.size != need:
        raise tags.contradiction(f"{min(offsets.size, counts.size)} {word} listed, {need} needed")
    if (offsets < 8).any() or (counts < 1).any():
        raise tags.refuse(f"some of its {word} are missing", "copy or export it again")
    if (offsets > tags.container.file.size - counts).any():
        raise tags.container.file.ends()
    return offsets.reshape(shape), counts.reshape(shape)


def _hold(tags: Reader, plane: Pieces, offsets: NDArray[np.int64], counts: NDArray[np.int64]) -> None:
    """Refuse what the file's bytes cannot hold; `plane` is the first of those that have these places."""
    if plane.piece_bytes > limits.PIECE_BYTES and COMPRESSIONS[plane.compression] not in ("none", "deflate"):
        raise tags.refuse("is compressed in one piece too large to decode", "export it with smaller strips")
    need = plane.rows * plane.row_bytes
    if plane.compression == 1 and (counts < need[:, None]).any():
        raise tags.refuse("some of its strips or tiles are too short", "copy or export it again")
    _, first = np.unique(offsets, return_index=True)
    stored = min(int(counts.ravel()[first].sum()), tags.container.file.size)
    if int(need.sum()) * offsets.shape[0] * offsets.shape[2] > stored * limits.EXPANSION[plane.compression]:
        what = f"declares {plane.width} x {plane.height} pixels, more than its data can hold"
        raise tags.refuse(what, "copy or export it again")
