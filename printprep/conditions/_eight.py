"""Eight patches of a paper as lines of text: white, black and the six solids, Lab D50."""

from __future__ import annotations

import csv
import re

from printprep.conditions._cgats import decode
from printprep.errors import InputError
from printprep.files.names import printable

SOLIDS = ("cyan", "magenta", "yellow", "red", "green", "blue")
"""The solids and overprints of eight-patch papers."""

NAMES = ("white", "black", *SOLIDS)
_DO = "write eight lines such as: white,96.3,0.1,2.2"
_HEADER = re.compile(r"l\W*|lab\W*l\W*|cie\W*l\W*", re.IGNORECASE)


def eight(data: bytes, name: str) -> dict[str, tuple[float, float, float]]:
    """Lab of each patch by its name, from lines of name, L*, a*, b*, parted by commas, semicolons or tabs.

    With the last two, decimal commas are understood; a first line of column names, empty lines and lines from ``#``
    on are passed over. An InputError names the line, or the patch that is missing.
    """
    where = repr(name)
    found: dict[str, tuple[float, float, float]] = {}
    started = False
    for number, line in enumerate(decode(data, name).splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        mark = next((m for m in "\t;" if m in line), ",")
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=mark))]
        while cells and not cells[-1]:
            cells.pop()
        if not started and len(cells) == 4 and _HEADER.fullmatch(cells[1]):
            started = True
            continue
        started = True
        if len(cells) != 4:
            raise InputError(f"line {number}: {len(cells)} values, not a name and L*, a*, b*", where=where, do=_DO)
        patch = cells[0].casefold()
        shown = printable(cells[0], 40)
        if patch not in NAMES:
            what = f"line {number}: unknown patch {shown!r}"
            raise InputError(what, where=where, do=f"the eight are {', '.join(NAMES)}")
        if patch in found:
            raise InputError(f"line {number}: {patch} is there twice", where=where, do="leave one out")
        try:
            L, a, b = (float(cell if mark == "," else cell.replace(",", ".")) for cell in cells[1:])
        except ValueError:
            raise InputError(f"line {number}: {patch} has a value that is no number", where=where, do=_DO) from None
        found[patch] = L, a, b
    for patch in NAMES:
        if patch not in found:
            raise InputError(f"{patch} is missing", where=where, do="add its line: " + patch + ",L*,a*,b*")
    return found


def is_eight(data: bytes) -> bool:
    """Whether a measurement's bytes are such lines, and not CGATS.17 text."""
    head = data[:4096].replace(b"\0", b"").decode("latin-1").casefold()
    first = rf'\W*({"|".join(NAMES)})"?\s*[,;\t]'
    return "begin_data" not in head and any(re.match(first, line) for line in head.splitlines())
