"""The end of writing: directories after the pixels, then the header that leads to them."""

from __future__ import annotations

import struct
from functools import partial

import numpy as np
from numpy.typing import NDArray

from printprep.files import limits
from printprep.files.sink import Sink
from printprep.photo.grey import grey_profile_of
from printprep.photo.picture import Picture
from printprep.photo.resolution import Resolution
from printprep.photo.tiff.codecs import ENCODERS
from printprep.photo.tiff.collect import EXIF, GPS, INTEROP
from printprep.photo.tiff.directory import Entry, serialise
from printprep.photo.tiff.xmp import XMP

_LONG, _SHORT, _RATIONAL, _UNDEFINED, _BYTE, _LONG8 = 4, 3, 5, 7, 1, 16


def finish(
    sink: Sink, photo: Picture, compression: str, strip_rows: int,
    offsets: NDArray[np.int64], counts: NDArray[np.int64], end: int,
) -> tuple[int, bool]:  # fmt: skip
    """Write everything but the pixels.

    Returned are the file's size, and whether it is a BigTIFF: only where offsets need more than 32 bits.
    """
    end += end & 1
    tail, first = _parts(photo, compression, strip_rows, offsets, counts, end, big=True)
    big = end + len(tail) > limits.CLASSIC_BYTES
    if not big:
        tail, first = _parts(photo, compression, strip_rows, offsets, counts, end, big=False)
    order = photo.metadata.order
    mark = b"II" if order == "<" else b"MM"
    sink.write(tail, end)
    header = struct.pack(order + "HHHQ", 43, 8, 0, first) if big else struct.pack(order + "HI8x", 42, first)
    sink.write(mark + header, 0)
    return end + len(tail), big


def _parts(
    photo: Picture, compression: str, strip_rows: int,
    offsets: NDArray[np.int64], counts: NDArray[np.int64], end: int, *, big: bool,
) -> tuple[bytes, int]:  # fmt: skip
    """All directories as they follow the pixels, and the place of the main one."""
    metadata, order = photo.metadata, photo.metadata.order
    tail, pointers, place = b"", list[Entry](), _LONG8 if big else _LONG

    def add(entries: tuple[Entry, ...]) -> int:
        nonlocal tail
        at = end + len(tail)
        tail += serialise(entries, at, order, big)
        return at

    exif = metadata.exif
    if metadata.interop:
        exif = (*exif, Entry.of(order, INTEROP, place, add(metadata.interop)))
    if exif:
        pointers.append(Entry.of(order, EXIF, place, add(exif)))
    if metadata.gps:
        pointers.append(Entry.of(order, GPS, place, add(metadata.gps)))
    main = [*_picture(photo, compression, strip_rows, offsets, counts, place), *metadata.tags, *pointers]
    if metadata.xmp:
        main.append(Entry(XMP, _BYTE, len(metadata.xmp), metadata.xmp))
    first = add(tuple(main))
    return tail, first


def _picture(
    photo: Picture, compression: str, strip_rows: int, offsets: NDArray[np.int64], counts: NDArray[np.int64], place: int
) -> list[Entry]:
    whole = partial(Entry.of, photo.metadata.order)
    grey = grey_profile_of(photo.pixels)
    profile, samples = (photo.profile.data, 3) if grey is None else (grey.data, 1)
    x, y, unit = _stored(photo.resolution)
    ratio = whole(0, _LONG, x, y).data
    entries = [
        whole(254, _LONG, 0),
        whole(256, _LONG, photo.width),
        whole(257, _LONG, photo.height),
        whole(258, _SHORT, *samples * [16]),
        whole(259, _SHORT, ENCODERS.get(compression, 1)),
        whole(262, _SHORT, 2 if grey is None else 1),
        whole(273, place, *offsets),
        whole(274, _SHORT, 1),
        whole(277, _SHORT, samples),
        whole(278, _LONG, strip_rows),
        whole(279, place, *counts),
        Entry(282, _RATIONAL, 1, ratio),
        Entry(283, _RATIONAL, 1, ratio),
        whole(284, _SHORT, 1),
        whole(296, _SHORT, unit),
        Entry(34675, _UNDEFINED, len(profile), profile),
    ]
    if compression != "none":
        entries.append(whole(317, _SHORT, 2))
    return entries


def _stored(resolution: Resolution) -> tuple[int, int, int]:
    if resolution.stored:
        return resolution.stored
    from math import gcd

    thousandths = max(1, round(resolution.ppi * 1000))
    shared = gcd(thousandths, 1000)
    return thousandths // shared, 1000 // shared, 2
