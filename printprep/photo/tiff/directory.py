"""TIFF directories: read with every bound checked, and written back byte for byte.

A library reads pictures as well as this does, but not as we must: missing offsets become zeros there,
and pointers to EXIF and GPS directories are lost on writing. Layout: TIFF 6.0 section 2; the 64-bit
form by the libtiff project's BigTIFF description.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.errors import InputError
from printprep.files import limits
from printprep.files.source import InputFile

VALUE_BYTES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4, 16: 8, 17: 8, 18: 8}
"""Bytes of one value, by type code."""

_INTEGERS = {1: "u1", 3: "u2", 4: "u4", 6: "i1", 8: "i2", 9: "i4", 13: "u4", 16: "u8", 17: "i8", 18: "u8"}


class Damaged(Exception):
    """A directory or a value that does not lie within the file."""


@dataclass(frozen=True)
class Slot:
    """One entry as it stands in a directory: where its values are, not the values."""

    tag: int
    kind: int
    count: int
    place: int

    @property
    def size(self) -> int:
        """Bytes of all its values."""
        return self.count * VALUE_BYTES[self.kind]


@dataclass(frozen=True)
class Entry:
    """One entry with its values, as bytes in the file's own byte order."""

    tag: int
    kind: int
    count: int
    data: bytes

    @classmethod
    def of(cls, order: str, tag: int, kind: int, *values: int) -> Entry:
        """One of whole numbers."""
        return cls(tag, kind, len(values), np.array(values, order + _INTEGERS[kind]).tobytes())


@dataclass(frozen=True)
class Directory:
    """The entries of one directory, by tag (the first, where a tag is repeated)."""

    slots: Mapping[int, Slot]
    following: int
    repeated: frozenset[int]
    broken: int


class _Form:
    """How a directory is laid out: struct formats, and bytes of its head, an entry, and a value or place within it."""

    def __init__(self, order: str, big: bool) -> None:
        self.count, self.entry, self.place = (order + f for f in (("Q", "HHQ", "Q") if big else ("H", "HHI", "I")))
        self.head, self.step, self.inline = (8, 20, 8) if big else (2, 12, 4)


class Container:
    """The header of a TIFF file, and access to its directories."""

    def __init__(self, file: InputFile) -> None:
        self.file = file
        head = file.read(0, min(16, file.size))
        order = {b"II": "<", b"MM": ">"}.get(head[:2])
        version = struct.unpack(order + "H", head[2:4])[0] if order and len(head) >= 8 else 0
        if order is None or version not in (42, 43):
            what = "is empty" if not head else "is not a TIFF"
            raise InputError(what, where=file.shown, do="export the picture as a 16-bit TIFF")
        self.order, self.big = order, version == 43
        if self.big and (len(head) < 16 or struct.unpack(order + "HH", head[4:8]) != (8, 0)):
            raise InputError("its header is damaged", where=file.shown, do="copy or export it again")
        place = struct.unpack(order + "Q", head[8:16]) if self.big else struct.unpack(order + "I", head[4:8])
        self.first: int = place[0]

    def directory(self, offset: int) -> Directory:
        """The directory at an offset; Damaged if it does not lie within the file, or cannot be one."""
        form = _Form(self.order, self.big)
        try:
            (count,) = struct.unpack(form.count, self.file.read(offset, form.head))
            if not 0 < count <= limits.DIRECTORY_ENTRIES or offset < 8:
                raise Damaged
            block = self.file.read(offset + form.head, count * form.step)
        except InputError:
            raise Damaged from None
        try:  # some writers end the file right after the last entry
            (following,) = struct.unpack(form.place, self.file.read(offset + form.head + len(block), form.inline))
        except InputError:
            following = 0
        slots: dict[int, Slot] = {}
        repeated, broken = set(), 0
        for i in range(count):
            tag, kind, number = struct.unpack_from(form.entry, block, i * form.step)
            if kind not in VALUE_BYTES:
                broken += 1
                continue
            start = (i + 1) * form.step - form.inline
            place = offset + form.head + start
            size = number * VALUE_BYTES[kind]
            if size > form.inline:
                (place,) = struct.unpack_from(form.place, block, start)
                if place + size > self.file.size:
                    broken += 1
                    slots.setdefault(tag, Slot(tag, kind, number, -1))  # it is there, and cannot be read
                    continue
            if tag in slots:
                repeated.add(tag)
            slots.setdefault(tag, Slot(tag, kind, number, place))
        return Directory(slots, following, frozenset(repeated), broken)

    def bytes_of(self, slot: Slot, limit: int = limits.METADATA_BYTES) -> bytes:
        """The values of an entry as bytes; Damaged if they do not lie within the file, or are more than `limit`."""
        if slot.place < 0 or slot.size > limit:
            raise Damaged
        try:
            return self.file.read(slot.place, slot.size)
        except InputError:
            raise Damaged from None

    def entry(self, slot: Slot) -> Entry:
        """The entry with its values."""
        return Entry(slot.tag, slot.kind, slot.count, self.bytes_of(slot))

    def integers(self, slot: Slot) -> NDArray[np.int64]:
        """The values of an entry of whole numbers; Damaged if they are none, or lie outside."""
        if slot.kind not in _INTEGERS:
            raise Damaged
        raw = np.frombuffer(self.bytes_of(slot, self.file.size), self.order + _INTEGERS[slot.kind])
        return raw.astype(np.int64)

    def single(self, slot: Slot | None, absent: int, damaged: int) -> int:
        """The one whole number of an entry, or what stands for one that is not there, or is none."""
        if slot is None:
            return absent
        try:
            values = self.integers(slot)
        except Damaged:
            return damaged
        return int(values[0]) if values.size == 1 else damaged


def serialise(entries: Iterable[Entry], offset: int, order: str, big: bool) -> bytes:
    """A directory, its entries in any order, to be placed at an even offset; the values that do not fit into it follow.

    Each value stands on an even offset; no directory follows.
    """
    rows = sorted(entries, key=lambda e: e.tag)
    form = _Form(order, big)
    place = offset + form.head + len(rows) * form.step + form.inline
    table = [struct.pack(form.count, len(rows))]
    values: list[bytes] = []
    for entry in rows:
        table.append(struct.pack(form.entry, entry.tag, entry.kind, entry.count))
        if len(entry.data) <= form.inline:
            table.append(entry.data.ljust(form.inline, b"\0"))
            continue
        table.append(struct.pack(form.place, place))
        padded = entry.data + b"\0" * (len(entry.data) & 1)
        values.append(padded)
        place += len(padded)
    table.append(b"\0" * form.inline)
    return b"".join(table + values)
