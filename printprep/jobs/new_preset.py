"""Write presets of one's own: a paper from a profile, a measurement or what the eye sees; a room from its light."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from types import NoneType
from typing import Any, Literal

from printprep.conditions.metering import illuminance_from_metered
from printprep.conditions.paper import Paper
from printprep.conditions.readings import Readings, in_good_light, parse_readings
from printprep.conditions.room import Room
from printprep.errors import OutsideError, ParameterError, PrintprepError, expect
from printprep.files.names import AnyPath
from printprep.files.sink import Sink
from printprep.files.source import contents
from printprep.named import BARE_PAPER, Adjust, Named, lit, named_paper, named_room
from printprep.parameters import checked_call
from printprep.preset_files import file_in, own_folder, preset_text
from printprep.stored import table_of

LIKE = "smooth-matte"
"""The paper that colours are taken from where nothing says which: it promises little."""

_Kind = Literal["profile", "measurements"]

_OF_SHEETS = ("surface", "native_ppi", "ink_black", "media", "side", "dry_hours")
"""What a paper has beside its colours."""

HOLD = 0.8
"""Strength of highlight-hold for a reading: one step more or less moves no tone by over 1 L*, and of the steps that
were lost most come back (``tests/jobs/test_new_preset.py``)."""


@checked_call
def new_paper(
    name: str, *, profile: AnyPath | None = None, measurements: AnyPath | None = None,
    seen: str | Readings | None = None, like: str | Path | None = None, room: str | Path | Room | None = None,
    title: str = "", overwrite: bool = False,
) -> Path:  # fmt: skip
    """Keep a paper as a preset of one's own.

    Parameters
    ----------
    name : str
        What it will be called: a word of letters, figures, ``-`` and ``_``.
    profile : path, optional
        Its ICC profile; a copy is kept beside the preset.
    measurements : path, optional
        A CGATS.17 measurement, of which a copy is kept; or the eight patches as lines ``white,96.3,0.1,2.2``.
    seen : str or Readings, optional
        What the eye finds on a printed target: ``first-dark=7 last-light=97 mid=48``. Alone, or with a profile or a
        measurement.
    like : str or Path, optional
        A paper whose steps, surface and resolution are taken over; and its colours, black among them, where neither
        profile nor measurement is given (`LIKE` where that is not given either).
    room : str, Path or Room, optional
        Where the target was looked at; 500 lx if not given. What the eye itself loses in its light is not the
        paper's, and not counted.
    title : str
        A name for people.
    overwrite : bool
        Whether a preset of this name may be replaced.

    Returns
    -------
    Path
        The preset's file, in the user's folder of presets.

    Raises
    ------
    ParameterError
        For a name that cannot be one, a reading that no target has, both a profile and a measurement, or nothing.
    InputError, UnknownName, PresetError
        If something named cannot be used.
    OutputError, OutsideError
        If there is a preset of this name already, or it cannot be written; nothing is then.

    Examples
    --------
    >>> import printprep as pp
    >>> pp.new_paper("my-rag", like="cotton-rag", seen="first-dark=7 mid=48").name
    'my-rag.toml'
    >>> [step for step in pp.pipeline(paper="my-rag") if isinstance(step, pp.ToneCalibration)]
    [ToneCalibration(first_dark=7.0, mid=48.0, strength=1.0)]
    """
    file = file_in(own_folder(), name, "paper")
    if profile is not None and measurements is not None:
        raise ParameterError("measurements", measurements, "stands beside a profile", "give one of them")
    if profile is None and measurements is None and seen is None:
        raise PrintprepError("nothing says what it is", where=repr(name), do="give profile, measurements or seen")
    if like is not None and Path(os.fsdecode(like)).stem.casefold() == name.casefold():
        raise ParameterError("name", name, "is the name of the paper that it is to be like", "choose another")
    expect("seen", seen, (str, Readings, NoneType), "must be text such as first-dark=7 mid=48")
    readings = parse_readings(seen) if isinstance(seen, str) else seen
    base = named_paper(LIKE if like is None else like)
    if like is not None and not base.preset:
        raise ParameterError("like", os.fsdecode(like), "is no preset", "give the file as profile or measurements")
    copied: tuple[Path, bytes] | None = None
    adjust: Adjust = {}
    given = profile if profile is not None else measurements
    if given is not None:
        key: _Kind = "profile" if profile is not None else "measurements"
        path = Path(os.fsdecode(given))
        paper, copied, table = _measured(file, key, path, base.it if like is not None else None)
        said: dict[str, Any] = {"paper": table}
        adjust = base.adjust if like is not None else BARE_PAPER
        source = f"{'ICC profile' if key == 'profile' else 'measurement'} {path.name}"
    else:
        used = os.fsdecode(like) if like is not None else LIKE
        said = {"uses": [str(Path(used).absolute()) if used.endswith(".toml") else used]}
        paper, source = base.it, f"colours of {base.name}"
    more: dict[str, dict[str, float]] = {}
    if readings is not None:
        where = named_room(room) if room is not None else Named("", {}, Room())
        more = _steps(readings, paper, where.it)
        light = f"{where.it.prepared_lux:g} lx" + (f" ({where.name})" if where.name else "")
        source += f"; read by eye from a printed target in {light}: {readings}"
    text = preset_text(title or spoken(name), source, _adjust(adjust, more), **said)
    return published(file, text, copied, overwrite=overwrite)


def _measured(
    file: Path, key: _Kind, path: Path, like: Paper | None
) -> tuple[Paper, tuple[Path, bytes] | None, dict[str, Any]]:
    """A paper from a file, the copy of it that is kept, and its table."""
    paper = named_paper(path).it
    if (paper.profile is not None) != (key == "profile"):
        what = "is a profile" if paper.profile is not None else "is a measurement"
        raise ParameterError(key, str(path), what, f"give it as {'profile' if paper.profile else 'measurements'}")
    table = {name: getattr(like or paper, name) for name in _OF_SHEETS}
    table = {name: value for name, value in table.items() if value not in (None, "")}
    if paper.solids is not None:
        patches = {name: value for name, value in paper.to_table().items() if name in ("white", "black", "solids")}
        return paper, None, table | patches
    copy = file.with_suffix(".icc" if key == "profile" else ".txt")
    data = contents(path, "profile" if key == "profile" else "measurement")
    return paper, (copy, data), table | {key: copy.name}


@checked_call
def new_room(
    name: str, *, metered: str | None = None, lux: float | None = None, like: str | Path | None = None,
    title: str = "", overwrite: bool = False,
) -> Path:  # fmt: skip
    """Keep a room as a preset of one's own.

    Parameters
    ----------
    name : str
        What it will be called: a word of letters, figures, ``-`` and ``_``.
    metered : str, optional
        What a camera says, pointed at a white sheet where the print will hang: ``f/4 1/15 ISO 400``. The reading is
        kept in the file.
    lux : float, lux, optional
        The light there, in place of a camera's reading.
    like : str or Path, optional
        A room, or ``lux=85,glazing=clear``, that the rest is taken from.
    title : str
        A name for people.
    overwrite : bool
        Whether a preset of this name may be replaced.

    Returns
    -------
    Path
        The preset's file, in the user's folder of presets.

    Raises
    ------
    ParameterError
        For a name that cannot be one, a reading that is not understood, or both or neither of reading and lux.
    UnknownName, PresetError
        If `like` cannot be used.
    OutputError, OutsideError
        If there is a preset of this name already, or it cannot be written; nothing is then.

    Examples
    --------
    >>> import printprep as pp
    >>> pp.new_room("stairs", lux=60).name
    'stairs.toml'
    >>> pp.room("stairs").illuminance_lux
    60.0
    """
    file = file_in(own_folder(), name, "room")
    if (metered is None) == (lux is None):
        what = "two lights are given" if lux is not None else "nothing says how light it is"
        raise PrintprepError(what, where=repr(name), do="give metered, such as 'f/4 1/15 ISO 400', or lux")
    if metered is not None:
        light = float(f"{illuminance_from_metered(metered):.4g}")
        said = f"camera at a white sheet, {metered.strip()}: {light:g} lx, to within 30 % (ISO 2720, K = 12.5)"
    else:
        assert lux is not None
        light, said = lux, f"light as given, {lux} lx"
    base = named_room(like if like is not None else Room())
    made = lit(base.it, light, *(("lux", lux) if metered is None else ("metered", metered)))
    if like is not None:
        said += f"; the rest as in {base.name}"
    text = preset_text(title or spoken(name), said, _adjust(base.adjust, {}), room=table_of(made, "room"))
    return published(file, text, overwrite=overwrite)


def spoken(name: str) -> str:
    """A name as a title."""
    return name.replace("-", " ").replace("_", " ").capitalize()


def _steps(readings: Readings, paper: Paper, room: Room) -> dict[str, dict[str, float]]:
    """The steps that undo what was read."""
    made: dict[str, dict[str, float]] = {}
    calibration: dict[str, float] = {}
    if readings.first_dark is not None:
        calibration["first_dark"] = in_good_light(readings.first_dark, paper, room)
    if readings.mid is not None:
        calibration["mid"] = readings.mid
    if calibration:
        made["tone-calibration"] = calibration
    if readings.last_light is not None:  # the tone that is lost lies between that step and the next
        made["highlight-hold"] = {"last_light": readings.last_light + 1, "strength": HOLD}
    return made


def _adjust(steps: Adjust, more: dict[str, dict[str, float]]) -> Iterator[dict[str, Any]]:
    """Steps of another preset with what is set anew laid over them."""
    for step in dict.fromkeys((*steps, *more)):
        yield {"step": step, **{key: s.value for key, s in steps.get(step, {}).items()}, **more.get(step, {})}


def published(file: Path, text: str, beside: tuple[Path, bytes] | None = None, *, overwrite: bool) -> Path:
    """Write a preset, and the file that it names first: whole or not at all, into a folder that is made for it."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        what = f"cannot be made ({(error.strerror or 'the system refused').lower()})"
        raise OutsideError(what, where=repr(str(file.parent)), do="check the folder") from error
    with ExitStack() as stack:
        preset = stack.enter_context(Sink(file, overwrite=overwrite, endings=(".toml",)))
        preset.write(text.encode(), 0)
        if beside is not None:
            name, data = beside
            copy = stack.enter_context(Sink(name, overwrite=overwrite, endings=(name.suffix,)))
            copy.write(data, 0)
            copy.publish()
        preset.publish()
    return file
