"""A print repeated from its ticket, and what is not as it was."""

from __future__ import annotations

import filecmp
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep import __version__
from printprep.adjust._base import Steps
from printprep.conditions.conditions import HandOver
from printprep.conditions.paper import Paper
from printprep.errors import InputError, OutputError, PrintprepError
from printprep.files.names import shown
from printprep.jobs.prepare import Prepared, Progress, prepare
from printprep.jobs.series import as_panels
from printprep.parameters import checked_call
from printprep.photo.fingerprint import fingerprint
from printprep.photo.part import Part
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.pipe import Overall, Pipeline
from printprep.preset import with_settings
from printprep.render.chain import Chain, conditions
from printprep.render.sample import SamplePixels
from printprep.results import Result
from printprep.stored import recalled
from printprep.ticket import Ticket, read_ticket


@dataclass(frozen=True)
class Like(Result):
    """The pipeline of a print made before.

    Parameters
    ----------
    pipe : Pipeline
        With nothing decided by that picture.
    ticket : Ticket
        Of that print.
    differs : tuple of str
        What is not as it was: another version, profile, setting.
    was : Pipeline, optional
        As the ticket tells all of it, where its paper is at hand.
    """

    pipe: Pipeline
    ticket: Ticket
    differs: tuple[str, ...] = ()
    was: Pipeline | None = None

    _kept_out = ("was",)

    @checked_call
    def moves(self, photo: Photo) -> tuple[float, float] | None:
        """How far what is not as it was moves the print of a picture; None where the paper that it was for is not here.

        CIEDE2000 between both prints of the picture read small, each relative to its paper: mean, and 95 % at most.

        Examples
        --------
        >>> import printprep as pp
        >>> _ = pp.prepare("edit.tif", "print.tif", pp.pipeline(paper="gloss", room="office"))
        >>> pp.like("print.tif").moves(pp.read("edit.tif"))
        (0.0, 0.0)
        """
        if self.was is None:
            return None
        pipes = (replace(pipe, hand_over="source") for pipe in (self.was, self.pipe))
        return _apart(*(_print_referred(pipe.apply(photo.small, photo.profile), photo, pipe) for pipe in pipes))

    def __str__(self) -> str:
        return f"like the print of {self.ticket.edit.get('name')}: {'; '.join(self.differs) or 'nothing differs'}"


@checked_call
def like(
    old: str | Path | Ticket,
    *,
    paper: str | Path | Paper | None = None,
    settings: Mapping[str, object] | None = None,
    strength: float | None = None,
    hand_over: HandOver | None = None,
) -> Like:
    """The pipeline of a print made before, some of it set otherwise where that is asked for.

    Parameters
    ----------
    old : path or Ticket
        A prepared file, or its ticket.
    paper : str, Path or Paper, optional
        In place of the one that the ticket names.
    settings, strength, hand_over
        As for `printprep.pipeline`; as the ticket tells, if not given.

    Raises
    ------
    InputError
        If the file has no ticket, or its paper is not found.
    PrintprepError
        If a step is not known here, or a value is wrong.

    Examples
    --------
    >>> import printprep as pp
    >>> _ = pp.prepare("edit.tif", "print.tif", pp.pipeline(paper="gloss", room="office"))
    >>> same = pp.like("print.tif", strength=0.8)
    >>> same.pipe.room_name, same.pipe.strength, same.differs
    ('office', 0.8, ('strength 0.8',))
    """
    ticket = old if isinstance(old, Ticket) else read_ticket(old)
    pipe, changed = recalled(Pipeline, ticket, paper)
    differs = [f"printprep {ticket.version} made it, this is {__version__}"] if ticket.version != __version__ else []
    differs += [changed] if changed else []
    asked = dict(pipe.asked)
    more: dict[str, Any] = {}
    if settings:
        more["steps"] = with_settings(pipe.steps, settings)
        asked["settings"] = {**asked.get("settings", {}), **{key: str(value) for key, value in settings.items()}}
        differs += [", ".join(f"{key}={value}" for key, value in settings.items())]
    if strength is not None:
        more["strength"] = asked["strength"] = Overall(strength).strength
        differs += [f"strength {strength:g}"] if strength != pipe.strength else []
    if hand_over is not None:
        more["hand_over"] = hand_over
        differs += [f"hand-over {hand_over}"] if hand_over != pipe.hand_over else []
    try:
        was = pipe if paper is None else recalled(Pipeline, ticket, None)[0]
    except PrintprepError:
        was = None
    return Like(replace(pipe, asked=asked, **more), ticket, tuple(differs), was)


@dataclass(frozen=True)
class Reprinted(Result):
    """A print repeated.

    Parameters
    ----------
    done : Prepared
        The new file.
    like : Like
        What it was made like.
    differs : tuple of str
        What is not as it was, that of `like` included.
    same : {"bytes", "pixels", ""}
        What is the same as in the print before.
    moved : (float, float) or None
        CIEDE2000 between both prints on this paper, mean and 95 % of a sample at most; None where the pictures are
        not of one size.
    """

    done: Prepared
    like: Like
    differs: tuple[str, ...]
    same: str
    moved: tuple[float, float] | None

    def __str__(self) -> str:
        because = f" ({'; '.join(self.differs)})" if self.differs else ""
        if self.same == "bytes":
            return "the same file, byte for byte"
        if self.same == "pixels":
            return f"the same picture, pixel for pixel; only what the file says of itself differs{because}"
        because = because or " (neither the version, the paper nor the edit differs: another machine or library?)"
        if self.moved is None:
            return f"another picture, of another size{because}"
        mean, most = self.moved
        return f"not the same{because}: the print moves by {mean:.1f} CIEDE2000 on average, 95 % by up to {most:.1f}"


