"""Gathering what a file says beside its picture: sound parts as they are, broken parts left out and named."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from printprep.photo.metadata import Metadata
from printprep.photo.resolution import DEFAULT_RESOLUTION, Resolution
from printprep.photo.tiff.directory import VALUE_BYTES, Container, Damaged, Entry, Slot
from printprep.photo.tiff.storage import Reader
from printprep.photo.tiff.xmp import XMP, sound, with_orientation

TEXTS = {
    270: "ImageDescription",
    271: "Make",
    272: "Model",
    305: "Software",
    306: "DateTime",
    315: "Artist",
    33432: "Copyright",
}
IPTC, BLOCKS = 33723, 34377
EXIF, GPS, INTEROP = 34665, 34853, 40965
_X, _Y, _UNIT = 282, 283, 296
_PER_INCH = {2: 1.0, 3: 2.54}
_SENSIBLE = (1.0, 100_000.0)  # pixels per inch: a poster seen from across a square to a microscope slide
_SAME = 0.005  # relative difference of the axes that rounding may cause
_WIDE = {16: 4, 17: 9, 18: 13}  # 64-bit types, and what they become in a classic file


def collect(tags: Reader, said: list[str]) -> Metadata:
    """The metadata beside a picture; `said` gets a sentence for each part that is left out."""
    container, slots = tags.container, tags.directory.slots
    kept: list[Entry] = []
    for tag, name in {**TEXTS, IPTC: "IPTC data", BLOCKS: "resource blocks"}.items():
        if tag not in slots:
            continue
        try:
            entry = container.entry(slots[tag])
        except Damaged:
            said.append(f"its {name} cannot be read; left out")
            continue
        if tag == IPTC and not sound_iptc(entry.data):
            said.append("its IPTC data is damaged; left out")
            continue
        kept.append(without_thumbnail(entry) if tag == BLOCKS else entry)
    xmp = b""
    if XMP in slots:
        try:
            packet = container.bytes_of(slots[XMP])
        except Damaged:
            packet = b"<"
        if sound(packet):
            xmp = with_orientation(packet)
        else:
            said.append("its XMP data is damaged; left out")
    seen = {container.first}
    exif, nested = _sub(container, slots.get(EXIF), "EXIF data", seen, said)
    interop, _ = _sub(container, nested.get(INTEROP), "Interoperability data", seen, said)
    gps, _ = _sub(container, slots.get(GPS), "GPS data", seen, said)
    return Metadata(container.order, tuple(kept), exif, gps, interop, xmp)


def _sub(
    container: Container, pointer: Slot | None, name: str, seen: set[int], said: list[str]
) -> tuple[tuple[Entry, ...], Mapping[int, Slot]]:
    """The entries of a directory that a pointer leads to, but for pointers, and all its slots."""
    if pointer is None:
        return (), {}
    place = container.single(pointer, 0, 0)
    if place and place in seen:
        said.append(f"its {name} points back to another part; left out")
        return (), {}
    seen.add(place)
    try:
        directory = container.directory(place)
    except Damaged:
        said.append(f"its {name} cannot be read; left out")
        return (), {}
    entries: list[Entry] = []
    broken = directory.broken
    for slot in directory.slots.values():
        try:
            if slot.tag != INTEROP:
                entries.append(narrow(container.entry(slot), container.order))
        except Damaged:
            broken += slot.place >= 0
    if broken:
        said.append(f"{broken} {'entry' if broken == 1 else 'entries'} of its {name} cannot be read; left out")
    return tuple(entries), directory.slots


def narrow(entry: Entry, order: str) -> Entry:
    """An entry with 64-bit values in the 32-bit type that classic files know; Damaged if a value does not fit."""
    if entry.kind not in _WIDE:
        return entry
    kind = _WIDE[entry.kind]
    values = np.frombuffer(entry.data, order + ("i8" if entry.kind == 17 else "u8"))
    small = values.astype(order + ("i4" if kind == 9 else "u4"))
    if (small.astype(values.dtype) != values).any():
        raise Damaged
    return Entry(entry.tag, kind, entry.count, small.tobytes())


def sound_iptc(data: bytes) -> bool:
    """Whether a block is a list of IPTC data sets (IIM 4.2, chapter 3), zero padding after them allowed."""
    at, sets = 0, 0
    while at < len(data) and data[at] == 0x1C:
        if at + 5 > len(data):
            return False
        size = int.from_bytes(data[at + 3 : at + 5], "big")
        at += 5
        if size & 0x8000:  # extended: the length of the length
            wide = size & 0x7FFF
            if wide > 8:
                return False
            size = int.from_bytes(data[at : at + wide], "big")
            at += wide
        at += size
        sets += 1
        if at > len(data):
            return False
    return not data[at:].strip(b"\0") and (sets > 0 or not data)


def without_thumbnail(entry: Entry) -> Entry:
    """Resource blocks without the small copies of the old picture; anything odd is left as it is."""
    data, parts, at = entry.data, list[bytes](), 0
    while at + 12 <= len(data) and data[at : at + 4] == b"8BIM":
        number = int.from_bytes(data[at + 4 : at + 6], "big")
        name = data[at + 6] + 1
        start = at + 6 + name + (name & 1)
        size = int.from_bytes(data[start : start + 4], "big")
        end = start + 4 + size + (size & 1)
        if end > len(data):
            return entry
        if number not in (1033, 1036):
            parts.append(data[at:end])
        at = end
    if data[at:].strip(b"\0") or VALUE_BYTES[entry.kind] != 1:
        return entry
    kept = b"".join(parts) + data[at:]
    return Entry(entry.tag, entry.kind, len(kept), kept)


def resolution(tags: Reader, said: list[str]) -> Resolution:
    """The resolution of a picture; refused if the two axes differ, as then the pixels are not square.

    `said` gets a sentence where another value is used than the file states.
    """
    x, y = _ratio(tags, _X), _ratio(tags, _Y)
    unit = tags.container.single(tags.directory.slots.get(_UNIT), absent=2, damaged=0)
    factor = _PER_INCH.get(unit, 0.0)
    values = [v[0] / v[1] * factor for v in (x, y) if v and v[1]]
    if not values or not all(_SENSIBLE[0] <= v <= _SENSIBLE[1] for v in values):
        said.append(f"states no usable resolution; {DEFAULT_RESOLUTION.ppi:g} pixels per inch is used")
        return DEFAULT_RESOLUTION
    if max(values) > min(values) * (1 + _SAME):
        raise tags.refuse(
            f"has different resolutions across and down ({values[0]:g} and {values[1]:g} pixels per inch)",
            "set one resolution",
        )
    stored = x if x and x[1] else y
    return Resolution(values[0], (*stored, unit) if stored else None)


def _ratio(tags: Reader, tag: int) -> tuple[int, int] | None:
    slot = tags.directory.slots.get(tag)
    if slot is None or slot.kind != 5 or slot.count != 1:
        return None
    try:
        pair = np.frombuffer(tags.container.bytes_of(slot), tags.container.order + "u4")
    except Damaged:
        return None
    return int(pair[0]), int(pair[1])
