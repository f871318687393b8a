"""A pipeline kept as plain values, as a preset or in a ticket, and made of them again."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import asdict, fields
from functools import partial
from pathlib import Path
from typing import Any, Self, TypeVar

from printprep import __version__
from printprep.adjust._base import Adjustment, Steps
from printprep.adjust._registry import built, step_name
from printprep.conditions.conditions import HandOver
from printprep.conditions.layout import Layout
from printprep.conditions.paper import PROFILE, Paper
from printprep.conditions.room import Room
from printprep.conditions.sheet import Sheet
from printprep.errors import InputError, ParameterError, PrintprepError, UnknownName
from printprep.named import named_paper
from printprep.parameters import checked_call
from printprep.photo.fingerprint import Fingerprinted
from printprep.photo.photo import Photo
from printprep.preset import load
from printprep.preset_files import LARGEST, preset_text
from printprep.render.plan import Plan
from printprep.ticket import PendingTicket, Ticket, dialogue

_KIND = "printprep pipeline"
_SCHEMA = 1
_KEYS = ("kind", "schema", "paper_name", "room_name", "strength", "hand_over", "sheet", "paper", "room", "adjust")
_PLAIN = (str, bool, int, float)
_DO = "keep it with to_dict"


class Asked(dict[str, Any]):
    """How a pipeline was asked for, in words, and what those words made: of another one they say so."""

    made: object = None

    @classmethod
    def of(cls, words: Mapping[str, Any] | None, made: object) -> Asked:
        """Words for what they made; those of another pipeline get ``changed``, for no command line asks for this."""
        found = cls(words or {})
        if isinstance(words, Asked) and words.made != made:
            found["changed"] = True
        found.made = made
        return found


class Stored:
    """What a pipeline has to be kept and found again."""

    steps: Steps
    paper: Paper
    room: Room
    sheet: Sheet
    hand_over: HandOver
    strength: float
    paper_name: str
    room_name: str
    asked: Mapping[str, Any]

    def to_dict(self) -> dict[str, Any]:
        """Everything that a pipeline is, in plain values: what JSON can hold.

        Returns
        -------
        dict
            ``kind``, ``schema``, the names, ``strength``, ``hand_over``, and tables as in preset files; units as
            there. A paper's profile or measured chart is in it, so that no other file is needed.

        Raises
        ------
        PrintprepError
            If a step of another package has a parameter that is no plain value.

        Examples
        --------
        >>> import json
        >>> import printprep as pp
        >>> pipe = pp.pipeline(paper="gloss", room="office")
        >>> pp.Pipeline.from_dict(json.loads(json.dumps(pipe.to_dict()))) == pipe
        True
        """
        return {
            "kind": _KIND,
            "schema": _SCHEMA,
            "paper_name": self.paper_name,
            "room_name": self.room_name,
            "strength": self.strength,
            "hand_over": self.hand_over,
            "sheet": table_of(self.sheet, "sheet"),
            "paper": self.paper.to_table(),
            "room": table_of(self.room, "room"),
            "adjust": [{"step": step_name(step), **table_of(step, step_name(step))} for step in self.steps],
        }

    @classmethod
    def from_dict(cls, doc: object) -> Self:
        """The pipeline of `to_dict`.

        Raises
        ------
        InputError
            If it is none, or one of a newer version.
        PrintprepError
            If a step is not known here, or a value is wrong; names it.

        Examples
        --------
        >>> import printprep as pp
        >>> pipe = pp.pipeline(paper="gloss")
        >>> pp.Pipeline.from_dict(pipe.to_dict()) == pipe
        True
        """
        if not isinstance(doc, Mapping) or doc.get("kind") != _KIND:
            raise InputError("this is no stored pipeline", do="take one from Pipeline.to_dict")
        if doc.get("schema") != _SCHEMA or isinstance(doc["schema"], bool):
            what = f"the stored pipeline has schema {doc.get('schema')!r}, known is {_SCHEMA}"
            raise InputError(what, do="use a newer printprep")
        for key in doc:
            if key not in _KEYS:
                raise UnknownName("key of a stored pipeline", str(key), _KEYS)
        for key in _KEYS:
            if key not in doc:
                raise PrintprepError("missing", where=f"stored pipeline, {key}", do="add it")
        return cls(
            _steps(doc["adjust"]),
            paper=_built(Paper.from_table, doc["paper"], "paper"),
            room=_built(Room.from_table, doc["room"], "room"),
            sheet=_built(Sheet.from_table, doc["sheet"], "sheet"),
            **{key: doc[key] for key in ("hand_over", "strength", "paper_name", "room_name")},
        )  # type: ignore[call-arg]

    @classmethod
    @checked_call
    def from_ticket(cls, ticket: Ticket, *, paper: str | Path | Paper | None = None) -> Self:
        """The pipeline that a prepared picture was made by, with nothing decided by that picture.

        Parameters
        ----------
        ticket : Ticket
            From `read_ticket`.
        paper : str, Path or Paper, optional
            In place of the paper that the ticket names.

        Raises
        ------
        InputError
            If the paper's profile or chart is not found, or has changed since.
        PrintprepError
            If a step is not known here.

        Examples
        --------
        >>> import printprep as pp
        >>> pipe = pp.pipeline(paper="gloss", room="office")
        >>> _ = pp.prepare("edit.tif", "print.tif", pipe)
        >>> pp.Pipeline.from_ticket(pp.read_ticket("print.tif")) == pipe
        True
        """
        found, changed = recalled(cls, ticket, paper)
        if changed and paper is None:
            do = "keep it as it was, or take it as it is with {way}"
            raise InputError(f"{changed} of the job ticket has changed since", do=do, way="paper=PAPER")
        return found

    def _ticket(
        self, photo: Photo, plan: Plan, edit: Fingerprinted, made: Fingerprinted, layout: Layout | None
    ) -> PendingTicket:
        """What a photo that this is at work on will say of itself."""
        paper, profile = self.paper, photo.profile
        job = {
            "version": __version__,
            "paper": {
                "name": self.paper_name,
                "title": paper.title,
                "kind": paper.kind,
                "surface": paper.surface,
                "white": paper.white,
                "black": paper.black,
                "fingerprint": paper.fingerprint,
                "neutral_black_L": round(paper.neutral_black, 3),
            },
            "room": {"name": self.room_name, **asdict(self.room)},
            "sheet": asdict(self.sheet) | ({"print": layout.told} if layout else {}),
            "steps": _told(plan.steps),
            "hand_over": self.hand_over,
        }
        recipe = {
            "steps": _told(self.steps),
            "strength": self.strength,
            "paper": paper.to_table(whole=False),
            "asked": dict(self.asked),
        }
        source = {"description": profile.description, "sha256": hashlib.sha256(profile.data).hexdigest()}
        metadata = photo.metadata.fingerprint(repr(photo.resolution))
        known = {"width": edit.width, "height": edit.height, "metadata_xxh3_128": metadata}
        known |= {"panels": photo.part.told} if photo.part else {}
        name = photo.path.name if photo.path else ""
        return PendingTicket(job, source, known, edit, made, recipe, dialogue(self.hand_over, paper), name)

    def to_toml(self) -> str:
        """The text of a preset, that `printprep.pipeline` makes the same pipeline of; its names are those of the file.

        Raises
        ------
        PrintprepError
            If the pipeline has no steps, for such a preset gets those of a bare paper; or if it would be larger than a
            preset may be: `to_dict` keeps both.

        Examples
        --------
        >>> from pathlib import Path
        >>> import printprep as pp
        >>> pipe = pp.pipeline(paper="gloss", room="office")
        >>> _ = Path("mine.toml").write_text(pipe.to_toml())
        >>> pp.pipeline(preset="mine.toml").steps == pipe.steps
        True
        """
        title = f"{self.paper.title or self.paper_name}, {self.room_name}"
        text = as_preset(self, title, self.paper.source or "not stated")
        if len(text.encode()) > LARGEST:
            raise PrintprepError("the paper is too large for a preset", where="pipeline", do=_DO)
        return text


# ---------------------------------------------------------------- out of a ticket

_Kept = TypeVar("_Kept", bound=Stored)

_IDENTITY = {"profile_sha256": "profile", "chart": "measured chart", "fingerprint": "values"}
"""What a ticket knows a paper by that it does not tell in full, and what to call that."""


def recalled(kind: type[_Kept], ticket: Ticket, paper: str | Path | Paper | None = None) -> tuple[_Kept, str]:
    """The pipeline (`kind`) of a ticket of any schema, and what is not as it was, in words; empty where all is.

    It is an InputError if the paper's profile or chart is not found again; `paper` is taken in its place.
    """
    said = dict(ticket.recipe) or _of_before(ticket)
    try:
        steps = Steps(tuple(built(s["step"], {k: v for k, v in s.items() if k != "step"}) for s in said["steps"]))
        room = Room.from_table({k: v for k, v in ticket.room.items() if k != "name"})
        sheet = {k: v for k, v in ticket.sheet.items() if k != "print"} if "size" in ticket.sheet else {}
        found, name, asked, changed = _paper(ticket, said, paper)
    except (KeyError, TypeError, AttributeError):
        raise InputError("the job ticket is damaged", do="prepare the picture anew") from None
    pipe = kind(
        steps, paper=found, room=room, sheet=Sheet.from_table(sheet), hand_over=ticket.hand_over,
        strength=said["strength"], paper_name=name, room_name=str(ticket.room.get("name", "room")), asked=asked,
    )  # type: ignore[call-arg]  # fmt: skip
    return pipe, changed


def _of_before(ticket: Ticket) -> dict[str, Any]:
    """The recipe of a ticket that has none: its steps are resolved already, and what pictures decide is taken out."""
    steps = [{k: v for k, v in step.items() if k != "worth"} for step in ticket.steps]
    asked = {key: said["name"] for key, said in (("paper", ticket.paper), ("room", ticket.room))}
    return {"steps": steps, "strength": 1.0, "paper": {"fingerprint": ticket.paper["fingerprint"]}, "asked": asked}


def _paper(
    ticket: Ticket, said: Mapping[str, Any], given: str | Path | Paper | None
) -> tuple[Paper, str, Mapping[str, Any], str]:
    """The paper, what it is called, how it was asked for, and what is not as it was."""
    asked, values = dict(said["asked"]), dict(said["paper"])
    wanted = {key: values.pop(key) for key in _IDENTITY if key in values}
    own = str(ticket.paper.get("name", "paper"))
    if given is None and not wanted:
        return Paper(**values), own, asked, ""
    if given is None:
        found, name = _found(asked), own
    else:
        named = named_paper(given)
        found, name = named.it, named.name
        asked = {k: v for k, v in asked.items() if k != "paper"}
        asked |= {} if isinstance(given, Paper) else {"paper": str(given)}
    told = found.to_table(whole=False)
    if not wanted:  # another in place of one that was told in full
        same = told == Paper(**values).to_table(whole=False)
        return found, own if same else name, asked, "" if same else "another paper"
    is_now = {"fingerprint": found.fingerprint, **told}
    if all(is_now.get(key) == value for key, value in wanted.items()):
        if values:  # what a preset says beside its profile, as it was then
            found = Paper(profile=found.profile, measured=found.measured, **values)
        return found, own, asked, ""
    return found, name, asked, f"the paper's {_IDENTITY[next(iter(wanted))]}"


def _found(asked: Mapping[str, Any]) -> Paper:
    """The paper by the name it was asked for by."""
    way, do = "paper=PAPER", "name it once more with {way}"
    if not {"paper", "preset"} & asked.keys():
        raise InputError("the job ticket does not tell where its paper came from", do=do, way=way)
    try:
        found = named_paper(asked["paper"]).it if "paper" in asked else load(asked["preset"]).paper
    except PrintprepError as error:
        raise InputError(f"the paper of the job ticket is not found: {error.fault}", do=do, way=way) from None
    assert found is not None
    return found


# ---------------------------------------------------------------- values, in and out


def _told(steps: Iterable[Adjustment]) -> list[dict[str, Any]]:
    return [{"step": step_name(step), **asdict(step)} for step in steps]


def _steps(tables: object) -> Steps:
    if not isinstance(tables, (list, tuple)):
        raise ParameterError("adjust", tables, "must be a list of tables")
    made = []
    for number, table in enumerate(tables, 1):
        if not isinstance(table, Mapping) or not isinstance(table.get("step"), str):
            raise ParameterError(f"adjust {number}", table, "must be a table with a step")
        values = dict(table)
        name = values.pop("step")
        made.append(_built(partial(built, name), values, name))
    return Steps(tuple(made))


def _built(make: Any, table: object, name: str) -> Any:
    try:
        return make(dict(table) if isinstance(table, Mapping) else table)
    except PrintprepError as error:
        raise error.within(name) from error


def table_of(value: Any, where: str) -> dict[str, Any]:
    """The fields of a dataclass as plain values; those that are None by default are left out where they are."""
    usual, values = {f.name: f.default for f in fields(value)}, asdict(value).items()
    return {key: _plain(each, f"{where}: {key}") for key, each in values if each is not None or usual[key] is not None}


def _plain(value: object, where: str) -> Any:
    if value is None or isinstance(value, _PLAIN):
        return value
    if isinstance(value, (list, tuple)):
        return [_plain(each, where) for each in value]
    if isinstance(value, Mapping) and all(isinstance(key, str) for key in value):
        return {key: _plain(each, where) for key, each in value.items() if each is not None}
    do = "let the step have numbers, text, lists and tables"
    raise PrintprepError(f"a value of type {type(value).__name__} cannot be stored", where=where, do=do)


def as_preset(pipe: Stored, title: str, source: str, profile: str = "") -> str:
    """The text of a preset; `profile` is the file beside it that holds the paper's profile, where it is not in it."""
    if not len(pipe.steps):
        raise PrintprepError("a preset without steps gets those of a bare paper", where="pipeline", do=_DO)
    doc, usual = pipe.to_dict(), table_of(Sheet(), "sheet")
    paper = {"title": "", "source": "", **doc["paper"]}
    if profile:
        paper = {key: value for key, value in paper.items() if key != PROFILE} | {"profile": profile}
    sheet = {key: value for key, value in doc["sheet"].items() if value != usual.get(key)}
    whole = {key: doc[key] for key in ("strength", "hand_over")}
    return preset_text(title, source, doc["adjust"], **whole, paper=paper, room=doc["room"], sheet=sheet)
