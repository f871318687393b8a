"""A picture with all the metadata that is kept, and its values as another reader finds them."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

from PIL import Image

from tests.support.tiffs import Tags, Value, basic, directory, picture

IPTC = b"\x1c\x02\x00\x00\x02\x00\x04\x1c\x02\x50\x00\x05M\xfcllr\x1c\x02\x78\x00\x07lantern"
BLOCKS = b"8BIM\x04\x04\0\0\0\0\0\x04abcd" + b"8BIM\x03\xed\0\0\0\0\0\x03xyz\0"
XMP = (
    b'<?xpacket begin="\xef\xbb\xbf" id="W5M0MpCehiHzreSzNTczkc9d"?>\n<x:xmpmeta xmlns:x="adobe:ns:meta/">'
    b'<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about=""'
    b' xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:title>L\xc3\xa4mps &amp; boats</dc:title></rdf:Description>'
    b'</rdf:RDF></x:xmpmeta>\n<?xpacket end="w"?>'
)
TEXT: dict[int, Value] = {
    270: (2, b"Lanterns on a quay\0"),
    271: (2, b"No Name\0"),
    272: (2, b"no nul"),
    305: (2, b"an editor\0"),
    306: (2, b"2024:05:06 07:08:09\0"),
    315: (2, b"J\xfcrgen in Latin-1\0"),
    33432: (2, b"photographer\0editor\0"),
}
EXIF: dict[int, Value] = {
    33434: (5, [1, 125]),
    33437: (5, [28, 10]),
    34855: (3, [400]),
    36864: (7, b"0232"),
    36867: (2, b"2024:05:06 07:08:09\0"),
    37380: (10, struct.pack("<2i", -1, 3)),
    37386: (5, [35, 1]),
    37500: (7, b"maker note \0\1\2\3" * 20),
    37510: (7, b"ASCII\0\0\0a comment"),
    42036: (2, b"a lens\0"),
}
GPS: dict[int, Value] = {
    0: (1, b"\2\3\0\0"),
    1: (2, b"N\0"),
    2: (5, [47, 1, 59, 1, 3012, 100]),
    3: (2, b"E\0"),
    4: (5, [8, 1, 31, 1, 0, 1]),
}
INTEROP: dict[int, Value] = {1: (2, b"R98\0"), 2: (7, b"0100")}


def rich(path: Path, order: str = "<", *, big: bool = False, changes: Tags | None = None) -> Path:
    """Write a picture with everything."""
    exif = EXIF | {37380: (10, struct.pack(order + "2i", -1, 3))}
    pixels = picture()
    data = pixels.astype(pixels.dtype.newbyteorder(order)).tobytes()  # type: ignore[arg-type]
    body, start = b"", 16

    def add(part: bytes) -> int:
        nonlocal body
        body += b"\0" * (len(body) % 2)
        place = start + len(body)
        body += part
        return place

    add(data)
    kind = 16 if big else 4
    interop = add(directory(INTEROP, start + len(body), order, big=big))
    at = start + len(body)
    place = add(directory(exif | {40965: (kind, [interop])}, at, order, big=big))
    gps = add(directory(GPS, start + len(body), order, big=big))
    extra: dict[int, Value] = {34665: (kind, [place]), 34853: (kind, [gps])}
    extra |= {700: (1, XMP), 33723: (7, IPTC), 34377: (1, BLOCKS)}
    tags = basic(pixels, start) | TEXT | extra | dict(changes or {})
    kept = {tag: value for tag, value in tags.items() if value is not None}
    main = add(directory(kept, start + len(body), order, big=big))
    head = struct.pack(order + "HHHQ", 43, 8, 0, main) if big else struct.pack(order + "HI8x", 42, main)
    path.write_bytes((b"II" if order == "<" else b"MM") + head + body)
    return path


def values(path: Path) -> dict[str, dict[int, Any]]:
    """Every kept value as Pillow reads it: an outside reader."""
    with Image.open(path) as image:
        exif = image.getexif()
        kept = (*TEXT, 700, 33723, 34377, 282, 283, 296, 34675)
        found = {"main": {tag: image.tag_v2.get(tag) for tag in kept}}  # type: ignore[attr-defined]
        for name, tag in (("exif", 34665), ("gps", 34853), ("interop", 40965)):
            there = tag != 40965 or 40965 in exif.get_ifd(34665)  # older Pillows raise where it is not
            found[name] = {k: v for k, v in exif.get_ifd(tag).items() if k != 40965} if there else {}
        return found
