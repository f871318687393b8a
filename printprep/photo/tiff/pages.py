"""Finding the one picture in a file that may hold reduced copies of it beside it."""

from __future__ import annotations

from printprep.errors import InputError
from printprep.files import limits
from printprep.photo.tiff.directory import Container, Damaged, Directory
from printprep.photo.tiff.layout import HEIGHT, STRIPS, TILES, WIDTH

_NEW_KIND, _OLD_KIND = 254, 255
_REDUCED, _MASK = 1, 4  # bits of NewSubfileType, TIFF 6.0


def main_picture(container: Container) -> Directory:
    """The directory of the only full picture; an InputError if there is none, or more than one.

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
        kind = _kind(container, directory)
        if kind & _REDUCED:
            reduced = True
        elif kind & _MASK:
            mask = True
        elif len(seen) == 1 or _is_picture(directory):
            found.append(directory)
        offset = directory.following
    if len(found) > 1:
        raise InputError("holds several pictures", where=shown, do="export the one to print")
    if not found:
        what = "only a reduced copy of a picture" if reduced else "no picture"
        raise InputError(f"holds {what}", where=shown, do="export the picture itself")
    if mask:
        raise InputError("has a transparency mask", where=shown, do="flatten it first")
    return found[0]


def _is_picture(directory: Directory) -> bool:
    slots = directory.slots
    return WIDTH in slots and HEIGHT in slots and (STRIPS in slots or TILES in slots)


def _kind(container: Container, directory: Directory) -> int:
    """NewSubfileType, or what the older tag says in its terms."""
    if _NEW_KIND in directory.slots:
        return container.single(directory.slots[_NEW_KIND], 0, 0)
    return _REDUCED if container.single(directory.slots.get(_OLD_KIND), 0, 0) == 2 else 0
