"""Arguments that several checks take, looked at before any work is done."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import Annotated, Any

from msgspec import Meta

from printprep.errors import ParameterError, expect
from printprep.parameters import Checked
from printprep.photo.photo import Photo
from printprep.pipe import Pipeline

PATHS = (str, bytes, os.PathLike)
"""Kinds of paths."""


@dataclass(frozen=True)
class _Side(Checked):
    side: Annotated[int, Meta(ge=16, le=16_384, description="pixels")]


def whole_side(side: int) -> int:
    """The longer side of a picture to be made, found a whole number within its range."""
    return _Side(side).side


def output_path(path: object) -> str:
    """Where something is written, found a path."""
    expect("path", path, PATHS, "must be the path of a file")
    return os.fsdecode(path)  # type: ignore[arg-type]


def listed(key: str, things: object, what: str) -> list[Any]:
    """The things of a list, of which a single one is none: text would be taken apart into its letters."""
    try:
        if not isinstance(things, (*PATHS, Photo, Pipeline)):
            return list(things)  # type: ignore[call-overload, no-any-return]
    except TypeError:
        pass
    raise ParameterError(key, things, f"must be a list of {what}", "put a single one in brackets")
