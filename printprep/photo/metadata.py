"""What travels with the pixels: text, camera, place and rights, kept as the bytes they were."""

from __future__ import annotations

from dataclasses import dataclass, replace

from printprep.files.streams import AnyFile, opened
from printprep.photo.tiff.directory import Container, Damaged, Entry
from printprep.photo.tiff.xmp import XMP, ticket_in, with_ticket


@dataclass(frozen=True)
class Metadata:
    """Entries of the source's directories, in the source's byte order (``<`` or ``>``), which the output gets too.

    `tags` are text, IPTC and resource blocks of the main directory; `exif`, `gps` and `interop` the three sub-
    directories, without the pointers between them; `xmp` the XMP packet, empty where there is none.
    """

    order: str = "<"
    tags: tuple[Entry, ...] = ()
    exif: tuple[Entry, ...] = ()
    gps: tuple[Entry, ...] = ()
    interop: tuple[Entry, ...] = ()
    xmp: bytes = b""

    def with_ticket(self, ticket: str) -> Metadata:
        """The same with a job ticket (JSON text) in the XMP packet, in place of an older one."""
        return replace(self, xmp=with_ticket(self.xmp, ticket))

    @property
    def ticket(self) -> str | None:
        """The job ticket in the XMP packet; None where there is none."""
        return ticket_in(self.xmp) if self.xmp else None

    def fingerprint(self, more: str = "") -> str:
        """A hash of everything here and of a text beside it: XXH3 (128 bits), 32 hexadecimal digits."""
        import xxhash

        digest = xxhash.xxh3_128(repr((more, self.order, len(self.xmp))).encode())
        digest.update(self.xmp)
        for entries in (self.tags, self.exif, self.gps, self.interop):
            digest.update(repr([(e.tag, e.kind, e.count) for e in entries]).encode())
            for entry in entries:
                digest.update(entry.data)
        return str(digest.hexdigest())


def ticket_text(path: AnyFile) -> str | None:
    """The job ticket in a file, which must be a TIFF; None where it holds none."""
    container = Container(opened(path))
    try:
        slot = container.directory(container.first).slots.get(XMP)
        return ticket_in(container.bytes_of(slot)) if slot else None
    except Damaged:
        return None
