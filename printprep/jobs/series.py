"""Pictures that hang together: one plan for all, and those that stand out on the wall."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from math import fsum
from pathlib import Path
from typing import Any

import numpy as np

from printprep.adjust._base import Adjustment, Steps
from printprep.arguments import listed
from printprep.errors import InputError, ParameterError, PrintprepError, expect
from printprep.parameters import checked_call
from printprep.photo.part import parts
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.pipe import Pipeline
from printprep.render.chain import Chain
from printprep.results import Result

STANDS_OUT = 10.0
"""Mean L* from its neighbours on the wall from which a picture is named (our choice; common practice, no source)."""


@dataclass(frozen=True)
class Hung(Result):
    """One picture of a series, as it will hang.

    Parameters
    ----------
    name : str
        Of its file; its number where there is none.
    lightness : float, L*
        Mean of the prepared picture.
    off : float, L*
        How much lighter than its neighbours it is: up to two on each side, their median.
    """

    name: str
    lightness: float
    off: float

    _also = ("stands_out",)

    @property
    def stands_out(self) -> bool:
        """Whether it is so far off that a word is due."""
        return abs(self.off) > STANDS_OUT

    def __str__(self) -> str:
        than = "lighter" if self.off > 0 else "darker"
        return f"{self.name} is {abs(self.off):.0f} L* {than} than its neighbours: meant?"


@checked_call
def as_series(pipe: Pipeline, photos: Iterable[Photo]) -> Pipeline:
    """One plan for pictures that hang together: what each would decide for itself is the mean of all.

    Nothing else is changed: tones of one picture are never moved to meet those of another, which would rewrite what
    each means.

    Parameters
    ----------
    pipe : Pipeline
        What to do.
    photos : iterable of Photo
        The pictures, in any order; each counts as much as the others, whatever its size.

    Returns
    -------
    Pipeline
        For every one of them.

    Raises
    ------
    ParameterError
        If there is no picture, or something that is none.

    Examples
    --------
    >>> import numpy as np
    >>> import printprep as pp
    >>> photos = [pp.read("edit.tif"), pp.Photo.from_array(np.full((32, 48, 3), 0.1), "opRGB")]
    >>> pipe = pp.as_series(pp.pipeline(paper="cotton-rag"), photos)
    >>> pipe.suited(photos[0]) == pipe.suited(photos[1])
    True
    """
    pictures = _pictures(photos)
    if not pictures:
        return pipe
    decided = [tuple(pipe.suited(photo).steps) for photo in pictures]
    return replace(pipe, steps=Steps(tuple(_agreed(each) for each in zip(*decided, strict=True))))


def _agreed(steps: Sequence[Adjustment]) -> Adjustment:
    """One step of what several pictures decide: the mean of numbers, of anything else what most say."""
    agreed: dict[str, Any] = {}
    for field in fields(steps[0]):
        values = [getattr(step, field.name) for step in steps]
        if all(value == values[0] for value in values):
            continue
        if all(type(value) in (int, float) for value in values):
            mean = fsum(values) / len(values)
            agreed[field.name] = round(mean) if type(values[0]) is int else round(mean, 4)
        else:
            agreed[field.name] = max(sorted(values, key=repr), key=values.count)
    return replace(steps[0], **agreed)


def as_panels(photos: Iterable[Photo]) -> list[Photo]:
    """Panels of one picture, such as a triptych's: each is prepared as that picture would be, so that no seam shows.

    Parameters
    ----------
    photos : iterable of Photo
        Two or more, left to right, as they were cut from the picture.

    Returns
    -------
    list of Photo
        The same, each with the picture that it is a part of; a pipeline makes the pixels of it that it would make of
        those columns of the picture. What sharpens looks at its own panel alone.

    Raises
    ------
    ParameterError
        If there are fewer than two, or something that is no photo.
    InputError
        If one has another height or profile than the first.

    Examples
    --------
    >>> import numpy as np
    >>> import printprep as pp
    >>> left, right = (pp.Photo.from_array(np.full((40, 30, 3), v), "opRGB") for v in (0.3, 0.5))
    >>> panels = pp.as_panels([left, right])
    >>> [pp.pipeline(paper="gloss")(panel).shape for panel in panels]
    [(40, 30, 3), (40, 30, 3)]
    """
    pictures = _pictures(photos)
    if len(pictures) < 2:
        raise ParameterError("photos", len(pictures), "must be two panels or more, left to right")
    first, *others = names = _names(pictures)
    for name, photo in zip(others, pictures[1:], strict=True):
        if photo.height != pictures[0].height:
            what = f"is {photo.height} pixels high, and {first} {pictures[0].height}: no panels of one picture"
            raise InputError(what, where=repr(name), do="cut both to one height")
        if photo.profile.data != pictures[0].profile.data:
            what = f"has another profile than {first}: no panels of one picture"
            raise InputError(what, where=repr(name), do="convert both to one")
    found = parts(names, [photo.pixels for photo in pictures])
    return [replace(photo, part=part) for photo, part in zip(pictures, found, strict=True)]


@checked_call
def hanging(pipe: Pipeline, photos: Iterable[Photo]) -> list[Hung]:
    """How pictures of a series stand beside each other.

    Parameters
    ----------
    pipe : Pipeline
        What is done to all, from `as_series`.
    photos : iterable of Photo
        The pictures in hanging order.

    Returns
    -------
    list of Hung
        In that order; with fewer than three none stands out, since no one could say which.

    Examples
    --------
    >>> import numpy as np
    >>> import printprep as pp
    >>> dark, light = (pp.Photo.from_array(np.full((32, 48, 3), v), "opRGB") for v in (0.2, 0.6))
    >>> hung = pp.hanging(pp.pipeline(paper="gloss"), [light, light, light, dark, light, light, light])
    >>> [each.stands_out for each in hung].index(True)
    3
    """
    pictures = _pictures(photos)
    means = [_mean(pipe, photo) for photo in pictures]
    return [Hung(name, means[at], _off(means, at)) for at, name in enumerate(_names(pictures))]


def series_of(files: Sequence[Path], assume: str | Path | None = None) -> list[Photo]:
    """The edits among these files; what cannot be read or is prepared already is left to its own job to say."""
    found = []
    for file in files:
        try:
            photo = read(file, assume=assume)
            photo.small  # noqa: B018  (damaged pixels are noticed now)
        except PrintprepError:
            continue
        if not photo.prepared:
            found.append(photo)
    return found


def _pictures(photos: Iterable[Photo]) -> list[Photo]:
    pictures = listed("photos", photos, "photos")
    for photo in pictures:
        expect("photos", photo, Photo, "must hold photos only", "printprep.read opens one")
    return pictures


def _names(pictures: Sequence[Photo]) -> list[str]:
    return [photo.path.name if photo.path else str(number) for number, photo in enumerate(pictures, 1)]


def _mean(pipe: Pipeline, photo: Photo) -> float:
    """Of L* of the prepared picture, read small."""
    on = pipe.conditions(photo.profile)
    asked = Chain(photo.profile.data, on, Steps()).to_print(photo.small)
    return float(pipe.steps.suited(asked, on).live(on, pipe.strength).flat(on)(asked, on)[..., 0].mean())


def _off(means: Sequence[float], at: int) -> float:
    if len(means) < 3:
        return 0.0
    beside = [means[k] for k in range(max(0, at - 2), min(len(means), at + 3)) if k != at]
    return means[at] - float(np.median(beside))
