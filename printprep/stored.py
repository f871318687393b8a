"""A pipeline kept as plain values or as a preset, and made of them again."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import MISSING, Field, asdict, fields
from typing import Any, Self

from printprep.adjust._base import Steps
from printprep.adjust._registry import built, step_name
from printprep.conditions.conditions import HandOver
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.sheet import Sheet
from printprep.errors import InputError, ParameterError, PrintprepError, UnknownName
from printprep.preset_files import LARGEST, toml_text

_KIND = "printprep pipeline"
_SCHEMA = 1
_KEYS = ("kind", "schema", "paper_name", "room_name", "strength", "hand_over", "sheet", "paper", "room", "adjust")
_PLAIN = (str, bool, int, float)


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
            "sheet": _table(self.sheet, "sheet"),
            "paper": self.paper.to_table(),
            "room": _table(self.room, "room"),
            "adjust": [{"step": step_name(step), **_table(step, step_name(step))} for step in self.steps],
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
        made: Any = cls
        result: Self = made(
            _steps(doc["adjust"]),
            paper=_built(Paper.from_table, doc["paper"], "paper"),
            room=_built(Room.from_table, doc["room"], "room"),
            sheet=_built(Sheet.from_table, doc["sheet"], "sheet"),
            **{key: doc[key] for key in ("hand_over", "strength", "paper_name", "room_name")},
        )
        return result

    def to_toml(self) -> str:
        """The text of a preset, that `printprep.pipeline` makes the same steps, paper and room of.

        Its names are those of the file that it is written to. What is said with a job and not with a preset,
        hand-over and sheet, must be as it is by default.

        Raises
        ------
        PrintprepError
            If the pipeline has no steps, for such a preset gets those of a bare paper; if hand-over or sheet are not
            the usual ones; if it would be larger than a preset may be: `to_dict` keeps all of these.

        Examples
        --------
        >>> from pathlib import Path
        >>> import printprep as pp
        >>> pipe = pp.pipeline(paper="gloss", room="office")
        >>> _ = Path("mine.toml").write_text(pipe.to_toml())
        >>> pp.pipeline(preset="mine.toml").steps == pipe.steps
        True
        """
        do = "keep it with to_dict"
        if self.hand_over != "source" or self.sheet != Sheet():
            raise PrintprepError("a preset holds no hand-over and no sheet", where="pipeline", do=do)
        if not len(self.steps):
            raise PrintprepError("a preset without steps gets those of a bare paper", where="pipeline", do=do)
        doc = self.to_dict()
        lines = [
            f"title = {_value(f'{self.paper.title or self.paper_name}, {self.room_name}')}",
            f"source = {_value(self.paper.source or 'not stated')}",
            f"schema = {_SCHEMA}",
            f"strength = {_value(self.strength)}",
        ]
        lines += toml_lines("[paper]", {"title": "", "source": "", **doc["paper"]})
        lines += toml_lines("[room]", doc["room"])
        for step in doc["adjust"]:
            lines += toml_lines("[[adjust]]", step)
        text = "\n".join(lines) + "\n"
        if len(text.encode()) > LARGEST:
            raise PrintprepError("the paper is too large for a preset", where="pipeline", do=do)
        return text


def _steps(tables: object) -> Steps:
    if not isinstance(tables, (list, tuple)):
        raise ParameterError("adjust", tables, "must be a list of tables")
    made = []
    for number, table in enumerate(tables, 1):
        if not isinstance(table, Mapping) or not isinstance(table.get("step"), str):
            raise ParameterError(f"adjust {number}", table, "must be a table with a step")
        name = table["step"]
        made.append(_built(lambda t, name=name: built(name, t), {k: v for k, v in table.items() if k != "step"}, name))
    return Steps(tuple(made))


def _built(make: Any, table: object, name: str) -> Any:
    try:
        return make(dict(table) if isinstance(table, Mapping) else table)
    except PrintprepError as error:
        raise error.within(name) from error


def _table(value: Any, where: str) -> dict[str, Any]:
    """The fields of a dataclass as plain values; those that are None by default are left out where they are."""
    known = {f.name: f for f in fields(value)}
    return {
        key: _plain(each, f"{where}: {key}") for key, each in asdict(value).items() if not _absent(known[key], each)
    }


def _absent(known: Field[Any], value: object) -> bool:
    return value is None and known.default is None and known.default_factory is MISSING


def _plain(value: object, where: str) -> Any:
    if value is None or isinstance(value, _PLAIN):
        return value
    if isinstance(value, (list, tuple)):
        return [_plain(each, where) for each in value]
    if isinstance(value, Mapping) and all(isinstance(key, str) for key in value):
        return {key: _plain(each, where) for key, each in value.items() if each is not None}
    do = "let the step have numbers, text, lists and tables"
    raise PrintprepError(f"a value of type {type(value).__name__} cannot be stored", where=where, do=do)


def toml_lines(head: str, table: Mapping[str, Any]) -> list[str]:
    """The lines of a preset's table, and of those within it, after an empty one; `head` such as ``[paper]``."""
    inner = {key: value for key, value in table.items() if isinstance(value, Mapping)}
    lines = ["", head, *(f"{_key(k)} = {_value(v)}" for k, v in table.items() if k not in inner)]
    name = head.strip("[]")
    for key, value in inner.items():
        lines += toml_lines(f"[{name}.{_key(key)}]", value)
    return lines


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _value(key)


def _value(value: object) -> str:
    """A value as TOML spells it (toml.io, version 1.0)."""
    if isinstance(value, str):
        return toml_text(value)
    if isinstance(value, list):
        nested = any(isinstance(each, list) for each in value)
        return "[" + (",\n" if nested else ", ").join(map(_value, value)) + "]"
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + "}"
    if value is None:
        do = "keep it with to_dict"
        raise PrintprepError("a preset cannot hold a value that is left open", where="pipeline", do=do)
    return json.dumps(value)
