"""What a print that came out wrong asks for: what to check first, and only then another value."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from printprep.adjust._registry import built, step_name
from printprep.errors import InputError, PrintprepError
from printprep.jobs.again import like
from printprep.jobs.logbook import Entry
from printprep.pipe import Pipeline
from printprep.ticket import Ticket

_OPPOSITE = {"too dark": "too light", "too light": "too dark"}

_NEXT: dict[str, tuple[tuple[str, float], ...]] = {
    "too dark": (("room-brightness.strength", 0.3),),
    "too light": (("room-brightness.strength", -0.3),),
    "blocked shadows": (("shadow-lift.worth", 0.5), ("shadow-lift.strength", 0.25)),
    "dull colour": (("gamut-fit.strength", -0.25), ("room-colour.strength", 0.25)),
    "too strong": (("strength", -0.2),),
    "tinted": (),
    "soft": (),
}
"""By how much which value moves for a result, the first that does anything; our choice, each a step that can be seen.
A room strength of 0.3 moves a mid grey under 50 lx by 1.6 L* on matte paper."""

TARGET, SCREEN = "printprep.target", "printprep.screen"

_GREY = np.array([[50.0, 0.0, 0.0]], np.float32)
"""A mid grey."""


@dataclass(frozen=True)
class Advice:
    """What to do about a sheet that was judged.

    `checks` are to be looked at first, the likeliest first; `TARGET` and `SCREEN` in them stand for calls that help.
    Where all that is in order, `setting`, such as ``shadow-lift.strength``, should next have `value`; it has `now`, and
    a strip around the next goes from `least` to `most`. It is empty where nothing helps.
    """

    entry: Entry
    checks: tuple[str, ...]
    setting: str = ""
    now: float = 0.0
    value: float = 0.0
    least: float = 0.0
    most: float = 0.0


def advise(entry: Entry, entries: Iterable[Entry]) -> Advice:
    """What to do about a print that is judged, by the rules of the trade; nothing is fitted to results.

    `entries` are the log: what other rooms say.
    """
    if not entry.result:
        do = "judge it first: add it to the log again, with its result"
        raise InputError("is not judged yet", where=f"sheet {entry.number}", do=do)
    if entry.result == "right":
        return Advice(entry, ())
    log = list(entries)
    ticket = Ticket.from_json(entry.ticket)
    checks = tuple(_checks(entry, log, ticket))
    try:
        pipe = like(ticket).pipe
    except PrintprepError:  # its paper or a step is gone: what to check is known all the same
        return Advice(entry, checks)
    for setting, by in _NEXT[entry.result]:
        found = _moved(pipe, ticket, setting, by)
        if found is not None:
            now, value, limit = found
            value = _between(entry, log, setting, now, value)
            ends = sorted((now, min(max(2 * value - now, 0.0), limit)))
            return Advice(entry, checks, setting, now, value, *ends)
    return Advice(entry, checks)


def _moved(pipe: Pipeline, ticket: Ticket, setting: str, by: float) -> tuple[float, float, float] | None:
    """What a value is, what it would be, and the most it can be; None where that would not help."""
    if setting == "strength":
        return _stepped(pipe.strength, by, 1.5)
    name, _, key = setting.partition(".")
    on = pipe.conditions("sRGB")
    there = next((s for s in pipe.steps if step_name(s) == name), None)
    if key == "worth":
        decided = next((s.get("worth") for s in ticket.steps if s.get("step") == name), None)
        return None if decided is None else _stepped(float(decided), by, 1.0)
    step = (there or replace(built(name, {}), **{key: 0.0})).resolved(on)
    found = _stepped(getattr(step, key), by, 1.0 if name == "gamut-fit" else 1.5)
    if found is None or name != "room-brightness":
        return found
    changed: dict[str, Any] = {key: found[1]}
    lighter = float((replace(step, **changed)(_GREY, on) - step(_GREY, on))[0, 0])
    return found if lighter * by > 0.1 else None  # in a light brighter than the reference more of it is darker


def _stepped(now: float, by: float, limit: float) -> tuple[float, float, float] | None:
    value = round(min(max(now + by, 0.0), limit), 3)
    return None if value == round(now, 3) else (round(now, 3), value, limit)


def _between(entry: Entry, log: Sequence[Entry], setting: str, now: float, value: float) -> float:
    """Halfway to a value that was judged the other way for the same picture there, where the next would reach it."""
    opposite = _OPPOSITE.get(entry.result)
    for other in log:
        same = (other.edit, other.paper, other.room) == (entry.edit, entry.paper, entry.room)
        if not same or other.result != opposite:
            continue
        name, _, key = setting.partition(".")
        said = [s.get(key) for s in Ticket.from_json(other.ticket).steps if s.get("step") == name]
        if said and isinstance(said[0], (int, float)) and min(now, value) < said[0] <= max(now, value):
            value = round((now + said[0]) / 2, 3)
    return value


# ---------------------------------------------------------------- what to check first


def _checks(entry: Entry, log: Sequence[Entry], ticket: Ticket) -> list[str]:
    """The likeliest first: common practice of those who print, no source."""
    if entry.result in _OPPOSITE:
        return _of_light(entry, log, ticket)
    matte = ticket.paper.get("surface") in ("matte", "canvas")
    ink = "matte black" if matte else "photo black"
    intent = ticket.dialogue.split("; ")[0] or "relative colorimetric, black point compensation on, in one place only"
    return {
        "blocked shadows": [
            f"the black ink: this paper wants {ink}",
            "the media setting: one for this kind of paper, which sets the amount of ink",
            "black point compensation: it must be on where the dialogue converts",
            "the light: shadows block first where it is dimmer than the room says; measure it with a camera or a meter",
        ],
        "dull colour": [
            "the media setting: one for this kind of paper, which sets the amount of ink",
            "the side of the sheet: the coated one takes the ink",
            f"the dialogue: {intent}",
            f"the target: print it, and look for its signs of a wrong setting ({TARGET})",
        ],
        "too strong": [
            f"colour management done twice, in the application and the printer's driver: {intent}",
            "improvements of the driver's own (vivid, photo enhancement): all off",
        ],
        "tinted": [
            "the lamp: look at the sheet in daylight; what is neutral there is tinted by the lamp alone",
            "the nozzles: print the printer's own check, clean where lines are missing",
            f"the dialogue: {intent}",
            "the profile: made for this very paper, ink and media setting?",
        ],
        "soft": [
            "the resolution: pixels per inch at the size it was printed; the dialogue must print at 100 %",
            "the head: print the printer's own alignment check, and align it",
            "the height of the head and the quality setting: as the paper's thickness asks",
            "the edit itself at 100 % on the screen",
        ],
    }[entry.result]


def _of_light(entry: Entry, log: Sequence[Entry], ticket: Ticket) -> list[str]:
    """In two rooms it is the display; in one it is that room's light."""
    last: dict[str, Entry] = {}
    for each in log:
        if each.result and each.room:
            last[each.room] = each
    others = sorted(room for room, each in last.items() if room != entry.room and each.result == entry.result)
    bright = "brighter" if entry.result == "too dark" else "darker"
    display = f"it shows the edit {bright} than a print can be; {SCREEN}"
    lux = ticket.room.get("illuminance_lux")
    light = (
        f"the light: the print was prepared for {lux:g} lx; measure it where the print hangs, "
        "with a camera or a meter, at the hour it is looked at"
        if isinstance(lux, (int, float))
        else "the light: measure it where the print hangs, with a camera or a meter"
    )
    ink = "the black ink and the media setting, if the darkest tones are wrong too; and the ink must be dry"
    if others:
        return [f"the display ({entry.result} in {' and '.join([entry.room, *others])}): {display}", light, ink]
    return [light, f"the display: {display}", ink]
