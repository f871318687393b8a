"""Where presets are, and their text: folders, names, TOML."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterator
from contextlib import suppress
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from printprep.errors import OutsideError, ParameterError, PresetError, UnknownName
from printprep.files.source import InputFile

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

Kind = Literal["paper", "room", "bundle"]
"""Which folder a preset lies in: ``papers``, ``rooms``, or neither."""

_FOLDERS: dict[Kind, str] = {"paper": "papers", "room": "rooms", "bundle": ""}
_NAME = re.compile(r"[^\W_][\w-]{0,99}")
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
    return _user_folder(*(os.environ.get(name) for name in ("HOME", "USERPROFILE", "APPDATA", "XDG_CONFIG_HOME")))


@lru_cache(maxsize=1)
def _user_folder(*_environment: str | None) -> Path | None:
    from platformdirs import user_config_path

    try:
        return user_config_path("printprep", appauthor=False) / "presets"
    except RuntimeError:
        return None


def folders() -> Iterator[Traversable]:
    """The places a name is looked up in, first match wins: ``PRINTPREP_PRESETS``, the user's, those shipped."""
    if named := os.environ.get("PRINTPREP_PRESETS"):
        yield Path(named)
    if own := user_folder():
        yield own
    yield shipped()


def own_folder() -> Path:
    """Where presets of one's own are written: ``PRINTPREP_PRESETS``, else the user's.

    Raises
    ------
    OutsideError
        If the user has no home.
    """
    if named := os.environ.get("PRINTPREP_PRESETS"):
        return Path(named)
    own = user_folder()
    if own is None:
        raise OutsideError("there is no home folder to keep presets in", do="name one in HOME or XDG_CONFIG_HOME")
    return own


def file_in(folder: Path, name: object, kind: Kind) -> Path:
    """The file of a preset to be written, by its name.

    Raises
    ------
    ParameterError
        If it cannot be a preset's name, or is that of one which comes with printprep.
    """
    if not isinstance(name, str) or not _NAME.fullmatch(name):
        what = "must be a word of letters, figures, - and _, at most 100, that begins with a letter or figure"
        raise ParameterError("name", name, what, "choose another name")
    inside = shipped() / _FOLDERS[kind]
    if any(each.name.casefold() == f"{name}.toml".casefold() for each in inside.iterdir()):
        raise ParameterError("name", name, f"is a {kind} that comes with printprep", "choose another name")
    return folder / _FOLDERS[kind] / f"{name}.toml"


def toml_text(text: str) -> str:
    """A TOML basic string; JSON's escapes are a subset of TOML's, which escapes one character more."""
    import json

    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def names(kind: Kind) -> list[str]:
    """Every preset of a kind that can be named, sorted."""
    found: set[str] = set()
    for place in folders():
        inside = place / _FOLDERS[kind] if _FOLDERS[kind] else place
        try:
            found |= {
                f.name[:-5] for f in inside.iterdir() if f.name.endswith(".toml") and _NAME.fullmatch(f.name[:-5])
            }
        except OSError:
            continue
    return sorted(found)


def find(name: str, kind: Kind | None = None) -> Traversable:
    """The file of a preset, by its name in any case.

    Parameters
    ----------
    name : str
        A bare word, looked up in `folders`; or a path, which ends in ``.toml``.
    kind : {"paper", "room", "bundle"}, optional
        Where to look; everywhere if not given.

    Raises
    ------
    UnknownName
        If no folder has it, naming the nearest that exists.
    """
    if name.endswith(".toml"):
        return Path(name)
    kinds: list[Kind] = [kind, "bundle"] if kind else ["bundle", "paper", "room"]
    known = {n for each in kinds for n in names(each)}
    if _NAME.fullmatch(name):
        spelt = name if name in known else next((n for n in sorted(known) if n.casefold() == name.casefold()), name)
        for place in folders():
            for each in kinds:
                file = (place / _FOLDERS[each] if _FOLDERS[each] else place) / f"{spelt}.toml"
                with suppress(OSError):  # a place that cannot be looked into has nothing
                    if file.is_file():
                        return file
    raise UnknownName(kind or "preset", name, known)


def parse(source: Traversable, file: str) -> dict[str, object]:
    """The tables of a TOML file that is called `file` in errors.

    Raises
    ------
    PresetError, InputError, OutsideError
        If it is no regular file, too large, or not TOML.
    """
    try:
        text = _contents(source, file).decode("utf-8-sig")
        if any(line.count(".") > _DOTS for line in text.split("\n")):
            raise PresetError(file, "", f"has a line with more than {_DOTS} dots", "name a preset file")
        return tomllib.loads(text)
    except UnicodeDecodeError as error:
        raise PresetError(file, "", "is not UTF-8 text", "save it as UTF-8") from error
    except (ValueError, RecursionError) as error:
        at = re.search(r"\(at [^()]*\)", str(error))
        what = f"is not valid TOML {at[0]}" if at else "is not valid TOML text"
        raise PresetError(file, "", what) from error


def _contents(source: Traversable, file: str) -> bytes:
    """All of a preset file, which may be a regular file of reasonable size only."""
    if not isinstance(source, Path):
        return source.read_bytes()
    opened = InputFile(source, "preset")
    if opened.size > LARGEST:
        raise PresetError(file, "", "is too large for a preset (over 1 MiB)", "name a preset file")
    return opened.read(0, opened.size)
