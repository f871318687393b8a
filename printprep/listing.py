"""What presets there are, and where each came from."""

from __future__ import annotations

from dataclasses import dataclass
from types import NoneType
from typing import get_args

from printprep.errors import ParameterError, PrintprepError, expect
from printprep.preset import load
from printprep.preset_files import Kind, names, place_of
from printprep.results import Result


@dataclass(frozen=True)
class Listed(Result):
    """A preset that can be named.

    Parameters
    ----------
    name : str
        What it is asked for by.
    kind : {"paper", "room", "bundle"}
        What it holds.
    title : str
        For people; empty where it cannot be read.
    owner : str
        ``printprep``, ``yours`` where it lies in a folder of your own, or the name of the package that offers it.
    file : str
        Where it lies.
    fault : str
        What is wrong with it, in one line; empty where nothing is.
    """

    name: str
    kind: Kind
    title: str
    owner: str
    file: str
    fault: str = ""

    def __str__(self) -> str:
        return f"{self.name}: {self.kind}, {self.fault or self.title or 'no title'} ({self.owner or 'unknown'})"


def presets(kind: Kind | None = None) -> tuple[Listed, ...]:
    """The papers, rooms and bundles that can be named, and where each comes from.

    Parameters
    ----------
    kind : {"paper", "room", "bundle"}, optional
        All where not given.

    Raises
    ------
    ParameterError
        For another kind.

    Examples
    --------
    >>> import printprep as pp
    >>> [p.name for p in pp.presets("room") if p.owner == "printprep"][:2]
    ['evening-sitting-room', 'gallery']
    """
    known: tuple[Kind, ...] = get_args(Kind)
    expect("kind", kind, (str, NoneType), f"must be one of: {', '.join(known)}")
    if kind is not None and kind not in known:
        raise ParameterError("kind", kind, f"must be one of: {', '.join(known)}")
    return tuple(_listed(name, each) for each in known if kind in (None, each) for name in names(each))


def _listed(name: str, kind: Kind) -> Listed:
    title = owner = file = fault = ""
    try:
        place, owner = place_of(name, kind)
        file = str(place)
        title = load(name, kind).title
    except PrintprepError as error:
        fault = str(error)
    return Listed(name, kind, title, owner, file, fault)
