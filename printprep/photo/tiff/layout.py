"""How a picture lies in its file, read from the tags and held against what the file can hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.errors import InputError
from printprep.files import limits
from printprep.photo.tiff.directory import Container, Damaged, Directory

WIDTH, HEIGHT, BITS, COMPRESSION, PHOTOMETRIC, FILL_ORDER = 256, 257, 258, 259, 262, 266
STRIPS, ORIENTATION, SAMPLES, STRIP_ROWS, STRIP_COUNTS, PLANAR = 273, 274, 277, 278, 279, 284
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
    2: "fax compression",
    3: "fax compression",
    4: "fax compression",
    34887: "LERC compression",
    32809: "ThunderScan compression",
    34676: "SGI log compression",
    34677: "SGI log compression",
    34661: "JBIG compression",
    34713: "sensor data compression",
    22610: "JPEG XR compression",
    34925: "LZMA compression",
    34712: "JPEG 2000 compression",
    33005: "JPEG 2000 compression",
    50002: "JPEG XL compression",
    52546: "JPEG XL compression",
}
_LOSSY = {6: "JPEG", 7: "JPEG", 34892: "JPEG", 50001: "WebP"}
_PLAINER = "export it with LZW, deflate or no compression"
_REFUSED_MODELS = {
    3: "palette colours",
    4: "a transparency mask",
    5: "CMYK colours",
    6: "YCbCr colours",
    8: "Lab colours",
    9: "Lab colours",
    10: "Lab colours",
    32803: "undeveloped sensor data",
    32844: "log-encoded light",
    32845: "log-encoded light",
    34892: "undeveloped sensor data",
    51177: "a depth map",
}
_FORMATS = {2: "signed", 3: "floating point", 5: "complex", 6: "complex"}


@dataclass(frozen=True)
class Layout:
    """Where the parts of a picture are, and what their samples mean.

    Height and width are those of the picture as stored, before it is turned. `grey` is grey rather than RGB, `inverted`
    white stored as 0, `alpha` one more channel (counted in `samples`) of opacity; `planar` is each channel stored for
    itself. A piece is one strip or tile; where each is, and its bytes, is (planes, down, across).
    """

    height: int
    width: int
    grey: bool
    inverted: bool
    alpha: bool
    samples: int
    bits: int
    planar: bool
    order: str
    compression: int
    predicted: bool
    piece_height: int
    piece_width: int
    tiled: bool
    orientation: int
    offsets: NDArray[np.int64]
    counts: NDArray[np.int64]

    @property
    def piece_samples(self) -> int:
        """Channels within one strip or tile."""
        return 1 if self.planar else self.samples

    @property
    def piece_bytes(self) -> int:
        """Bytes of one whole strip or tile, decoded."""
        return self.piece_height * self.piece_width * self.piece_samples * self.bits // 8


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


def layout(tags: Reader, max_pixels: int = limits.PIXELS) -> Layout:
    """The layout of the picture in a directory; an InputError if it is none that can be read whole and right."""
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
    planar = {1: False, 2: True}.get(tags.number(PLANAR, "planar configuration", 1))
    if planar is None:
        raise tags.contradiction("unknown planar configuration")
    if tags.number(FILL_ORDER, "fill order", 1) != 1:
        raise tags.refuse("stores its bits in reverse order", "export it again in the usual order")
    predictor = tags.number(PREDICTOR, "predictor", 1)
    if predictor not in (1, 2):
        raise tags.refuse(f"uses a predictor for other than whole numbers ({predictor})")
    if predictor == 2 and compression == 1:
        raise tags.refuse("is marked as stored in differences but not compressed, which programs read differently")
    planar = planar and samples > 1
    piece, tiled = _piece(tags, width, height)
    down, across = -(-height // piece[0]), -(-width // piece[1])
    offsets, counts = _places(tags, tiled, (samples if planar else 1, down, across))
    orientation = _orientation(tags)
    found = Layout(
        height, width, model != 2, model == 0, alpha, samples, bits, planar, tags.container.order, compression,
        predictor == 2,
        piece[0], piece[1], tiled, orientation, offsets, counts,
    )  # fmt: skip
    _hold(tags, found)
    return found


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


def _orientation(tags: Reader) -> int:
    """1..8; 0 for a value that is none of them."""
    found = tags.container.single(tags.directory.slots.get(ORIENTATION), absent=1, damaged=0)
    return found if 1 <= found <= 8 else 0


def _hold(tags: Reader, found: Layout) -> None:
    """Refuse what the file's bytes cannot hold."""
    if found.piece_bytes > limits.PIECE_BYTES and COMPRESSIONS[found.compression] not in ("none", "deflate"):
        raise tags.refuse("is compressed in one piece too large to decode", "export it with smaller strips")
    row_bytes = found.piece_width * found.piece_samples * found.bits // 8
    rows = np.full(found.offsets.shape[1], found.piece_height, np.int64)
    if not found.tiled:
        rows[-1] = found.height - found.piece_height * (len(rows) - 1)
    if found.compression == 1 and (found.counts < (rows * row_bytes)[None, :, None]).any():
        raise tags.refuse("some of its strips or tiles are too short", "copy or export it again")
    most = limits.EXPANSION.get(found.compression)
    if most is None:
        return
    _, first = np.unique(found.offsets, return_index=True)
    stored = min(int(found.counts.ravel()[first].sum()), tags.container.file.size)
    decoded = int(rows.sum()) * row_bytes * found.offsets.shape[0] * found.offsets.shape[2]
    if decoded > stored * most if found.compression != 1 else decoded > stored:
        raise tags.refuse(
            f"declares {found.width} x {found.height} pixels, more than its data can hold", "copy or export it again"
        )
