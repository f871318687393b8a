"""Join a paper, a room and steps, by name or as objects, into a pipeline."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path
from types import NoneType
from typing import Any

from printprep.conditions.conditions import HandOver
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.sheet import Sheet
from printprep.errors import ParameterError, PrintprepError, expect
from printprep.named import BARE_PAPER, Named, named_paper, named_room, stem
from printprep.parameters import checked_call
from printprep.pipe import Overall, Pipeline
from printprep.preset import Preset, Setting, build_steps, join_steps, load, settled
from printprep.preset_files import names


@checked_call
def pipeline(
    *,
    paper: str | Path | Paper | None = None,
    room: str | Path | Room | None = None,
    preset: str | Path | Preset | None = None,
    settings: Mapping[str, object] | None = None,
    sheet: Sheet | None = None,
    hand_over: HandOver | None = None,
    strength: float | None = None,
) -> Pipeline:
    """Make a pipeline from presets.

    Parameters
    ----------
    paper : str, Path or Paper
        Preset name, path (preset, ICC profile, measurement), or object.
    room : str, Path or Room, optional
        Preset name, path, ``lux=85``, or object; the reference viewing, 500 lx, if nothing names one.
    preset : str, Path or Preset, optional
        A saved bundle; `paper` and `room`, where given too, replace its own. Its steps override theirs.
    settings : mapping of str to object, optional
        ``{"shadow-lift.strength": 0.7}``; wins over all presets. Text is read as a TOML value.
    sheet : Sheet, optional
        How large the print is, and where the picture lies on it; as the bundle says, if not given.
    hand_over : {"source", "paper", "grey"}, optional
        Which profile to hand over in; ``grey`` is the paper's grey ramp, for black and white. As the bundle says,
        ``source`` where it says nothing, if not given.
    strength : float, 0 to 1.5, optional
        Of the whole; as the presets say, 1 where none says, if not given.

    Raises
    ------
    PrintprepError
        If no paper is named, names are unknown, values are wrong, or presets disagree.

    Examples
    --------
    >>> import printprep as pp
    >>> pipe = pp.pipeline(paper="cotton-rag", room="evening-sitting-room", settings={"shadow-lift.strength": 0.7})
    >>> pipe["shadow-lift"].strength, pipe.room.illuminance_lux
    (0.7, 50.0)
    """
    expect("preset", preset, (str, Path, Preset, NoneType), "must be a preset, or its name or path")
    bundle = load(preset) if isinstance(preset, (str, Path)) else preset
    from_paper = named_paper(paper) if paper is not None else None
    from_room = named_room(room) if room is not None else None
    adjust: dict[str, dict[str, Setting]] = {}
    own_paper = from_paper.it if from_paper else bundle.paper if bundle else None
    if own_paper is None:
        raise PrintprepError("no paper is named", do="name one of: " + ", ".join(names("paper")))
    own_room = from_room.it if from_room else bundle.room if bundle else None
    found: list[Named[Any]] = [each for each in (from_paper, from_room) if each]
    for named in found:
        join_steps(adjust, named.adjust)
    if bundle:
        for step, values in (bundle.adjust or (BARE_PAPER if not from_paper else {})).items():
            adjust[step] = {**adjust.get(step, {}), **values}
    for step, parameter, setting in settled(settings or {}):
        adjust.setdefault(step, {})[parameter] = setting
    return Pipeline(
        build_steps(adjust),
        paper=own_paper,
        room=own_room,
        sheet=sheet if sheet is not None or not bundle else bundle.sheet,
        hand_over=hand_over if hand_over is not None else (bundle and bundle.hand_over) or "source",
        strength=_strength(strength, found, bundle),
        paper_name=from_paper.name if from_paper else stem(bundle.name) if bundle else "paper",
        room_name=from_room.name if from_room else stem(bundle.name) if bundle else "reference",
        asked=_asked(settings, strength, paper=paper, room=room, preset=preset),
    )


def _asked(settings: Mapping[str, object] | None, strength: float | None, **names: object) -> dict[str, Any]:
    """How a pipeline was asked for, in text: objects have no name to ask for them by."""
    asked: dict[str, Any] = {k: os.fsdecode(v) for k, v in names.items() if isinstance(v, (str, Path))}
    if strength is not None:
        asked["strength"] = Overall(strength).strength
    if settings:
        asked["settings"] = {k: v if isinstance(v, str) else json.dumps(v, default=str) for k, v in settings.items()}
    return asked


def _strength(given: float | None, found: list[Named[Any]], bundle: Preset | None) -> float:
    """The overall strength: as given, else the bundle's, else the paper's and the room's, which must not disagree."""
    for over in (given, bundle.strength if bundle else None):
        if over is not None:
            return over
    said = {named.strength for named in found if named.strength is not None}
    if len(said) > 1:
        raise ParameterError("strength", sorted(said), "differs between the paper's preset and the room's", "give one")
    return said.pop() if said else 1.0
