"""Prepare a file: read, render, write with a ticket."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from printprep.colour.profile import Profile
from printprep.conditions.layout import Layout
from printprep.errors import PrintprepError
from printprep.files.names import shown
from printprep.files.streams import disk_file
from printprep.parameters import checked_call
from printprep.photo.bands import thread_count
from printprep.photo.fingerprint import fingerprint
from printprep.photo.part import Part
from printprep.photo.photo import Photo
from printprep.photo.pixels import Pixels
from printprep.photo.read import read
from printprep.pipe import Pipeline
from printprep.render.pixels import begin
from printprep.render.sample import SamplePixels
from printprep.results import Result
from printprep.ticket import PendingTicket, read_ticket

Progress = Callable[[int, int], None]
"""Told of pixels that were done since, and of the picture's size in pixels; may raise to stop the job."""

_SPARE = 4
"""Threads from which one may judge what others still write; beside two it is in their way."""

Judge = Callable[[NDArray[np.uint16], NDArray[np.uint16], Profile, Pipeline], Any]
"""``judge(before, after, profile, pipe)``: samples of the edit and of what was made of it; runs beside the job."""


@dataclass(frozen=True)
class Prepared(Result):
    """What became of one file.

    Parameters
    ----------
    input : Path
        The edit.
    output : Path or None
        What was written; None after an error.
    width, height : int, pixels
        Of the picture.
    announcements : tuple of str
        What was interpreted or left out on reading.
    profile : Profile or None
        Of the edit.
    before, after : (rows, columns, 3) ndarray of uint16
        A sample of the edit's pixels, and the same pixels prepared; empty where they were judged.
    pipe : Pipeline or None
        What was done, with what depends on the picture decided.
    layout : Layout or None
        Where the picture lies on its sheet, where a size was asked for.
    found : object
        What the judge made of the sample; see `prepare`.
    unjudged : str
        What the judge raised, if it did; the output was written all the same.
    error : PrintprepError or None
        Why nothing was written.
    skipped : bool
        Whether the output was there already, made the same way of the same edit.

    Examples
    --------
    >>> import printprep as pp
    >>> done = pp.prepare("edit.tif", "print.tif", pp.pipeline(paper="gloss"))
    >>> done.width, done.height, done.error
    (96, 64, None)
    """

    input: Path
    output: Path | None = None
    width: int = 0
    height: int = 0
    announcements: tuple[str, ...] = ()
    profile: Profile | None = None
    before: NDArray[np.uint16] = field(default_factory=lambda: np.zeros((0, 0, 3), np.uint16), repr=False)
    after: NDArray[np.uint16] = field(default_factory=lambda: np.zeros((0, 0, 3), np.uint16), repr=False)
    pipe: Pipeline | None = None
    layout: Layout | None = None
    found: Any = None
    unjudged: str = ""
    error: PrintprepError | None = None
    skipped: bool = False

    _kept_out = ("before", "after")

    def __str__(self) -> str:
        if self.error is not None:
            return str(self.error)
        words = f"{shown(str(self.input))} -> {shown(str(self.output))}"
        return f"{words}: was done already" if self.skipped else f"{words}: {self.width} x {self.height} pixels"

    @property
    def pixels(self) -> int:
        """Pixels of the picture."""
        return self.width * self.height


