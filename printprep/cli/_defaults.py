"""The paper and the room that commands use when none is named, kept in the user's configuration folder."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from printprep.errors import InputError, OutsideError, PresetError, PrintprepError
from printprep.preset_files import parse, toml_value, user_folder


def _defaults_file() -> Path | None:
    presets = user_folder()
    return presets.parent / "defaults.toml" if presets else None


def defaults() -> dict[str, str]:
    """The paper and room set once by the user; empty if none were.

    A file that is not as `set_defaults` wrote it is refused: half of it would choose a room that nobody asked for.
    """
    path = _defaults_file()
    if path is None or not os.path.lexists(path):
        return {}
    try:
        doc = parse(path, str(path))
    except PrintprepError:
        doc = {}
    paper, room = doc.get("paper"), doc.get("room")
    if isinstance(paper, str) and isinstance(room, str) and doc == _document(paper, room):
        return {"paper": paper, "room": room}
    raise PresetError(
        str(path), "", "is damaged or of another version", "set the defaults again: printprep presets use PAPER ROOM"
    )


def _document(paper: str, room: str) -> dict[str, str]:
    """What the file holds; the check notices any other change to it."""
    check = hashlib.blake2b(f"1\n{paper}\n{room}".encode(), digest_size=8).hexdigest()
    return {"check": check, "paper": paper, "room": room}


def set_defaults(paper: str, room: str) -> Path:
    """Remember a paper and a room for commands that name none; returns the file they are kept in."""
    from printprep.jobs.new_preset import published

    path = _defaults_file()
    if path is None:
        what, do = "there is no home folder to keep them in", "name one in HOME or XDG_CONFIG_HOME"
        raise OutsideError(what, where="defaults", do=do)
    for name in (paper, room):
        if any("\ud800" <= c <= "\udfff" for c in name):
            raise InputError("cannot be kept, its name is no text", where=repr(name), do="rename the file")
    text = "# written by: printprep presets use PAPER ROOM\n"
    text += "".join(f"{key} = {toml_value(value)}\n" for key, value in _document(paper, room).items())
    return published(path, text, overwrite=True)
