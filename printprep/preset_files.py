"""Where presets are, and their text: folders, names, TOML."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from printprep.errors import OutsideError, ParameterError, PresetError, PrintprepError, UnknownName
from printprep.events import log
from printprep.files.source import InputFile

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

Kind = Literal["paper", "room", "bundle"]
"""Which folder a preset lies in: ``papers``, ``rooms``, or neither."""

GROUP = "printprep.presets"
"""Entry-point group under which other packages offer a folder of presets: the value is a package that is laid out
as ours, with ``papers`` and ``rooms`` in it."""

_FOLDERS: dict[Kind, str] = {"paper": "papers", "room": "rooms", "bundle": ""}
_NAME = re.compile(r"[^\W_][\w-]{0,99}")
SCHEMA = 1
LARGEST = 1 << 20
"""Bytes a preset file may have; real ones have a few hundred."""
_DOTS = 100
"""Dots in one line: a line of 18 numbers has 18; keys of thousands of parts take the parser hours."""


@cache
def shipped() -> Traversable:
    """The folder of presets that come with printprep: inside an installed package, beside it in a checkout."""
    package = Path(__file__).resolve().parent
    for folder in (package / "_presets", package.parent / "presets"):
        if folder.is_dir():
            return folder
    from importlib.resources import files  # a zipped package; 20 ms

    return files("printprep") / "_presets"


def user_folder() -> Path | None:
    """The user's own presets; the folder may not exist. None where the user has no home."""
    from platformdirs import user_config_path

    try:
        return user_config_path("printprep", appauthor=False) / "presets"
    except RuntimeError:
        return None


@dataclass(frozen=True)
class Place:
    """A folder of presets, and whose it is: ``yours``, ``printprep``, or the name of another package."""

    folder: Traversable
    owner: str


def places() -> Iterator[Place]:
    """Where a name is looked up, first match wins: ``PRINTPREP_PRESETS``, the user's, those shipped.

    ``PRINTPREP_PRESETS`` may name several folders, separated as in ``PATH``.
    """
    for named in os.environ.get("PRINTPREP_PRESETS", "").split(os.pathsep):
        if named:
            yield Place(Path(named), "yours")
    if own := user_folder():
        yield Place(own, "yours")
    yield Place(shipped(), "printprep")


@cache
def _offered() -> tuple[tuple[Place, ...], tuple[str, ...]]:
    """The folders that other packages offer, and the packages whose folder is not found; nothing of them is run."""
    from importlib.metadata import entry_points
    from importlib.util import find_spec

    found, missing = list[Place](), list[str]()
    for point in dict.fromkeys(entry_points(group=GROUP)):
        owner = point.dist.name if point.dist else point.value
        try:
            top, *inner = point.value.split(".")
            spec = find_spec(top)
            roots = [Path(root, *inner) for root in (spec and spec.submodule_search_locations) or ()]
            found.append(Place(next(root for root in roots if root.is_dir()), owner))
        except (ImportError, ValueError, AttributeError, OSError, StopIteration):
            missing.append(owner)
            log.warning("the presets of %s are not where they should be (%s)", owner, point.value)
    return tuple(found), tuple(missing)


def _names_in(place: Place, kind: Kind) -> set[str]:
    try:
        files = [f.name for f in (place.folder / _FOLDERS[kind]).iterdir() if f.name.endswith(".toml")]
    except OSError:
        return set()  # a place that cannot be looked into has nothing
    return {name[:-5] for name in files if _NAME.fullmatch(name[:-5])}


def own_folder() -> Path:
    """Where presets of one's own are written: the first of the `places` that are the user's."""
    first = next(places())
    if first.owner != "yours" or not isinstance(first.folder, Path):
        raise OutsideError("there is no home folder to keep presets in", do="name one in HOME or XDG_CONFIG_HOME")
    return first.folder


def file_in(folder: Path, name: object, kind: Kind) -> Path:
    """The file of a preset to be written, by its name, which may be none that comes with printprep."""
    if not isinstance(name, str) or not _NAME.fullmatch(name):
        what = "must be a word of letters, figures, - and _, at most 100, that begins with a letter or figure"
        raise ParameterError("name", name, what, "choose another name")
    for other in ("paper", "room") if kind == "bundle" else (kind,):
        if any(each.name.casefold() == f"{name}.toml".casefold() for each in (shipped() / _FOLDERS[other]).iterdir()):
            raise ParameterError("name", name, f"is a {other} that comes with printprep", "choose another name")
    return folder / _FOLDERS[kind] / f"{name}.toml"


def names(kind: Kind) -> list[str]:
    """Every preset of a kind that can be named, sorted."""
    return sorted(set().union(*(_names_in(place, kind) for place in (*places(), *_offered()[0]))))


def find(name: str, kind: Kind | None = None) -> Traversable:
    """The file of a preset: a path, which ends in ``.toml``, or a name; see `place_of`."""
    return Path(name) if name.endswith(".toml") else place_of(name, kind)[0]


