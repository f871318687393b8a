"""Read presets: text files that name a paper, a room, and what is done for them."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar, get_args

from printprep.adjust._base import Adjustment, Steps
from printprep.adjust._registry import built, step_name
from printprep.conditions.conditions import HandOver
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.sheet import Sheet
from printprep.errors import OutsideError, ParameterError, PresetError, PrintprepError, UnknownName, expect
from printprep.preset_files import SCHEMA, Kind, find, parse
from printprep.results import Result

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

_T = TypeVar("_T")
_TOP = ("title", "notes", "source", "schema", "uses", "strength", "hand_over", "paper", "room", "sheet", "adjust")
_TABLES = ("paper", "room", "sheet")
_DEPTH, _USED = 8, 50
"""How many presets may stand on each other, and how many may be used in all."""
_MEASURED = ("profile", "measurements", "solids", "profile_base64", "chart")
"""Ways to say what a paper holds; giving one replaces the others of a preset that is used."""
_OF_VALUES = ("typical", "any_profile")
"""Said of those, and replaced with them."""


@dataclass(frozen=True)
class Setting:
    """One value and the preset file that it comes from; no file where it is set by hand."""

    value: object
    file: str


@dataclass(frozen=True)
class Preset(Result):
    """A preset, with everything it uses already merged in.

    Parameters
    ----------
    name : str
        As the preset spells it; the path where it was asked for by path.
    file : str
        The file it was read from.
    title, notes, source : str
        As written; where the values come from.
    paper_table, room_table, sheet_table : mapping of str to Setting
        The merged ``[paper]``, ``[room]`` and ``[sheet]``; empty where the preset has none.
    adjust : mapping of str to mapping of str to Setting
        By step name, the parameters that are set.
    folder : Traversable, optional
        What paths in the paper table are relative to.
    strength : float, optional
        Of the whole pipeline.
    hand_over : {"source", "paper", "grey"}, optional
        As for `printprep.pipeline`.
    of_paper : mapping of str to str
        ``title`` and ``source`` of the preset that the paper comes from; those of a bundle with a room are not its
        paper's.

    Examples
    --------
    >>> from printprep.preset import load
    >>> preset = load("cotton-rag", "paper")
    >>> preset.title, preset.paper.surface
    ('Cotton rag, matte', 'matte')
    """

    name: str
    file: str
    title: str = ""
    notes: str = ""
    source: str = ""
    paper_table: Mapping[str, Setting] = field(default_factory=dict)
    room_table: Mapping[str, Setting] = field(default_factory=dict)
    adjust: Mapping[str, Mapping[str, Setting]] = field(default_factory=dict)
    folder: Traversable | None = None
    strength: float | None = None
    sheet_table: Mapping[str, Setting] = field(default_factory=dict)
    hand_over: HandOver | None = None
    of_paper: Mapping[str, str] = field(default_factory=dict)

    _kept_out = ("folder", "of_paper")

    def __str__(self) -> str:
        holds = [kind for kind, table in (("paper", self.paper_table), ("room", self.room_table)) if table]
        words = f"{self.name}: {self.title or 'no title'}" + (f" ({' and '.join(holds)})" if holds else "")
        return f"{words}; steps: {', '.join(self.adjust) or 'none'}"

    @cached_property
    def paper(self) -> Paper | None:
        """The paper, where the preset has one."""
        return self._made("paper", lambda table: Paper.from_table({**self.of_paper, **table}, self.folder or Path()))

    @cached_property
    def room(self) -> Room | None:
        """The room, where the preset has one."""
        return self._made("room", Room.from_table)

    @cached_property
    def sheet(self) -> Sheet | None:
        """The sheet, where the preset has one."""
        return self._made("sheet", Sheet.from_table)

    def _made(self, kind: str, make: Callable[[dict[str, Any]], _T]) -> _T | None:
        table = {key: s.value for key, s in getattr(self, f"{kind}_table").items()}
        try:
            return make(table) if table else None
        except PrintprepError as error:
            raise PresetError(self.file, f"[{kind}]", error) from error

    @cached_property
    def steps(self) -> Steps:
        """The steps, in stage order."""
        return build_steps(self.adjust)


def build_steps(adjust: Mapping[str, Mapping[str, Setting]]) -> Steps:
    """Steps from merged tables, in stage order; an error names the file of the value at fault, if it is from one."""
    made: list[Adjustment] = []
    for name, settings in adjust.items():
        try:
            made.append(built(name, {key: s.value for key, s in settings.items()}))
        except PrintprepError as error:
            key = str(getattr(error, "key", getattr(error, "name", "")))
            at = settings[key].file if key in settings else next((s.file for s in settings.values()), name)
            if at:
                raise PresetError(at, f"[[adjust]] {name}:", error) from error
            if isinstance(error, ParameterError):
                raise ParameterError(f"{name}.{error.key}", error.value, error.reason, error.do) from error
            raise error.within(name) from error
    return Steps(tuple(made)).ordered()


def settled(settings: Mapping[str, object]) -> Iterator[tuple[str, str, Setting]]:
    """Values set by hand, ``shadow-lift.strength``, as step, parameter and value; text is read as a TOML value."""
    for key, value in settings.items():
        expect("settings", key, str, "must have keys such as 'shadow-lift.strength'")
        step, dot, parameter = key.partition(".")
        if not (step and dot and parameter):
            raise ParameterError("settings", key, "must have keys such as 'shadow-lift.strength'")
        yield step, parameter, Setting(_from_text(value), "")


def with_settings(steps: Iterable[Adjustment], settings: Mapping[str, object]) -> list[Adjustment]:
    """Steps with some values set otherwise; one that is named and not among them is added."""
    changed = {step_name(step): step for step in steps}
    for name, key, setting in settled(settings):
        fresh: Any = built(name, {key: setting.value})  # says what is wrong with it as presets do
        changed[name] = replace(changed[name], **{key: getattr(fresh, key)}) if name in changed else fresh
    return list(changed.values())


def _from_text(value: object) -> object:
    if not isinstance(value, str):
        return value
    try:
        return tomllib.loads(f"v = {value}")["v"]
    except (tomllib.TOMLDecodeError, ValueError, RecursionError):
        return value


def load(name: str | Path, kind: Kind | None = None) -> Preset:
    """Read a preset and all that it uses, by its name or the path of a ``.toml`` file; `kind` is what it must be.

    A PresetError names file, table and key of what is wrong.
    """
    found = _load(os.fsdecode(name), kind, (), [])
    if kind in ("paper", "room") and (found.sheet or found.hand_over):
        do = "take it whole, as {way}"
        error = PrintprepError(f"has a sheet or a hand-over, which no {kind} has", do=do, way=f"preset={name}")
        raise PresetError(found.file, "", error)
    return found


def _load(name: str, kind: Kind | None, above: tuple[str, ...], read: list[str]) -> Preset:
    source = find(name, kind)
    file, folder = str(source), source.parent  # type: ignore[attr-defined]  # inside a zipped wheel too
    if file in above or len(above) >= _DEPTH:
        raise PresetError(file, "", "uses: presets use each other in a circle", "remove one of the uses")
    read.append(file)
    if len(read) > _USED:
        raise PresetError(file, "", f"uses: more than {_USED} presets stand on each other", "use fewer")
    own, uses = _own(parse(source, file), file, folder)
    try:
        lower = _merge([_load(_beside(use, folder), None, (*above, file), read) for use in uses])
    except (PresetError, OutsideError):
        raise
    except PrintprepError as error:
        raise PresetError(file, "uses:", error) from error
    preset = _over(lower, replace(own, name=name if name.endswith(".toml") else source.name.removesuffix(".toml")))
    preset.room, preset.sheet, preset.steps  # noqa: B018  (wrong values are reported now, not at first use)
    if not above:
        preset.paper  # noqa: B018
    return preset


def _own(doc: Mapping[str, object], file: str, folder: Traversable) -> tuple[Preset, list[str]]:
    """What a file itself says, and which presets it uses."""
    at = ""
    try:
        if unknown := next((key for key in doc if key not in _TOP), None):
            raise UnknownName("key", unknown, _TOP)
        if doc.get("schema", SCHEMA) != SCHEMA or isinstance(doc.get("schema"), bool):
            raise ParameterError("schema", doc["schema"], f"must be {SCHEMA}", "use a newer printprep")
        title, notes, said = (_typed(doc, key, str, "text") or "" for key in ("title", "notes", "source"))
        strength = _typed(doc, "strength", (int, float), "a number from 0 to 1.5", _is_strength)
        hand_over = _typed(doc, "hand_over", str, "source, paper or grey", get_args(HandOver).__contains__)
        uses = _typed(doc, "uses", list, "a list of preset names", _are_text) or []
        tables: dict[str, Any] = {}
        for key in _TABLES:
            at = f"[{key}]"
            table = _typed(doc, key, dict, "a table") or {}
            tables[f"{key}_table"] = {k: Setting(v, file) for k, v in table.items()}
        at = ""
        adjust: dict[str, dict[str, Setting]] = {}
        for number, raw in enumerate(_typed(doc, "adjust", list, "a list of tables, [[adjust]]") or [], 1):
            at = f"[[adjust]] {number}:"
            step, settings = _step(raw, file)
            if step in adjust:
                raise PrintprepError("occurs twice", where=step, do="keep one")
            adjust[step] = settings
    except PresetError:
        raise
    except PrintprepError as error:
        raise PresetError(file, at, error) from error
    of_paper = {key: text for key, text in (("title", title), ("source", said)) if text}
    strength = None if strength is None else float(strength)
    more: dict[str, Any] = {"strength": strength, "hand_over": hand_over, "of_paper": of_paper, **tables}
    return Preset("", file, title, notes, said, adjust=adjust, folder=folder, **more), uses


def _over(lower: Preset, own: Preset) -> Preset:
    """A preset with what it says itself laid over what it uses."""
    measured = any(key in _MEASURED for key in own.paper_table)
    kept = {k: s for k, s in lower.paper_table.items() if not (measured and k in (*_MEASURED, *_OF_VALUES))}
    steps = {step: dict(settings) for step, settings in lower.adjust.items()}
    for step, settings in own.adjust.items():
        steps[step] = {**steps.get(step, {}), **settings}
    return replace(
        own,
        paper_table={**kept, **own.paper_table},
        room_table={**lower.room_table, **own.room_table},
        adjust=steps,
        folder=own.folder if measured or not lower.folder else lower.folder,
        strength=lower.strength if own.strength is None else own.strength,
        sheet_table={**lower.sheet_table, **own.sheet_table},
        hand_over=own.hand_over or lower.hand_over,
        of_paper=lower.of_paper if lower.paper_table and (own.room_table or lower.room_table) else own.of_paper,
    )


def _beside(use: str, folder: Traversable) -> str:
    """A used preset given by path is relative to the preset that uses it."""
    if use.endswith(".toml") and isinstance(folder, Path) and not Path(use).is_absolute():
        return str(folder / use)
    return use


def _typed(
    doc: Mapping[str, object], key: str, kind: Any, words: str, good: Callable[[Any], bool] = lambda value: True
) -> Any:
    value = doc.get(key)
    if value is not None and not (isinstance(value, kind) and good(value)):
        raise ParameterError(key, value, f"must be {words}")
    return value


def _are_text(names: list[object]) -> bool:
    return all(isinstance(name, str) for name in names)


def _is_strength(value: float) -> bool:
    return not isinstance(value, bool) and 0 <= value <= 1.5


def _step(raw: object, file: str) -> tuple[str, dict[str, Setting]]:
    if not isinstance(raw, dict):
        raise PrintprepError("must be a table with a step", do="name the adjustment")
    name = raw.get("step")
    if not isinstance(name, str):
        what = "missing" if name is None else "must be a name"
        raise PrintprepError(what, where="step", do="name the adjustment")
    built(name, {k: v for k, v in raw.items() if k != "step"})
    return name, {k: Setting(v, file) for k, v in raw.items() if k != "step"}


def _merge(presets: list[Preset]) -> Preset:
    """Join presets of equal rank; they may not disagree."""
    tables: dict[str, Any] = {f"{key}_table": {} for key in _TABLES}
    adjust: dict[str, dict[str, Setting]] = {}
    for preset in presets:
        for key in _TABLES:
            _join(tables[f"{key}_table"], getattr(preset, f"{key}_table"), key)
        join_steps(adjust, preset.adjust)
    first = next((preset for preset in presets if preset.paper_table), Preset("", ""))
    agreed = {key: _agreed(key, presets) for key in ("strength", "hand_over")}
    return Preset("", "", adjust=adjust, folder=first.folder, of_paper=first.of_paper, **tables, **agreed)


def _agreed(key: str, presets: list[Preset]) -> Any:
    """What all say that say anything."""
    said = {getattr(preset, key) for preset in presets} - {None}
    if len(said) > 1:
        raise PrintprepError(f"presets say {sorted(said)}", where=key, do="say one where they are used")
    return next(iter(said), None)


def _join(into: dict[str, Setting], more: Mapping[str, Setting], where: str) -> None:
    for key, setting in more.items():
        old = into.setdefault(key, setting)
        if old.value != setting.value:
            raise PrintprepError(
                f"{old.file!r} says {old.value!r}, {setting.file!r} says {setting.value!r}",
                where=f"{where} {key}",
                do="use one of them",
            )


def join_steps(into: dict[str, dict[str, Setting]], more: Mapping[str, Mapping[str, Setting]]) -> None:
    """Add a second preset's steps to a first's, which it may not contradict; order does not matter."""
    for step, settings in more.items():
        _join(into.setdefault(step, {}), settings, step)
