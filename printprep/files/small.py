"""All of a small file that a user or a preset names: a regular file, and no larger than what it may be."""

from __future__ import annotations

import os
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, cast

from printprep.errors import InputError, ParameterError
from printprep.files import limits
from printprep.files.names import AnyPath
from printprep.files.source import InputFile

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

MEASUREMENT_BYTES = 16 << 20
"""A chart's text: 10,000 patches of 36 wavelengths have 4 MB."""


def place(path: object) -> Path | Traversable:
    """A path in one form; a ParameterError if it is none."""
    if isinstance(path, (str, bytes, PathLike)):
        return Path(os.fsdecode(path))
    if not hasattr(path, "read_bytes"):
        raise ParameterError("path", path, "must be the path of a file")
    return cast("Traversable", path)


def contents(path: AnyPath | Traversable, noun: str) -> bytes:
    """The bytes of a profile or a measurement (`noun`), which may be in a zipped package; links are followed.

    It is refused if it does not exist, is a folder, pipe or device, is too large, or may not be read.
    """
    path = place(path)
    if not isinstance(path, Path):
        return path.read_bytes()
    limit = MEASUREMENT_BYTES if noun == "measurement" else limits.METADATA_BYTES
    file = InputFile(path, noun)
    if file.size > limit:
        raise InputError(f"is too large for a {noun}, over {limit >> 20} MiB", where=file.shown, do="name another file")
    return file.read(0, file.size)