def place_of(name: str, kind: Kind | None = None) -> tuple[Traversable, str]:
    """The file of a preset, by its name in any case, and whose it is: looked up in `places`, then in other packages.

    An UnknownName tells the nearest that exists. It is an error too where two packages offer the name, and where it
    is not found and neither is the folder of a package.
    """
    kinds: list[Kind] = [kind, "bundle"] if kind else ["bundle", "paper", "room"]
    if _NAME.fullmatch(name):
        for place, file in _matches(name, kinds, list(places())):
            return file, place.owner
        if offered := _matches(name, kinds, _offered()[0]):
            owners = sorted({place.owner for place, _ in offered})
            if len(owners) > 1:
                both = " and ".join(owners)
                raise PrintprepError(f"offered by {both}", where=repr(name), do="name the file, or remove one of them")
            return offered[0][1], owners[0]
    if missing := _offered()[1]:
        packages = " and ".join(missing)
        what = f"unknown {kind or 'preset'}, and the presets of {packages} are not where they should be"
        raise PrintprepError(what, where=repr(name), do=f"check the name, or update {packages}")
    raise UnknownName(kind or "preset", name, {n for each in kinds for n in names(each)})


def _matches(name: str, kinds: list[Kind], among: Iterable[Place]) -> list[tuple[Place, Traversable]]:
    """Files of that name; of the same spelling, where there is one."""
    there = [(place, each, n) for place in among for each in kinds for n in sorted(_names_in(place, each))]
    found = [t for t in there if t[2] == name] or [t for t in there if t[2].casefold() == name.casefold()]
    files = [(place, place.folder / _FOLDERS[each] / f"{n}.toml") for place, each, n in found]
    return [(place, file) for place, file in files if _is_file(file)]


def _is_file(file: Traversable) -> bool:
    try:
        return file.is_file()
    except OSError:
        return False


def parse(source: Traversable, file: str) -> dict[str, object]:
    """The tables of a TOML file of reasonable size, a regular one, that is called `file` in errors."""
    log.debug("preset %s", file)
    try:
        if isinstance(source, Path):
            opened = InputFile(source, "preset")
            if opened.size > LARGEST:
                raise PresetError(file, "", "is too large for a preset (over 1 MiB)", "name a preset file")
            data = opened.read(0, opened.size)
        else:
            data = source.read_bytes()
        text = data.decode("utf-8-sig")
        if any(line.count(".") > _DOTS for line in text.split("\n")):
            raise PresetError(file, "", f"has a line with more than {_DOTS} dots", "name a preset file")
        return tomllib.loads(text)
    except UnicodeDecodeError as error:
        raise PresetError(file, "", "is not UTF-8 text", "save it as UTF-8") from error
    except (ValueError, RecursionError) as error:
        at = re.search(r"\(at [^()]*\)", str(error))
        what = f"is not valid TOML {at[0]}" if at else "is not valid TOML text"
        raise PresetError(file, "", what) from error


def preset_text(title: str, source: str, adjust: Iterable[Mapping[str, Any]], **said: Any) -> str:
    """A preset's text, of what is said at its top, of its tables, those that are not empty, and of its steps."""
    doc = {"title": title, "source": source, "schema": SCHEMA, **said}
    lines = [f"{key} = {toml_value(value)}" for key, value in doc.items() if not isinstance(value, Mapping)]
    for key, table in doc.items():
        if table and isinstance(table, Mapping):
            lines += _toml_lines(f"[{key}]", table)
    for step in adjust:
        lines += _toml_lines("[[adjust]]", step)
    return "\n".join([*lines, ""])


def _toml_lines(head: str, table: Mapping[str, Any]) -> list[str]:
    """The lines of a preset's table, and of those within it, after an empty one; `head` such as ``[paper]``."""
    inner = {key: value for key, value in table.items() if isinstance(value, Mapping)}
    lines = ["", head, *(f"{_key(k)} = {toml_value(v)}" for k, v in table.items() if k not in inner)]
    name = head.strip("[]")
    for key, value in inner.items():
        lines += _toml_lines(f"[{name}.{_key(key)}]", value)
    return lines


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else toml_value(key)


def toml_value(value: object) -> str:
    """A value as TOML spells it (toml.io, version 1.0), which has no None.

    Text is written as in JSON, but for DEL, and what is no character is left out.
    """
    import json

    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f").encode("utf-8", "replace").decode()
    if isinstance(value, list):
        nested = any(isinstance(each, list) for each in value)
        return "[" + (",\n" if nested else ", ").join(map(toml_value, value)) + "]"
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_key(k)} = {toml_value(v)}" for k, v in value.items()) + "}"
    if value is None:
        what = "a preset cannot hold a value that is left open"
        raise PrintprepError(what, where="pipeline", do="keep it with to_dict")
    return str(json.dumps(value))