@checked_call
def reprint(
    old: str | Path,
    edit: str | Path,
    output: str | Path,
    *,
    made_like: Like | None = None,
    overwrite: bool = False,
    compress: str | None = None,
    threads: int | None = None,
    assume: str | Path | None = None,
    again: bool = False,
    dated: bool = False,
    progress: Progress | None = None,
) -> Reprinted:
    """Repeat a print as its ticket tells, and say what is not as it was.

    Parameters
    ----------
    old : path
        The prepared file.
    edit : path
        What it was made of, or another edit.
    output : path
        Where to write; whole or not at all.
    made_like : Like, optional
        From `like`, where another paper or setting is meant.
    overwrite, threads, assume, again, dated, progress
        As for `printprep.prepare`.
    compress : str, optional
        As the old file is stored, if not given.

    Raises
    ------
    InputError, OutputError, OutsideError, PrintprepError
        As `like` and `printprep.prepare`; nothing was written.

    Examples
    --------
    >>> import printprep as pp
    >>> _ = pp.prepare("edit.tif", "print.tif", pp.pipeline(paper="gloss", room="office"))
    >>> print(pp.reprint("print.tif", "edit.tif", "again.tif"))
    the same file, byte for byte
    """
    made_like = like(old) if made_like is None else made_like
    if Path(output).exists() and Path(output).samefile(old):
        raise OutputError("is the print that is to be repeated", where=shown(output), do="choose another name")
    before = read(old)
    sample = SamplePixels(before.pixels)
    untouched = fingerprint(sample)
    ticket, differs = made_like.ticket, list(made_like.differs)
    done = prepare(
        edit, output, made_like.pipe, overwrite=overwrite, compress=compress or before.compression, threads=threads,
        assume=assume, again=again, dated=dated, progress=progress, part=_part(ticket, Path(edit), assume),
    )  # fmt: skip
    now = read_ticket(output)
    differs += _of_the_edit(ticket, now)
    if ticket.prepared and ticket.prepared.get("xxh3_128") != untouched:
        differs.append("the old file was worked on since it was prepared")
    if filecmp.cmp(old, output, shallow=False):
        return Reprinted(done, made_like, (), "bytes", (0.0, 0.0))
    differs += _of_the_words(ticket, now)
    if now.prepared["xxh3_128"] == untouched:
        return Reprinted(done, made_like, tuple(differs), "pixels", (0.0, 0.0))
    moved = _moved(before, sample, read(output), done, made_like.pipe)
    return Reprinted(done, made_like, tuple(differs), "", moved)


def _part(ticket: Ticket, edit: Path, assume: str | Path | None) -> Part | None:
    """What the edit of a panel is a part of: the others are looked for beside it."""
    names = ticket.edit.get("panels", {}).get("names", [])
    if not names:
        return None
    files = [edit.parent / name for name in names]
    if edit not in files or not all(file.is_file() for file in files):
        do = f"put the edits there that the print's ticket names: {', '.join(names)}"
        raise InputError("is no panel of that picture, or the others are not beside it", where=shown(edit), do=do)
    return as_panels([read(file, assume=assume) for file in files])[files.index(edit)].part


def _of_the_edit(was: Ticket, now: Ticket) -> list[str]:
    """What is not as it was about the edit."""
    differs = []
    if was.edit.get("xxh3_128") != now.edit["xxh3_128"]:
        differs.append("another edit")
    elif was.edit.get("panels") != now.edit.get("panels"):
        differs.append("another panel beside it")
    elif was.edit.get("name", now.edit["name"]) != now.edit["name"]:
        differs.append("the edit's name")
    if was.source_profile.get("sha256") != now.source_profile["sha256"]:
        differs.append("the edit's profile")
    if was.edit.get("metadata_xxh3_128", now.edit["metadata_xxh3_128"]) != now.edit["metadata_xxh3_128"]:
        differs.append("the edit's metadata")
    return differs


def _of_the_words(was: Ticket, now: Ticket) -> list[str]:
    """What is not as it was about the ticket alone."""
    differs = ["the date"] if was.date != now.date else []
    if not was.recipe:
        return [*differs, "a ticket of an older kind"]
    return differs + (["how paper and room are named"] if was.recipe["asked"] != now.recipe["asked"] else [])


def _moved(
    before: Photo, sample: SamplePixels, after: Photo, done: Prepared, pipe: Pipeline
) -> tuple[float, float] | None:
    """CIEDE2000 between two prepared files of one size, as this paper prints them: mean, and 95 %."""
    if before.shape != after.shape:
        return None
    pairs = ((before, sample.codes), (after, done.after))
    full = np.float32(65535)
    return _apart(*(_print_referred(codes.astype(np.float32) / full, photo, pipe) for photo, codes in pairs))


def _print_referred(codes: NDArray[np.float32], photo: Photo, pipe: Pipeline) -> NDArray[np.float32]:
    data = photo.profile.data
    on = conditions(data, pipe.paper, pipe.room, pipe.sheet, "source")
    return Chain(data, on, Steps()).to_print(codes.reshape(-1, 3))


def _apart(one: NDArray[np.float32], other: NDArray[np.float32]) -> tuple[float, float]:
    from printprep.colour.difference import ciede2000

    apart = ciede2000(one, other)
    return float(apart.mean()), float(np.percentile(apart, 95))
