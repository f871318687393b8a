"""The job ticket: what was done to a prepared file, carried inside it."""

from __future__ import annotations

import json
import shlex
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any

import msgspec

from printprep.errors import InputError
from printprep.files.names import printable
from printprep.files.streams import AnyFile
from printprep.results import Result
from printprep.ticket import KIND as _KIND
from printprep.ticket import SCHEMA as _SCHEMA
from printprep.ticket import STRIP_KIND as _STRIP_KIND


@dataclass(frozen=True)
class Ticket(Result):
    """What was done to a prepared file; nothing in it depends on the machine, nor on the time unless that is asked for.

    Parameters
    ----------
    version : str
        Of printprep.
    paper, room, sheet : mapping
        Their resolved values; units as in preset files.
    steps : tuple of mapping
        Every step in order, ``step`` and its resolved parameters.
    source_profile : mapping
        ``description`` and ``sha256`` of the edit's profile.
    hand_over : str
        ``source`` or ``paper``.
    edit : mapping
        ``name`` of its file, ``xxh3_128`` of its pixels as read, row by row, its ``width`` and ``height``, and
        ``metadata_xxh3_128`` of its metadata and resolution.
    prepared : mapping
        ``xxh3_128`` of the prepared pixels.
    recipe : mapping
        What it takes to do it again: ``steps`` as they were asked for, ``strength``, ``paper`` in full, and how all
        was named, ``asked``; empty in tickets before schema 3.
    dialogue : str
        What to set in the print dialogue.
    date : str
        When it was prepared, ISO 8601; empty where nobody asked for it.

    Examples
    --------
    >>> import printprep as pp
    >>> _ = pp.prepare("edit.tif", "print.tif", pp.pipeline(paper="gloss", room="office"))
    >>> pp.read_ticket("print.tif").command
    'printprep prepare edit.tif --paper gloss --room office'
    """

    version: str
    paper: Mapping[str, Any]
    room: Mapping[str, Any]
    sheet: Mapping[str, Any]
    steps: tuple[Mapping[str, Any], ...]
    source_profile: Mapping[str, Any]
    hand_over: str
    edit: Mapping[str, Any] = field(default_factory=dict)
    prepared: Mapping[str, Any] = field(default_factory=dict)
    recipe: Mapping[str, Any] = field(default_factory=dict)
    dialogue: str = ""
    date: str = ""

    def to_dict(self) -> dict[str, Any]:
        """The ticket as plain values; as `to_json`."""
        found: dict[str, Any] = json.loads(self.to_json())
        return found

    def to_json(self) -> str:
        """The ticket as it is embedded: JSON, keys sorted, one line."""
        said = {key: value for key, value in asdict(self).items() if key != "date" or value}
        return json.dumps({"kind": _KIND, "schema": _SCHEMA, **said}, sort_keys=True, ensure_ascii=True)

    @property
    def command(self) -> str:
        """The command line that asked for it, but for the output's name; empty where objects were handed in."""
        asked = self.recipe.get("asked", {})
        unnamed = self.room.get("name") == "room" and not {"room", "metered"} & asked.keys()
        if asked.get("changed") or unnamed or not {"paper", "preset"} & asked.keys():
            return ""
        words = ["printprep", "prepare", str(self.edit.get("name") or "EDIT.tif")]
        for key in ("paper", "room", "metered", "preset", "strength"):
            words += [f"--{key}", _number(asked[key])] if key in asked else []
        for key, value in asked.get("settings", {}).items():
            words += ["--set", f"{key}={value}"]
        words += ["--hand-over", self.hand_over] if self.hand_over != "source" else []
        return shlex.join(words + _sheet_options(self.sheet))

    @classmethod
    def from_json(cls, text: str) -> Ticket:
        """Read an embedded ticket.

        Raises
        ------
        InputError
            If it is damaged or of a newer schema.

        Examples
        --------
        >>> import printprep as pp
        >>> _ = pp.prepare("edit.tif", "print.tif", pp.pipeline(paper="gloss"))
        >>> ticket = pp.read_ticket("print.tif")
        >>> pp.Ticket.from_json(ticket.to_json()) == ticket
        True
        """
        try:
            doc = json.loads(text)
            kind = doc.pop("kind")
            if kind == _STRIP_KIND:
                raise InputError("is a test strip", do="choose a place on it: printprep pick STRIP.tif A1 --save NAME")
            if kind != _KIND:
                raise ValueError
            schema = doc.pop("schema")
            if not isinstance(schema, int) or schema > _SCHEMA:
                raise InputError("the job ticket is of a newer kind", do="use a newer printprep")
            if doc.keys() - {f.name for f in fields(cls)}:
                raise ValueError
            return msgspec.convert(doc, cls)  # each part of its kind
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError, msgspec.ValidationError):
            raise InputError("the job ticket is damaged", do="prepare the picture again") from None

    def __str__(self) -> str:
        lines = [
            f"printprep {self.version}",
            f"paper      {self.paper.get('name')}: {self.paper.get('title') or self.paper.get('kind')}",
            f"           neutral black L* {self.paper.get('neutral_black_L')}, known from {self.paper.get('kind')}",
            *([f"           values: {source}"] if (source := self.recipe.get("paper", {}).get("source")) else []),
            f"room       {self.room.get('name')}: {_light(self.room)}",
            f"hand-over  {self.hand_over}",
            f"edit       {self.edit.get('name') or ''} {self.edit.get('width')} x {self.edit.get('height')} pixels, "
            f"profile {self.source_profile.get('description')!r}, xxh3-128 {self.edit.get('xxh3_128')}",
            *(f"{name:<10} {text}" for name, text in self._more() if text),
            "steps      " + ("none" if not self.steps else ""),
        ]
        for number, step in enumerate(self.steps, 1):
            values = ", ".join(f"{k} {_number(v)}" for k, v in step.items() if k != "step")
            lines.append(f"  {number}. {step.get('step')}: {values or 'no parameters'}")
        return "\n".join(printable(line, 2000) for line in lines)

    def _more(self) -> list[tuple[str, str]]:
        return [("date", self.date), ("print with", self.dialogue), ("command", self.command)]


