"""Eight patches of a paper, white, black and the six solids, Lab D50: found sound, and read from lines of text."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from msgspec import Meta

from printprep.conditions._cgats import decode
from printprep.errors import InputError, ParameterError, PrintprepError, UnknownName
from printprep.files.names import printable
from printprep.parameters import Checked

Colour = tuple[
    Annotated[float, Meta(ge=0, le=100, description="L*")],
    Annotated[float, Meta(ge=-150, le=150, description="a*")],
    Annotated[float, Meta(ge=-150, le=150, description="b*")],
]
"""Absolute Lab, D50."""

SOLIDS = ("cyan", "magenta", "yellow", "red", "green", "blue")
"""The solids and overprints of eight-patch papers."""

NAMES = ("white", "black", *SOLIDS)
_DO = "write eight lines such as: white,96.3,0.1,2.2"
_HEADER = re.compile(r"l\W*|lab\W*l\W*|cie\W*l\W*", re.IGNORECASE)


def eight(data: bytes, name: str) -> dict[str, tuple[float, float, float]]:
    """Lab of each patch by its name.

    Parameters
    ----------
    data : bytes
        Lines of name, L*, a*, b*, parted by commas, semicolons or tabs (with these two, decimal commas are understood);
        a first line of column names, empty lines and lines from ``#`` on are passed over.
    name : str
        The file's name, for messages.

    Raises
    ------
    InputError
        Naming the line, or the patch that is missing.
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


def sound(white: Colour | None, black: Colour | None, solids: object) -> dict[str, Colour]:
    """The solids, each of its kind; of a white and black that can be a paper's.

    Raises
    ------
    PrintprepError, ParameterError, UnknownName
        If one of them is missing, no colour, or not where it can be.
    """
    for name, value in (("white", white), ("black", black), ("solids", solids)):
        if value is None:
            raise PrintprepError("missing", where=name, do="add it")
    assert white is not None and black is not None
    if not isinstance(solids, Mapping):
        raise ParameterError("solids", solids, "must be a table of six colours")
    for key in solids:
        if key not in SOLIDS:
            raise UnknownName("solid", str(key), SOLIDS)
    good = {}
    for name in SOLIDS:
        if name not in solids:
            raise PrintprepError("missing", where=f"solids.{name}", do="add it")
        good[name] = _colour(f"solids.{name}", solids[name])
    if white[0] < 50:
        raise ParameterError("white", white, "must have L* 50 to 100")
    if black[0] > white[0] - 20:
        raise ParameterError("black", black, "must be at least 20 L* darker than white")
    for name, colour in good.items():
        if not black[0] - 1 <= colour[0] <= white[0]:
            raise ParameterError(f"solids.{name}", colour, "must lie between black and white in L*")
    return good


@dataclass(frozen=True)
class _Colour(Checked):
    colour: Colour


def _colour(key: str, value: object) -> Colour:
    try:
        return _Colour(plain(value)).colour  # type: ignore[arg-type]
    except ParameterError as error:
        raise ParameterError(key, value, error.reason, error.do) from None


def plain(value: object) -> object:
    """Arrays and their numbers as plain tuples of floats."""
    if isinstance(value, np.ndarray):
        return tuple(value.tolist())
    if isinstance(value, (tuple, list)):
        return tuple(float(v) if isinstance(v, np.number) else v for v in value)
    return value
