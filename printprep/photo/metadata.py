"""What travels with the pixels: text, camera, place and rights, kept as the bytes they were."""

from __future__ import annotations

from dataclasses import dataclass, replace

from printprep.photo._directory import Entry
from printprep.photo._text import AnyPath


@dataclass(frozen=True)
class Metadata:
    """Entries of the source's directories, in the source's byte order.

    Attributes
    ----------
    order : str
        ``<`` or ``>``: the byte order of all values, and so of the output.
    tags : tuple of Entry
        Text tags, IPTC and resource blocks of the main directory.
    exif, gps, interop : tuple of Entry
        The three sub-directories, without the pointers between them.
    xmp : bytes
        The XMP packet; empty where there is none.
    """

    order: str = "<"
    tags: tuple[Entry, ...] = ()
    exif: tuple[Entry, ...] = ()
    gps: tuple[Entry, ...] = ()
    interop: tuple[Entry, ...] = ()
    xmp: bytes = b""

    def with_ticket(self, ticket: str) -> Metadata:
        """The same with a job ticket in the XMP packet, in place of an older one.

        Parameters
        ----------
        ticket : str
            JSON text.
        """
        from printprep.photo._xmp import with_ticket

        return replace(self, xmp=with_ticket(self.xmp, ticket))


def ticket_text(path: AnyPath) -> str | None:
    """The job ticket in a file; None where it holds none.

    Raises
    ------
    InputError
        If the file is no TIFF.
    """
    from printprep.photo._directory import Container, Damaged
    from printprep.photo._file import InputFile
    from printprep.photo._xmp import XMP, ticket_in

    container = Container(InputFile(path))
    try:
        slot = container.directory(container.first).slots.get(XMP)
        return ticket_in(container.bytes_of(slot)) if slot else None
    except Damaged:
        return None
