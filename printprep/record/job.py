"""Prepare files: read, render, write with a ticket; one, or many at once."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Generator, Iterable
from concurrent.futures import Executor, Future, ThreadPoolExecutor, as_completed
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep.compose import Pipeline, pipeline
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.errors import InputError, OutputError, OutsideError, PrintprepError
from printprep.photo import read
from printprep.photo.fingerprint import Fingerprinted
from printprep.photo.profile import Profile
from printprep.record.ticket import make_ticket, read_ticket
from printprep.render.sample import SamplePixels

Progress = Callable[[int, int], None]
"""Told of pixels that are done, and of the picture's size in pixels; may raise to stop the job."""

_AT_ONCE = 2
"""Files in work at once in one process: while one waits for the disk, the other computes."""


@dataclass(frozen=True)
class Prepared:
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
        A sample of the edit's pixels, and the same pixels prepared.
    error : PrintprepError or None
        Why nothing was written.
    skipped : bool
        Whether the output was there already, made the same way.
    """

    input: Path
    output: Path | None = None
    width: int = 0
    height: int = 0
    announcements: tuple[str, ...] = ()
    profile: Profile | None = None
    before: NDArray[np.uint16] = field(default_factory=lambda: np.zeros((0, 0, 3), np.uint16), repr=False)
    after: NDArray[np.uint16] = field(default_factory=lambda: np.zeros((0, 0, 3), np.uint16), repr=False)
    error: PrintprepError | None = None
    skipped: bool = False

    @property
    def pixels(self) -> int:
        """Pixels of the picture."""
        return self.width * self.height


def prepare(
    path: str | os.PathLike[str],
    output: str | os.PathLike[str],
    pipe: Pipeline,
    *,
    overwrite: bool = False,
    compress: str | None = None,
    threads: int | None = None,
    assume: str | Path | None = None,
    progress: Progress | None = None,
) -> Prepared:
    """Prepare one file.

    Parameters
    ----------
    path : path
        The edit: a TIFF.
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
    progress : callable, optional
        Told of pixels done (first 0, when the size is known), and of all there are.

    Raises
    ------
    InputError, OutputError, OutsideError
        Nothing was written.
    """
    photo = read(path, assume=assume)
    before = SamplePixels(marked := Fingerprinted(photo.pixels))
    ready = pipe(replace(photo, pixels=before))
    after = SamplePixels(ready.pixels)

    def ticket() -> str:
        digest = marked.hexdigest()
        return make_ticket(pipe, photo.profile, width=photo.width, height=photo.height, pixel_hash=digest).to_json()

    seen = 0

    def told(rows: int) -> None:
        nonlocal seen
        if progress is not None:
            progress((rows - seen) * photo.width, photo.width * photo.height)
        seen = rows

    told(0)
    replace(ready, pixels=after).write(
        output,
        overwrite=overwrite,
        compress=compress,
        threads=threads,
        progress=told,
        ticket=ticket,
    )
    return Prepared(
        Path(path),
        Path(output),
        photo.width,
        photo.height,
        photo.announcements,
        photo.profile,
        before.sample,
        after.sample,
    )


def output_name(path: str | os.PathLike[str], pipe: Pipeline) -> str:
    """NAME.PAPER.ROOM.tif."""

    def plain(text: str) -> str:
        return "".join(c if c.isalnum() or c in "-_" else "-" for c in text)

    return f"{Path(path).stem}.{plain(pipe.paper_name)}.{plain(pipe.room_name)}.tif"


def is_done(path: Path, output: Path, pipe: Pipeline) -> bool:
    """Whether an output is there already, made from an edit of this size and profile by the same pipeline."""
    if not output.exists():
        return False
    try:
        photo, ticket = read(path), read_ticket(output)
    except PrintprepError:
        return False
    expected = make_ticket(
        pipe,
        photo.profile,
        width=photo.width,
        height=photo.height,
        pixel_hash=str(ticket.edit.get("xxh3_128")),
    )
    return ticket.to_json() == expected.to_json()


def prepare_many(
    paths: Iterable[str | os.PathLike[str]],
    out_dir: str | os.PathLike[str],
    *,
    paper: str | Path | Paper | None = None,
    room: str | Path | Room | None = None,
    pipe: Pipeline | None = None,
    executor: Executor | None = None,
    overwrite: bool = False,
    skip_done: bool = False,
    compress: str | None = None,
    threads: int | None = None,
    assume: str | Path | None = None,
    progress: Progress | None = None,
) -> Generator[Prepared, None, None]:
    """Prepare many files into a folder, each with the same paper and room.

    Parameters
    ----------
    paths : iterable of path
        The edits.
    out_dir : path
        An existing folder; files are named NAME.PAPER.ROOM.tif.
    paper, room
        As for `printprep.pipeline`; or give `pipe`.
    pipe : Pipeline, optional
        In place of `paper` and `room`.
    executor : concurrent.futures.Executor, optional
        Where to run: threads, processes, or a cluster's. Two files at once in this process if not given.
    overwrite, compress, threads, assume, progress
        As for `prepare`. `progress` is only told with no executor.
    skip_done : bool
        Leave out files whose output is there, made the same way.

    Yields
    ------
    Prepared
        As each ends, in that order; an error is a value, and the rest goes on. Closing the iterator
        (or an interrupt) ends what is running, leaving no torn output.

    Raises
    ------
    OutputError
        If two files would get one name, or the folder is missing.
    """
    pipe = pipe or pipeline(paper=paper, room=room)
    folder = Path(out_dir)
    if not folder.is_dir():
        raise OutputError(f"{str(folder)!r}: no such folder; make it first")
    jobs = [(Path(p), folder / output_name(p, pipe)) for p in paths]
    clash: dict[Path, Path] = {}
    for path, output in jobs:
        if output in clash and clash[output] != path:
            raise OutputError(
                f"{str(output)!r}: both {str(clash[output])!r} and {str(path)!r} would be written there; "
                "rename one, or prepare them into two folders"
            )
        clash[output] = path
    yield from run_jobs(
        jobs,
        pipe,
        executor=executor,
        overwrite=overwrite,
        skip_done=skip_done,
        compress=compress,
        threads=threads,
        assume=assume,
        progress=progress,
    )


def run_jobs(
    jobs: list[tuple[Path, Path]],
    pipe: Pipeline,
    *,
    executor: Executor | None,
    overwrite: bool,
    skip_done: bool,
    compress: str | None,
    threads: int | None,
    assume: str | Path | None,
    progress: Progress | None,
) -> Generator[Prepared, None, None]:
    """Run (input, output) pairs; see `prepare_many`."""
    stop = threading.Event()

    def told(pixels: int, total: int) -> None:
        if stop.is_set():
            raise _Stopped
        if progress is not None:
            progress(pixels, total)

    pool = executor or ThreadPoolExecutor(1 if threads == 1 else _AT_ONCE)
    options = {
        "overwrite": overwrite,
        "skip_done": skip_done,
        "compress": compress,
        "threads": threads,
        "assume": assume,
    }
    waiting: set[Future[Prepared]] = set()
    try:
        waiting = {
            pool.submit(_one, path, output, pipe, progress=None if executor else told, **options)  # type: ignore[arg-type]
            for path, output in jobs
        }
        for future in as_completed(waiting):
            yield future.result()
    finally:
        stop.set()
        for future in waiting:
            future.cancel()
        if executor is None:
            pool.shutdown(wait=True)


class _Stopped(BaseException):
    """The batch was given up; raised inside a job so that it leaves nothing behind."""


def _one(
    path: Path,
    output: Path,
    pipe: Pipeline,
    *,
    overwrite: bool,
    skip_done: bool,
    compress: str | None,
    threads: int | None,
    assume: str | Path | None,
    progress: Progress | None,
) -> Prepared:
    """One job, its error as a value; a function of the module, so that processes can run it."""
    try:
        if skip_done and is_done(path, output, pipe):
            return Prepared(path, output, skipped=True)
        return prepare(
            path,
            output,
            pipe,
            overwrite=overwrite,
            compress=compress,
            threads=threads,
            assume=assume,
            progress=progress,
        )
    except PrintprepError as error:
        return Prepared(path, error=error)
    except MemoryError:
        return Prepared(path, error=OutsideError(f"{str(path)!r}: not enough memory; close other programs"))
    except OSError as error:
        return Prepared(
            path, error=OutsideError(f"{str(path)!r}: {error.strerror or 'the system refused'}; see to the disk")
        )
    except _Stopped:
        return Prepared(path, error=InputError(f"{str(path)!r}: was not finished; run again with --skip-done"))
