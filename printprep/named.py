"""Papers and rooms by name, by path, or as a measured light, with the steps that come with them; which there are."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from os import PathLike
from pathlib import Path
from types import NoneType
from typing import Generic, TypeVar, get_args

from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.errors import ParameterError, PrintprepError, UnknownName, expect
from printprep.files.source import InputFile
from printprep.preset import Preset, Setting, load
from printprep.preset_files import Kind, names, place_of
from printprep.results import Result

Adjust = Mapping[str, Mapping[str, Setting]]
"""Steps by name, each with the parameters that are set and where they come from."""

BARE_PAPER: Adjust = {"shadow-lift": {}, "gamut-fit": {}, "sharpen": {}}
_BARE_ROOM: Adjust = {"room-brightness": {}}
_PATHS = (".icc", ".icm", ".txt", ".ti3", ".cgats", ".it8", ".csv")
"""Name endings that make a paper a path to a profile or a measurement; ``.toml`` is a preset."""
_LUX = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(?:lx|lux)?\s*", re.IGNORECASE)
"""What is written for a light without its name: ``85``, ``85lx``, ``85 lux``."""


T = TypeVar("T", Paper, Room)


@dataclass(frozen=True)
class Named(Generic[T]):
    """What a paper or a room is called, the steps that come with it, itself, and whether a preset says so."""

    name: str
    adjust: Adjust
    it: T
    strength: float | None = None
    preset: bool = False


def named_paper(paper: str | Path | Paper) -> Named[Paper]:
    """Find a paper by name, path or object, with its steps."""
    if isinstance(paper, Paper):
        return Named("paper", BARE_PAPER, paper)
    expect("paper", paper, (str, PathLike), "must be a Paper, or the name or path of one")
    text = os.fsdecode(paper)
    if (not isinstance(paper, str) or text.lower().endswith(_PATHS)) and not text.lower().endswith(".toml"):
        return Named(Path(text).stem, BARE_PAPER, _measured(Path(text)))
    preset = load(text, "paper")
    if preset.paper is None:
        raise UnknownName("paper", text, names("paper"))
    return Named(stem(preset.name), preset.adjust or BARE_PAPER, preset.paper, preset.strength, preset=True)


def named_room(room: str | Path | Room) -> Named[Room]:
    """Find a room by name, path, measured light (``lux=85``) or object, with its steps."""
    if isinstance(room, Room):
        return Named("room", _BARE_ROOM, room)
    _refuse_bare_light(room)
    expect("room", room, (str, PathLike), "must be a Room, or the name or path of one, or the light there as lux=85")
    text = os.fsdecode(room)
    if "=" in text and not text.lower().endswith(".toml"):
        from printprep.conditions.metering import parse_room

        return Named(text.replace("=", "-").replace(" ", ""), _BARE_ROOM, parse_room(text))
    preset = load(text, "room")
    if preset.room is None:
        raise UnknownName("room", text, names("room"))
    return Named(stem(preset.name), preset.adjust or _BARE_ROOM, preset.room, preset.strength, preset=True)


def _refuse_bare_light(room: object) -> None:
    """Say how a light is written, to whoever gives its number alone."""
    number = _LUX.fullmatch(str(room)) if isinstance(room, (str, int, float)) else None
    if number and str(room) not in names("room"):
        do = f"write lux={number[1].replace(',', '.')}"
        raise ParameterError("room", room, "must be a room's name or path, or the light there", do)


def paper(name: str | Path) -> Paper:
    """A paper by preset name, or by path to a preset, an ICC profile or a CGATS.17 measurement.

    Examples
    --------
    >>> import printprep as pp
    >>> pp.paper("gloss").title
    'Gloss, resin-coated photo paper'
    """
    return named_paper(name).it


def room(name: str | Path) -> Room:
    """A room by preset name, by path to a preset, or as ``lux=85``.

    Examples
    --------
    >>> import printprep as pp
    >>> pp.room("lux=85").illuminance_lux
    85.0
    """
    return named_room(name).it


def lit(room: Room, lux: float, key: str, said: object) -> Room:
    """A room in this light alone, by day and in the evening; `key` and `said` are what it was given as."""
    try:
        return replace(room, illuminance_lux=lux, evening_illuminance_lux=None)
    except ParameterError as error:
        reason = error.reason if said == lux else f"stands for {lux:.3g} lx, which {error.reason}"
        raise ParameterError(key, said, reason) from None


def shown(name: str) -> Preset:
    """What a name or a path stands for, as a preset; a profile or a measurement is a paper's."""
    if not name.lower().endswith(_PATHS) or name.lower().endswith(".toml"):
        return load(name)
    found = named_paper(name).it
    key = "profile" if found.profile is not None else "measurements" if found.measured is not None else ""
    table: dict[str, object] = {key: str(Path(name).absolute())} if key else {
        "white": found.white, "black": found.black, "solids": dict(found.solids or {}),
    }  # fmt: skip
    table["surface"] = found.surface
    settings = {k: Setting(v, name if k != "surface" else "guessed from its black") for k, v in table.items()}
    return Preset(Path(name).stem, name, found.title, paper_table=settings, adjust=BARE_PAPER)


def stem(text: str) -> str:
    """What a preset is called that was asked for by name or by path."""
    return Path(text).stem if text.endswith(".toml") else text


def _measured(path: Path) -> Paper:
    """A paper from a profile or a measurement; told apart by content, never by name."""
    file = InputFile(path, "profile or measurement")
    head = file.read(0, min(file.size, 40))
    return Paper.from_profile(path) if head[36:40] == b"acsp" else Paper.from_measurement(path)


# ---------------------------------------------------------------- which there are


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
