"""The job ticket: what was done to a prepared file, carried inside it."""

from __future__ import annotations

import json
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


@dataclass(frozen=True)
class Ticket(Result):
    """What was done to a prepared file; nothing in it depends on the time or the machine.

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
        ``xxh3_128`` of the edit's pixels as read, row by row, its ``width`` and ``height``, and
        ``metadata_xxh3_128`` of its metadata and resolution.
    prepared : mapping
        ``xxh3_128`` of the prepared pixels.
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

    def to_dict(self) -> dict[str, Any]:
        """The ticket as plain values; as `to_json`."""
        found: dict[str, Any] = json.loads(self.to_json())
        return found

    def to_json(self) -> str:
        """The ticket as it is embedded: JSON, keys sorted, one line."""
        return json.dumps({"kind": _KIND, "schema": _SCHEMA, **asdict(self)}, sort_keys=True, ensure_ascii=True)

    @classmethod
    def from_json(cls, text: str) -> Ticket:
        """Read an embedded ticket.

        Raises
        ------
        InputError
            If it is damaged or of a newer schema.
        """
        try:
            doc = json.loads(text)
            if doc.pop("kind") != _KIND:
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
            f"room       {self.room.get('name')}: {_light(self.room)}",
            f"hand-over  {self.hand_over}",
            f"edit       {self.edit.get('width')} x {self.edit.get('height')} pixels, "
            f"profile {self.source_profile.get('description')!r}, xxh3-128 {self.edit.get('xxh3_128')}",
            "steps      " + ("none" if not self.steps else ""),
        ]
        for number, step in enumerate(self.steps, 1):
            values = ", ".join(f"{k} {_number(v)}" for k, v in step.items() if k != "step")
            lines.append(f"  {number}. {step.get('step')}: {values or 'no parameters'}")
        return "\n".join(printable(line, 2000) for line in lines)


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
