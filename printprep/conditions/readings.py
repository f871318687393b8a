"""What the eye finds on a printed target, in words, and what of it is the paper's doing."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from msgspec import Meta

from printprep.colour.visibility import jnd_index
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.viewing import luminance, on_print
from printprep.errors import ParameterError, UnknownName
from printprep.parameters import Checked

EXAMPLE = "write it as 'first-dark=7 last-light=97 mid=48'"
_PAIR = re.compile(r"([A-Za-z][\w-]*)\s*=\s*([^\s,;=]+)")


@dataclass(frozen=True, kw_only=True)
class Readings(Checked):
    """The numbers of steps on a printed target; each may be left out, and one that no step has is refused.

    `first_dark` is the lowest of the steps near black that parts from black, `last_light` the highest of the steps near
    white that parts from the paper, `mid` the step of the grey wedge that is as light as the board above it.
    """

    first_dark: Annotated[int, Meta(ge=1, le=24, description="a step near black")] | None = None
    last_light: Annotated[int, Meta(ge=89, le=99, description="a step near white")] | None = None
    mid: Annotated[int, Meta(ge=36, le=64, description="a step of the wedge")] | None = None

    def __str__(self) -> str:
        said = (("first-dark", self.first_dark), ("last-light", self.last_light), ("mid", self.mid))
        return " ".join(f"{key}={value}" for key, value in said if value is not None)


def parse_readings(text: str) -> Readings:
    """Readings from words: ``first-dark=7 last-light=97 mid=48``, in any order, any of them.

    Another word, a word there twice, what is no number or no step's, or nothing at all is refused.

    >>> parse_readings("first-dark=7 last-light=97").first_dark
    7
    """
    known = ("first-dark", "last-light", "mid")
    found: dict[str, int] = {}
    for key, value in _PAIR.findall(text):
        name = key.lower().replace("_", "-")
        if name not in known:
            raise UnknownName("reading", key, known)
        if name in found:
            raise ParameterError("seen", text, f"{name} is there twice", "leave one out")
        if not re.fullmatch(r"\d{1,3}", value):
            raise ParameterError(name, value, "must be the number of a step, a whole number")
        found[name] = int(value)
    rest = _PAIR.sub("", text).strip(" \t,;")
    if rest:
        raise ParameterError("seen", text, f"{rest!r} is not understood", EXAMPLE)
    if not found:
        raise ParameterError("seen", text, "says nothing", EXAMPLE)
    try:
        return Readings(**{key.replace("-", "_"): value for key, value in found.items()})
    except ParameterError as error:
        raise ParameterError(error.key.replace("_", "-"), error.value, error.reason, error.do) from None


def lost_by_eye(paper: Paper, room: Room) -> int:
    """The lowest step near black that could part from it on this paper under this light, if none were swallowed.

    The room is the one that the target was looked at in; a step parts from black by one just-noticeable difference
    (DICOM PS3.14).
    """
    index = jnd_index(luminance(on_print(np.arange(25.0), paper.neutral_black), paper, room))
    apart = index - index[0] >= 1
    return int(np.argmax(apart)) if apart.any() else 24


def in_good_light(first_dark: int, paper: Paper, room: Room) -> int:
    """The first dark step that would have been read in light in which the eye loses none, at least 1."""
    return max(1, first_dark - lost_by_eye(paper, room) + 1)