def _sheet_options(sheet: Mapping[str, Any]) -> list[str]:
    """The options that ask for a sheet."""
    words = []
    for key in ("size", "anchor", "orientation", "ppi", "shrink", "caption"):
        if sheet.get("size") and sheet.get(key) not in (None, "", 0, "centre", "auto"):
            words += [f"--{key}", _number(sheet[key])]
    for key, option in (("margin_mm", "margin"), ("wrap_mm", "wrap")):
        if sheet.get(key) is not None and (sheet[key] or key == "margin_mm"):
            words += [f"--{option}", f"{sheet[key]:g}mm"]
    words += ["--distance", f"{sheet['distance_m']:g}m"] if sheet.get("distance_m") else []
    return words + [f"--{key.replace('_', '-')}" for key in ("fill", "keyline", "wrap_plain") if sheet.get(key)]


def _number(value: object) -> str:
    return f"{value:.4g}" if isinstance(value, float) else str(value)


def _light(room: Mapping[str, Any]) -> str:
    text = f"{_number(room.get('illuminance_lux'))} lx"
    if room.get("evening_illuminance_lux"):
        text += f" by day, {_number(room['evening_illuminance_lux'])} lx by evening"
    return text + (f", glazing {room['glazing']}" if room.get("glazing", "none") != "none" else "")


def read_ticket(path: AnyFile) -> Ticket:
    """The ticket inside a prepared file: a path, or what else `printprep.read` takes.

    Raises
    ------
    InputError
        If the file cannot be read as a TIFF, or has no ticket.

    Examples
    --------
    >>> import printprep as pp
    >>> _ = pp.prepare("edit.tif", "print.tif", pp.pipeline(paper="gloss"))
    >>> pp.read_ticket("print.tif").paper["name"]
    'gloss'
    """
    from printprep.photo.metadata import ticket_text

    text = ticket_text(path)
    if text is None:
        raise InputError("has no job ticket", where=repr(str(path)), do="only prepared pictures carry one")
    try:
        return Ticket.from_json(text)
    except InputError as error:
        raise error.within(repr(str(path))) from None
