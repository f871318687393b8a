"""Small files of every kind that is read, and the same with damage that a seed tells."""

from __future__ import annotations

import random
import struct
from pathlib import Path
from typing import Any

import numpy as np
import tifffile

from printprep.colour.profile import Profile
from tests.support.metadata import rich
from tests.support.tiffs import picture, profile_bytes, tiff

STORED: list[dict[str, Any]] = [
    {"compression": "lzw", "predictor": True, "rowsperstrip": 5},
    {"compression": "zlib", "rowsperstrip": 5},
    {"compression": "zstd", "tile": (16, 16)},
    {"bigtiff": True, "rowsperstrip": 3},
    {"compression": "packbits", "rowsperstrip": 4},
    {"compression": "deflate", "tile": (16, 16), "predictor": True},
    {"planarconfig": "separate", "rowsperstrip": 7},
]
SOUND = 4 + len(STORED) + 2
"""How many `sound_files` there are."""

WORDS = [b"\0", b"\xff", b"\x80", b"\1", b"\0\0\0\0", b"\xff\xff\xff\xff", b"\0\0\0\x80", b"\0\0\1\0"]
_NUMBERS = [0, 1, 2, 3, 4, 5, 7, 8, 13, 16, 17, 255, 256, 500, 65535, 1 << 16, (1 << 31) - 1, 1 << 31, (1 << 32) - 1]


def sound_files(folder: Path) -> list[bytes]:
    """Files that are read without a word of refusal: both byte orders and sizes, every way to store, grey, 8 bits."""
    path = folder / "sound.tif"
    found = [rich(path, order, big=big).read_bytes() for order in "<>" for big in (False, True)]
    for options in STORED:
        pixels = picture()
        if options.get("planarconfig") == "separate":
            pixels = np.ascontiguousarray(np.moveaxis(pixels, -1, 0))
        tifffile.imwrite(path, pixels, photometric="rgb", iccprofile=profile_bytes(), metadata=None, **options)
        found.append(path.read_bytes())
    found.append(tiff(path, {274: (3, [6])}, order=">").read_bytes())
    eight = (picture() >> 8).astype(np.uint8)
    tifffile.imwrite(path, eight, photometric="rgb", iccprofile=Profile.named("sRGB").data, metadata=None)
    found.append(path.read_bytes())
    path.unlink()
    return found


def damaged(sound: bytes, seed: int) -> bytes:
    """The same file after one kind of damage: of transfer, of the disk, of a program, or on purpose.

    Parameters
    ----------
    sound : bytes
        A whole TIFF whose directories stand at the end.
    seed : int
        Tells the damage; the same for the same seed.
    """
    rng, data = random.Random(seed), bytearray(sound)
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        rng.choice((_words, _words, _entry, _entry, _header, _bits, _cut, _span))(rng, data)
    return bytes(data)


def _words(rng: random.Random, data: bytearray) -> None:
    """Bytes near the end, where directories and their values stand."""
    for _ in range(rng.randint(1, 3)):
        _put(data, max(8, len(data) - 1 - rng.randrange(1500)), rng.choice(WORDS))


def _header(rng: random.Random, data: bytearray) -> None:
    _put(data, rng.randint(2, 15), rng.choice(WORDS))


def _bits(rng: random.Random, data: bytearray) -> None:
    for _ in range(rng.randint(1, 8)):
        if data:
            data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)


def _cut(rng: random.Random, data: bytearray) -> None:
    del data[rng.choice((rng.randrange(20), rng.randrange(len(data) + 1), max(0, len(data) - rng.randrange(2000)))) :]


def _span(rng: random.Random, data: bytearray) -> None:
    """Some bytes zeroed, of chance, missing, or there twice."""
    at, size = rng.randrange(len(data) + 1), rng.choice((1, 4, 12, 512, 4096))
    old = data[at : at + size]
    data[at : at + size] = rng.choice((bytes(len(old)), rng.randbytes(len(old)), b"", old + old))


def _entry(rng: random.Random, data: bytearray) -> None:
    """One field of one entry of the first directory: its tag, type, count or value (TIFF 6.0, section 2)."""
    order = "<" if data[:2] == b"II" else ">"
    big = 43 in data[2:4]
    word, number, step = ("Q", "Q", 20) if big else ("I", "H", 12)
    try:
        (at,) = struct.unpack_from(order + word, data, 8 if big else 4)
        (count,) = struct.unpack_from(order + number, data, at)
    except (struct.error, OverflowError):  # an earlier damage lies about the place
        return
    place = at + struct.calcsize(number) + step * rng.randrange(max(1, min(count, 100)))
    offset, code = rng.choice(((0, "H"), (2, "H"), (4, word), (4 + struct.calcsize(word), word), (8, "H")))
    value = rng.choice(_NUMBERS) if rng.random() < 0.7 else rng.choice((at, len(data), len(data) - 1, place))
    _put(data, place + offset, struct.pack(order + code, value % (1 << 8 * struct.calcsize(code))))


def _put(data: bytearray, place: int, word: bytes) -> None:
    """Overwrite, never lengthen."""
    word = word[: max(0, len(data) - place)]
    data[place : place + len(word)] = word


def damaged_profile(sound: bytes, seed: int) -> bytes:
    """An ICC profile after damage: to its header, its list of tags (ICC.1:2010, 7.2 and 7.3), or anywhere."""
    rng, data = random.Random(seed), bytearray(sound)
    count = int.from_bytes(sound[128:132], "big")
    for _ in range(rng.choice((1, 1, 2))):
        kind = rng.randrange(5)
        if kind == 0:
            _put(data, rng.randrange(128), rng.choice(WORDS))
        elif kind == 1:
            value = rng.choice([*_NUMBERS, len(data), len(data) - 4, 128, 132])
            _put(data, 132 + 4 * rng.randrange(3 * count), struct.pack(">I", value))
        elif kind == 2:  # the head of a tag's data: its type, its counts
            at = int.from_bytes(sound[136 + 12 * (k := rng.randrange(count)) : 140 + 12 * k], "big")
            _put(data, at + rng.randrange(60), rng.choice(WORDS))
        else:
            (_bits if kind == 3 else _span)(rng, data)
    return bytes(data)