@checked_call
def prepare(
    path: str | os.PathLike[str],
    output: str | os.PathLike[str],
    pipe: Pipeline,
    *,
    overwrite: bool = False,
    compress: str | None = None,
    threads: int | None = None,
    assume: str | Path | None = None,
    again: bool = False,
    dated: bool = False,
    progress: Progress | None = None,
    judge: Judge | None = None,
    part: Part | None = None,
) -> Prepared:
    """Prepare one file.

    Parameters
    ----------
    path : path
        The edit: a TIFF on this disk. Of others, open or elsewhere: ``pipe(printprep.read(file)).write(output)``.
    output : path
        Where to write; whole or not at all.
    pipe : Pipeline
        What to do.
    overwrite : bool
        Replace an existing output.
    compress : {"none", "deflate", "lzw", "zstd"}, optional
        As the input is stored, if not given.
    threads : int, optional
        All cores if not given; the result is the same for any number.
    assume : str or Path, optional
        Profile of files that carry none.
    again : bool
        Prepare the file even where it is prepared already.
    dated : bool
        Let the ticket say when; the same job gives the same bytes no longer.
    progress : callable, optional
        Told of pixels done since (first 0, when the size is known), and of all there are.
    judge : callable, optional
        ``judge(before, after, profile, pipe)``, called with samples of the picture, in another thread where that is
        quicker; what it returns becomes ``Prepared.found``, what it raises ``Prepared.unjudged``, and the samples
        are dropped.
    part : Part, optional
        What the picture is a panel of, ``as_panels(photos)[k].part``.

    Raises
    ------
    AlreadyPrepared
        If the file carries a job ticket.
    ParameterError
        If `path` is none, or `pipe` no pipeline.
    InputError, OutputError, OutsideError
        Nothing was written.

    Examples
    --------
    >>> import printprep as pp
    >>> print(pp.prepare("edit.tif", "print.tif", pp.pipeline(paper="gloss")))
    'edit.tif' -> 'print.tif': 96 x 64 pixels
    """
    from_, to = disk_file("path", path), disk_file("output", output)
    photo = replace(read(path, assume=assume), part=part)
    before = SamplePixels(photo.pixels)
    edit = replace(photo, pixels=before)
    taps: list[SamplePixels] = []

    def tap(pixels: Pixels) -> Pixels:
        taps.append(SamplePixels(pixels))
        return taps[0]

    ready, layout = pipe(edit, again=again, tap=tap), pipe.layout(edit)
    pipe = pipe.suited(edit)
    if dated and isinstance(ready.ticket, PendingTicket):
        now = datetime.now().astimezone().isoformat(timespec="seconds")
        ready = replace(ready, ticket=replace(ready.ticket, date=now))
    seen = 0

    def told(rows: int) -> None:
        nonlocal seen
        now = rows * photo.height // ready.height
        if progress is not None:
            progress((now - seen) * photo.width, photo.width * photo.height)
        seen = now

    printed = layout.part if layout else (0, 0, photo.width, photo.height)

    def judged(ahead: bool = False) -> dict[str, Any]:
        """What is made of the sample; whatever happens to it, the file is written."""
        try:
            if ahead:
                taps[0].look(printed)
            samples = before.of(before, printed), before.of(taps[0], printed)
            if judge is None:
                return {"before": samples[0], "after": samples[1]}
            return {"found": judge(*samples, photo.profile, pipe)}
        except Exception as error:
            return {"unjudged": reason(error)}

    told(0)
    begin(ready.pixels)
    with ExitStack() as stack:
        looking = None
        if judge and _rows_are_cheap(photo, pipe) and thread_count(threads) >= _SPARE:
            from concurrent.futures import ThreadPoolExecutor

            looking = stack.enter_context(ThreadPoolExecutor(1)).submit(judged, ahead=True)
        ready.write(output, overwrite=overwrite, compress=compress, threads=threads, progress=told)
    return Prepared(
        from_,
        to,
        photo.width,
        photo.height,
        (*photo.announcements, *(layout.warnings if layout else ())),
        photo.profile,
        pipe=pipe,
        layout=layout,
        **(looking.result() if looking else judged()),
    )


def _rows_are_cheap(photo: Photo, pipe: Pipeline) -> bool:
    """Whether single rows can be read and prepared for a fraction of what all of them cost."""
    return photo.compression == "none" and pipe.plan(photo.profile).detail is not None


def reason(error: Exception) -> str:
    """The kind of an error, and its first line."""
    return ": ".join([type(error).__name__, *str(error).splitlines()[:1]])


def output_name(path: str | os.PathLike[str], pipe: Pipeline) -> str:
    """NAME.PAPER.ROOM.tif; a bundle, whose paper and room have its name, is named once."""

    def plain(text: str) -> str:
        return "".join(c if c.isalnum() or c in "-_" else "-" for c in text)

    return ".".join([Path(path).stem, *dict.fromkeys(map(plain, (pipe.paper_name, pipe.room_name))), "tif"])


Standing = Literal["none", "done", "outdated"]
"""Of an output: nothing to build on; made of this very edit in this very way; in this way, but of other pixels."""


def standing(
    path: Path, output: Path, pipe: Pipeline, *, assume: str | Path | None = None, part: Part | None = None
) -> Standing:
    """Whether an output is there already that the same job made, and whether of this edit as it is now.

    The edit is read to be compared by its pixels' hash: sizes and times tell nothing certain, as pixels
    may change within the same size, and times are those of copying. An output whose pixels are no longer
    those that were written counts as nothing to build on: somebody has worked on it.
    """
    try:
        made = read_ticket(output)
        photo = replace(read(path, assume=assume), part=part)
        ticket = pipe(photo, again=True).ticket
        assert isinstance(ticket, PendingTicket)
        said = json.loads(made.to_json())
        job = json.loads(json.dumps(ticket.job))
        was = {key: said[key] for key in job}
        if _undecided(was) != _undecided(job):
            return "none"
        edit = {**ticket.known_of_edit, "xxh3_128": ticket.edit.hexdigest()}
        before = {key: value for key, value in said["edit"].items() if key != "name"}
        if was == job and said["source_profile"] == ticket.source_profile and before == edit:
            return "done"
        untouched = said["prepared"] == {"xxh3_128": fingerprint(read(output).pixels)}
        return "outdated" if untouched else "none"
    except PrintprepError:
        return "none"  # preparing it will say what is wrong


def _undecided(job: dict[str, Any]) -> dict[str, Any]:
    """A job without what its picture decided."""
    return {**job, "steps": [{k: v for k, v in step.items() if k != "worth"} for step in job["steps"]]}
