"""TIFF files put together tag by tag, sound or damaged on purpose; written apart from the library's own writer."""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.colour.profile import Profile

CODES = {1: "B", 2: "s", 3: "H", 4: "I", 5: "II", 7: "s", 9: "i", 12: "d", 16: "Q"}
Value = tuple[int, Sequence[int] | bytes]
Tags = Mapping[int, Value | None]


def picture(height: int = 20, width: int = 15, channels: int = 3, seed: int = 0) -> NDArray[np.uint16]:
    """Random 16-bit pixels: every value counts."""
    return np.random.default_rng(seed).integers(0, 65536, (height, width, channels), dtype=np.uint16)


def profile_bytes() -> bytes:
    """The profile that test pictures carry."""
    return Profile.named("opRGB").data


def pack(value: Value, order: str) -> tuple[int, bytes]:
    """Number of values and their bytes."""
    kind, values = value
    if isinstance(values, bytes):
        return len(values) // {9: 4, 10: 8, 11: 4, 12: 8}.get(kind, 1), values
    count = len(values) // (2 if kind == 5 else 1)
    return count, struct.pack(order + str(len(values)) + CODES[kind][0], *values)


def directory(
    tags: Mapping[int, Value], at: int, order: str = "<", following: int = 0, *, big: bool = False
) -> bytes:
    """A directory as it stands at an offset, with its values after it."""
    number, word, step = ("Q", "Q", 20) if big else ("H", "I", 12)
    table, values = struct.pack(order + number, len(tags)), b""
    place = at + len(table) + step * len(tags) + struct.calcsize(word)
    for tag, value in sorted(tags.items()):
        count, data = pack(value, order)
        table += struct.pack(order + "HH" + word, tag, value[0], count)
        if len(data) <= struct.calcsize(word):
            table += data.ljust(struct.calcsize(word), b"\0")
        else:
            table += struct.pack(order + word, place + len(values))
            values += data + b"\0" * (len(data) % 2)
    return table + struct.pack(order + word, following) + values


def basic(pixels: NDArray[Any], start: int = 8) -> dict[int, Value]:
    """Tags of an uncompressed picture in one strip."""
    height, width, channels = pixels.shape
    bits = pixels.dtype.itemsize * 8
    return {
        256: (4, [width]),
        257: (4, [height]),
        258: (3, [bits] * channels),
        259: (3, [1]),
        262: (3, [2 if channels > 2 else 1]),
        273: (4, [start]),
        277: (3, [channels]),
        278: (4, [height]),
        279: (4, [pixels.nbytes]),
        282: (5, [300, 1]),
        283: (5, [300, 1]),
        296: (3, [2]),
        34675: (7, profile_bytes()),
    }


def tiff(
    path: Path, changes: Tags | None = None, pixels: NDArray[Any] | None = None, order: str = "<",
    following: int = 0, after: bytes = b"",
) -> Path:  # fmt: skip
    """Write a picture whose tags are changed (or, with None, left out); what follows the directory in `after`."""
    pixels = picture() if pixels is None else pixels
    tags = basic(pixels) | dict(changes or {})
    data = pixels.astype(pixels.dtype.newbyteorder(order)).tobytes()  # type: ignore[arg-type]
    data += b"\0" * (len(data) % 2)
    at = 8 + len(data)
    kept = {tag: value for tag, value in tags.items() if value is not None}
    head = (b"II" if order == "<" else b"MM") + struct.pack(order + "HI", 42, at)
    path.write_bytes(head + data + directory(kept, at, order, following) + after)
    return path


def from_strips(path: Path, strips: Sequence[bytes], changes: Tags, pixels: NDArray[Any], gap: bytes = b"") -> Path:
    """Write a picture whose strips are given as bytes, stored last first."""
    data, places = b"", dict[int, int]()
    for i in reversed(range(len(strips))):
        places[i] = 8 + len(data)
        data += strips[i] + gap
        data += b"\0" * (len(data) % 2)
    tags = basic(pixels) | {
        273: (4, [places[i] for i in range(len(strips))]),
        279: (4, [len(s) for s in strips]),
    }
    kept = {tag: value for tag, value in (tags | dict(changes)).items() if value is not None}
    at = 8 + len(data)
    path.write_bytes(b"II" + struct.pack("<HI", 42, at) + data + directory(kept, at))
    return path
