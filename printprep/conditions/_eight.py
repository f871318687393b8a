"""Eight patches of a paper, white, black and the six solids, Lab D50: as lines of text, checked, and mixed."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from msgspec import Meta

from printprep.colour.lab import media_relative
from printprep.colour.neugebauer import cube
from printprep.colour.solid import Solid
from printprep.conditions._cgats import decode, refusal
from printprep.errors import ParameterError, PrintprepError, UnknownName
from printprep.files.names import printable
from printprep.parameters import Checked

SOLIDS = ("cyan", "magenta", "yellow", "red", "green", "blue")
"""The solids and overprints of eight-patch papers."""

Colour = tuple[
    Annotated[float, Meta(ge=0, le=100, description="L*")],
    Annotated[float, Meta(ge=-150, le=150, description="a*")],
    Annotated[float, Meta(ge=-150, le=150, description="b*")],
]
"""Absolute Lab, D50."""

PATCHES = ("white", "black", *SOLIDS)
_DO = "write eight lines such as: white,96.3,0.1,2.2"
_HEADER = re.compile(r"l\W*|lab\W*l\W*|cie\W*l\W*", re.IGNORECASE)


def eight(data: bytes, name: str) -> dict[str, Colour]:
    """Lab of each patch by its name, from lines of name, L*, a*, b*, parted by commas, semicolons or tabs.

    With the last two, decimal commas are understood; a first line of column names, empty lines and lines from ``#``
    on are passed over. An InputError names the line, or the patch that is missing.
    """
    found: dict[str, Colour] = {}
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
            raise refusal(name, f"line {number}: {len(cells)} values, not a name and L*, a*, b*", _DO)
        patch = cells[0].casefold()
        if patch not in PATCHES:
            what = f"line {number}: unknown patch {printable(cells[0], 40)!r}"
            raise refusal(name, what, f"the eight are {', '.join(PATCHES)}")
        if patch in found:
            raise refusal(name, f"line {number}: {patch} is there twice", "leave one out")
        try:
            L, a, b = (float(cell if mark == "," else cell.replace(",", ".")) for cell in cells[1:])
        except ValueError:
            raise refusal(name, f"line {number}: {patch} has a value that is no number", _DO) from None
        found[patch] = L, a, b
    for patch in PATCHES:
        if patch not in found:
            raise refusal(name, f"{patch} is missing", f"add its line: {patch},L*,a*,b*")
    return found


def is_eight(data: bytes) -> bool:
    """Whether a measurement's bytes are such lines, and not CGATS.17 text."""
    head = data[:4096].replace(b"\0", b"").decode("latin-1").casefold()
    first = rf'\W*({"|".join(PATCHES)})"?\s*[,;\t]'
    return "begin_data" not in head and any(re.match(first, line) for line in head.splitlines())


@dataclass(frozen=True)
class _Patch(Checked):
    colour: Colour


def patches(white: Colour | None, black: Colour | None, solids: object) -> dict[str, Colour]:
    """The six solids, checked one by one, and beside white and black."""
    for name, given in (("white", white), ("black", black), ("solids", solids)):
        if given is None:
            raise PrintprepError("missing", where=name, do="add it")
    assert white is not None and black is not None
    if not isinstance(solids, Mapping):
        raise ParameterError("solids", solids, "must be a table of six colours")
    for key in solids:
        if key not in SOLIDS:
            raise UnknownName("solid", str(key), SOLIDS)
    good = {name: _solid(name, solids) for name in SOLIDS}
    if white[0] < 50:
        raise ParameterError("white", white, "must have L* 50 to 100")
    if black[0] > white[0] - 20:
        raise ParameterError("black", black, "must be at least 20 L* darker than white")
    for name, colour in good.items():
        if not black[0] - 1 <= colour[0] <= white[0]:
            raise ParameterError(f"solids.{name}", colour, "must lie between black and white in L*")
    return good


def _solid(name: str, solids: Mapping[str, object]) -> Colour:
    if name not in solids:
        raise PrintprepError("missing", where=f"solids.{name}", do="add it")
    try:
        return _Patch(plain_numbers(solids[name])).colour  # type: ignore[arg-type]
    except ParameterError as error:
        raise ParameterError(f"solids.{name}", solids[name], error.reason, error.do) from None


def plain_numbers(value: object) -> object:
    """Arrays and their numbers as plain tuples of floats."""
    if isinstance(value, np.ndarray):
        return tuple(value.ravel().tolist())
    if isinstance(value, (tuple, list)):
        return tuple(float(v) if isinstance(v, np.number) else v for v in value)
    return value


def mixed(white: Colour, black: Colour, solids: Mapping[str, Colour]) -> Solid:
    """What such a paper holds, in media-relative Lab."""
    corners = np.empty((2, 2, 2, 3))
    corners[1, 1, 1], corners[0, 0, 0] = white, black
    for name, at in zip(SOLIDS, ((0, 1, 1), (1, 0, 1), (1, 1, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)), strict=True):
        corners[at] = solids[name]
    return Solid.from_cube(cube(media_relative(corners, np.array(white))))
