"""What a pipeline was made of, as a ticket tells it, and made of that again."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any, Protocol, runtime_checkable

from printprep.adjust._base import Steps
from printprep.adjust._registry import built, step_name
from printprep.conditions.conditions import HandOver
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.sheet import Sheet
from printprep.errors import InputError, PrintprepError
from printprep.named import named_paper
from printprep.preset import load

_COLOURS = ("white", "black", "solids")
"""Of a paper that is known from its eight patches; others get them from a profile or a chart."""


@runtime_checkable
class Told(Protocol):
    """What is read of a ticket."""

    @property
    def paper(self) -> Mapping[str, Any]:
        """What is told of the paper; and so on, as in `printprep.Ticket`."""
        ...

    @property
    def room(self) -> Mapping[str, Any]: ...  # noqa: D102

    @property
    def sheet(self) -> Mapping[str, Any]: ...  # noqa: D102

    @property
    def steps(self) -> Sequence[Mapping[str, Any]]: ...  # noqa: D102

    @property
    def hand_over(self) -> str: ...  # noqa: D102

    @property
    def recipe(self) -> Mapping[str, Any]: ...  # noqa: D102


@dataclass(frozen=True)
class Recalled:
    """What a pipeline is made of again.

    Parameters
    ----------
    steps, paper, room, sheet, hand_over, strength, paper_name, room_name, asked
        As for `Pipeline`.
    changed : str
        What is not as it was, in words; empty where all is.
    """

    steps: Steps
    paper: Paper
    room: Room
    sheet: Sheet
    hand_over: HandOver
    strength: float
    paper_name: str
    room_name: str
    asked: Mapping[str, Any]
    changed: str


def recipe(steps: Steps, paper: Paper, strength: float, asked: Mapping[str, Any]) -> dict[str, Any]:
    """What a ticket tells of a pipeline beside room and sheet, so that it can be made again.

    Parameters
    ----------
    steps : Steps
        As they were asked for: nothing resolved, nothing decided by a picture.
    paper : Paper
        Told in full where it is known from eight patches; of a profile or a chart, its hash.
    strength : float
        Of the whole.
    asked : mapping
        How paper, room and settings were named.
    """
    return {
        "steps": [{"step": step_name(s), **asdict(s)} for s in steps],
        "strength": strength,
        "paper": _values(paper) | _identity(paper),
        "asked": dict(asked),
    }


def recalled(ticket: Told, paper: str | Path | Paper | None = None) -> Recalled:
    """What the pipeline of a ticket was made of.

    Parameters
    ----------
    ticket : Told
        Of any schema.
    paper : str, Path or Paper, optional
        In place of the one that the ticket names.

    Raises
    ------
    InputError
        If the paper's profile or chart is not found again.
    PrintprepError
        If a step is not known here, or a value is wrong.
    """
    said = dict(ticket.recipe) or _of_before(ticket)
    try:
        steps = Steps(tuple(built(s["step"], {k: v for k, v in s.items() if k != "step"}) for s in said["steps"]))
        room = Room.from_table({k: v for k, v in ticket.room.items() if k != "name"})
        sheet = _sheet(ticket.sheet)
        found, name, asked, changed = _paper(ticket, said, paper)
    except (KeyError, TypeError, AttributeError):
        raise InputError("the job ticket is damaged", do="prepare the picture anew") from None
    hand_over: HandOver = "grey" if ticket.hand_over == "grey" else "paper" if ticket.hand_over == "paper" else "source"
    room_name = str(ticket.room.get("name", "room"))
    return Recalled(steps, found, room, sheet, hand_over, said["strength"], name, room_name, asked, changed)


def _of_before(ticket: Told) -> dict[str, Any]:
    """The recipe of a ticket that has none: its steps are resolved already, and what pictures decide is taken out."""
    steps = [{k: v for k, v in step.items() if k != "worth"} for step in ticket.steps]
    asked = {key: said["name"] for key, said in (("paper", ticket.paper), ("room", ticket.room))}
    return {"steps": steps, "strength": 1.0, "paper": {"fingerprint": ticket.paper["fingerprint"]}, "asked": asked}


def _values(paper: Paper) -> dict[str, Any]:
    typed = paper.solids is not None
    left_out = ("profile", "measured", *(() if typed else _COLOURS))
    return {f.name: getattr(paper, f.name) for f in fields(paper) if f.name not in left_out}


def _identity(paper: Paper) -> dict[str, str]:
    """What tells one profile or chart from another."""
    if paper.profile is not None:
        return {"profile_sha256": hashlib.sha256(paper.profile).hexdigest()}
    return {"chart": paper.measured.fingerprint} if paper.measured is not None else {}


def _paper(
    ticket: Told, said: Mapping[str, Any], given: str | Path | Paper | None
) -> tuple[Paper, str, Mapping[str, Any], str]:
    """The paper, what it is called, how it was asked for, and what is not as it was."""
    asked, values = dict(said["asked"]), dict(said["paper"])
    wanted = {key: values.pop(key) for key in ("profile_sha256", "chart", "fingerprint") if key in values}
    own = str(ticket.paper.get("name", "paper"))
    if given is None and not wanted:
        return Paper(**values), own, asked, ""
    if given is None:
        found, name = _found(asked), own
    else:
        named = named_paper(given)
        assert named.paper is not None
        found, name = named.paper, named.name
        asked = {k: v for k, v in asked.items() if k != "paper"}
        asked |= {} if isinstance(given, Paper) else {"paper": str(given)}
    if not wanted:  # another in place of one that was told in full
        same = (_values(found) | _identity(found)) == _values(Paper(**values))
        return found, own if same else name, asked, "" if same else "another paper"
    is_now = {"fingerprint": found.fingerprint, **_identity(found)}
    if all(is_now.get(key) == value for key, value in wanted.items()):
        if values:  # what a preset says beside its profile, as it was then
            found = Paper(profile=found.profile, measured=found.measured, **values)
        return found, own, asked, ""
    return found, name, asked, f"the paper's {_KINDS[next(iter(wanted))]}"


_KINDS = {"profile_sha256": "profile", "chart": "measured chart", "fingerprint": "values"}


def _found(asked: Mapping[str, Any]) -> Paper:
    """The paper by the name it was asked for by."""
    way, do = "paper=PAPER", "name it once more with {way}"
    if not {"paper", "preset"} & asked.keys():
        raise InputError("the job ticket does not tell where its paper came from", do=do, way=way)
    try:
        found = named_paper(asked["paper"]).paper if "paper" in asked else load(asked["preset"]).paper
    except PrintprepError as error:
        raise InputError(f"the paper of the job ticket is not found: {error.fault}", do=do, way=way) from None
    assert found is not None
    return found


def _sheet(said: Mapping[str, Any]) -> Sheet:
    """The sheet of a ticket; those of versions that knew no sizes tell a resolution that nothing used."""
    return Sheet.from_table({k: v for k, v in said.items() if k != "print"}) if "size" in said else Sheet()
