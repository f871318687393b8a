"""The job ticket: what a prepared picture says of itself, told once its pixels have passed, and read again."""

from __future__ import annotations

import json
import shlex
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any

import msgspec

from printprep.conditions.grey_ramp import lean
from printprep.conditions.paper import Paper
from printprep.errors import InputError
from printprep.files.names import printable
from printprep.files.streams import AnyFile
from printprep.photo.fingerprint import Fingerprinted
from printprep.photo.metadata import ticket_text
from printprep.results import Result

KIND = "printprep job ticket"
STRIP_KIND = "printprep strip ticket"
SCHEMA = 3
"""1 knew neither the edit's metadata nor the prepared pixels; 2 told what was done, not what was asked for."""


def dialogue(hand_over: str, paper: Paper) -> str:
    """What to set in the print dialogue, and what the hand must do, for a hand-over on a paper."""
    if hand_over == "paper":
        said = "colour management off in every dialogue; the file is in the paper's own profile already"
    elif hand_over == "grey":
        said = (
            f"the driver's own grey mode ({printable(paper.grey_mode)}), colour management off in every dialogue, so "
            f"that its one channel is not converted{lean(paper.grey_ramp)}"
        )
    else:
        said = (
            "let the application manage colour, choose the paper's profile, relative colorimetric, black point "
            "compensation on"
        )
    return "; ".join([said, *paper.by_hand])


@dataclass(frozen=True)
class PendingTicket:
    """What a prepared file will say of itself, as `Ticket`; calling it gives the JSON that is embedded.

    `job` is what is known before any pixel is read, and `known_of_edit` what of the edit, but for the `name` of its
    file; `edit` and `made` are pixels before and after.
    """

    job: Mapping[str, Any]
    source_profile: Mapping[str, Any]
    known_of_edit: Mapping[str, Any]
    edit: Fingerprinted
    made: Fingerprinted
    recipe: Mapping[str, Any]
    dialogue: str
    name: str = ""
    date: str = ""

    def __call__(self) -> str:
        """The ticket as it is embedded: JSON, keys sorted, one line; pixels that nobody has asked for are read now."""
        known, edit = self.known, self.edit.hexdigest()
        hashed = {"edit": {**known["edit"], "xxh3_128": edit}, "prepared": {"xxh3_128": self.made.hexdigest()}}
        return json.dumps({"kind": KIND, "schema": SCHEMA, **known, **hashed}, sort_keys=True, ensure_ascii=True)

    @property
    def known(self) -> dict[str, Any]:
        """What it says but for the hashes of pixels."""
        dated = {"date": self.date} if self.date else {}
        return {
            **self.job, "source_profile": self.source_profile, "recipe": self.recipe, "dialogue": self.dialogue,
            "edit": {"name": self.name, **self.known_of_edit}, **dated,
        }  # fmt: skip


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
        ``metadata_xxh3_128`` of its metadata and resolution; ``panels``, where it is one of several of one picture.
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
        return json.dumps({"kind": KIND, "schema": SCHEMA, **said}, sort_keys=True, ensure_ascii=True)

    @property
    def command(self) -> str:
        """The command line that asked for it, but for the output's name; empty where objects were handed in."""
        asked = self.recipe.get("asked", {})
        unnamed = self.room.get("name") == "room" and not {"room", "metered"} & asked.keys()
        if asked.get("changed") or unnamed or not {"paper", "preset"} & asked.keys():
            return ""
        panels = self.edit.get("panels", {}).get("names", [])
        words = ["printprep", "prepare", *(panels or [str(self.edit.get("name") or "EDIT.tif")])]
        words += ["--panels"] if panels else []
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
            if kind == STRIP_KIND:
                raise InputError("is a test strip", do="pick a place on it, such as A1")
            if kind != KIND:
                raise ValueError
            schema = doc.pop("schema")
            if not isinstance(schema, int) or schema > SCHEMA:
                raise InputError("the job ticket is of a newer kind", do="use a newer printprep")
            if doc.keys() - {f.name for f in fields(cls)}:
                raise ValueError
            return msgspec.convert(doc, cls)  # each part of its kind
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError, msgspec.ValidationError):
            raise InputError("the job ticket is damaged", do="prepare the picture again") from None

    def __str__(self) -> str:
        edit = shlex.quote(str(self.edit.get("name") or "EDIT.tif"))
        reprint = f"printprep reprint THIS.tif --input {edit} -o NEW.tif"
        again = ("command", self.command) if self.command else ("again", reprint)
        more = (("date", self.date), ("print with", self.dialogue), again)
        lines = [
            f"printprep {self.version}",
            f"paper      {self.paper.get('name')}: {self.paper.get('title') or self.paper.get('kind')}",
            f"           neutral black L* {self.paper.get('neutral_black_L')}, known from {self.paper.get('kind')}",
            *([f"           values: {source}"] if (source := self.recipe.get("paper", {}).get("source")) else []),
            f"room       {self.room.get('name')}: {_light(self.room)}",
            f"hand-over  {self.hand_over}",
            f"edit       {self.edit.get('name') or ''} {self.edit.get('width')} x {self.edit.get('height')} pixels, "
            f"profile {self.source_profile.get('description')!r}, xxh3-128 {self.edit.get('xxh3_128')}",
            *(f"{name:<10} {text}" for name, text in more if text),
            "steps      " + ("none" if not self.steps else ""),
        ]
        for number, step in enumerate(self.steps, 1):
            values = ", ".join(f"{k} {_number(v)}" for k, v in step.items() if k != "step")
            lines.append(f"  {number}. {step.get('step')}: {values or 'no parameters'}")
        return "\n".join(printable(line, 2000) for line in lines)


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
    text = ticket_text(path)
    if text is None:
        raise InputError("has no job ticket", where=repr(str(path)), do="only prepared pictures carry one")
    try:
        return Ticket.from_json(text)
    except InputError as error:
        raise error.within(repr(str(path))) from None
