"""Prepare many files: in this process, in others, or on many machines, through any executor."""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Iterable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from queue import SimpleQueue
from threading import Event, Lock
from types import TracebackType
from typing import TYPE_CHECKING, Self

from printprep.arguments import listed
from printprep.colour.profile import Profile
from printprep.compose import pipeline
from printprep.errors import (
    AlreadyPrepared,
    OutputError,
    ParameterError,
)
from printprep.files.streams import disk_file
from printprep.jobs.one import Options, Stopped, away, lost, one
from printprep.jobs.prepare import Judge, Prepared, output_name
from printprep.parameters import checked_call
from printprep.photo.bands import thread_count
from printprep.photo.write import check_compression
from printprep.pipe import Pipeline

if TYPE_CHECKING:
    from concurrent.futures import Executor, Future

    from printprep.conditions.paper import Paper
    from printprep.conditions.room import Room

Job = tuple[Path, Path]
"""An edit, and where it is written when prepared."""

ManyProgress = Callable[[Path, int, int], None]
"""Told of an edit, of pixels of it that were done since (first 0, when its size is known), and of all it has."""

Name = Callable[[Path], str | os.PathLike[str]]
"""What the output of an edit is called: a file's name, or a path, which is taken from the folder on."""

_AHEAD = 1000
"""Jobs handed to an executor ahead of the results: enough for hundreds of workers, little for a million files."""


class Batch:
    """A run over many files, iterated once; each result as it ends, errors as values.

    Parameters
    ----------
    jobs : list of (Path, Path)
        Inputs and outputs.
    pipe : Pipeline
        What to do.
    options : Options
        How.
    executor : concurrent.futures.Executor, optional
        Where; in this process if not given.
    own : bool
        Whether the executor serves this run alone, and is shut down when it is given up.
    progress : callable, optional
        Told of pixels, in this process only; one call at a time. What it raises ends the run, and comes out of it.
    """

    def __init__(
        self, jobs: list[Job], pipe: Pipeline, options: Options,
        *, executor: Executor | None = None, own: bool = False, progress: ManyProgress | None = None,
    ) -> None:  # fmt: skip
        self._jobs, self._pipe, self._options, self._progress = jobs, pipe, options, progress
        self._executor, self._own, self._ahead = executor, executor if own else None, _AHEAD
        if executor is None:
            self._ahead, each = at_once(len(jobs), thread_count(options.threads))
            if self._ahead > 1:
                from concurrent.futures import ThreadPoolExecutor

                self._own, self._options = ThreadPoolExecutor(self._ahead), replace(options, threads=each)
        self._waiting: dict[Future[Prepared], Path] = {}
        self._stop, self._telling, self._finished = Event(), Lock(), 0
        self._raised: BaseException | None = None

    @property
    def remaining(self) -> int:
        """Files that another run would find undone: still to come, stopped, or refused."""
        return len(self._jobs) - self._finished

    def __iter__(self) -> Iterator[Prepared]:
        pool = self._executor or self._own
        results = self._here() if pool is None else self._pooled(pool)
        for result in results:
            self._count(result)
            if self._raised is not None:
                self.close()
                raise self._raised
            yield result

    def _count(self, result: Prepared) -> None:
        self._finished += result.error is None or isinstance(result.error, AlreadyPrepared)

    def _here(self) -> Iterator[Prepared]:
        """One after the other in this thread: nothing is gained by another."""
        for path, output in self._jobs:
            try:
                result = one(path, output, self._pipe, self._options, partial(self._told, path))
            except Exception as error:
                if len(self._jobs) == 1:
                    raise
                result = lost(path, error)
            yield result

    def _pooled(self, pool: Executor) -> Iterator[Prepared]:
        jobs = iter(self._jobs)
        ended: SimpleQueue[Future[Prepared]] = SimpleQueue()
        while True:
            while len(self._waiting) < self._ahead and (job := next(jobs, None)) is not None:
                try:
                    future = self._submit(pool, *job)
                except RuntimeError as error:  # the pool is broken or was shut down
                    yield lost(job[0], error)
                    continue
                self._waiting[future] = job[0]
                future.add_done_callback(ended.put)
            if not self._waiting:
                return
            future = ended.get()
            path = self._waiting.pop(future)
            try:
                result = future.result()
            except Exception as error:
                result = lost(path, error)
            yield result

    def _submit(self, pool: Executor, path: Path, output: Path) -> Future[Prepared]:
        if self._executor is None:
            return pool.submit(one, path, output, self._pipe, self._options, partial(self._told, path))
        options = self._options
        if options.threads is None:
            options = replace(options, threads=1)  # as many files at once as there are workers
        if not (options.overwrite or os.path.lexists(output)):
            options = replace(options, repeated=True)
        return pool.submit(away, path.absolute(), output.absolute(), self._pipe, options)

    def _told(self, path: Path, pixels: int, total: int) -> None:
        with self._telling:
            if self._stop.is_set():
                raise Stopped
            if self._progress is None:
                return
            try:
                self._progress(path, pixels, total)
            except BaseException as error:
                self._raised = error
                self._stop.set()
                raise Stopped from None

    def close(self) -> None:
        """End what is running here, leaving nothing torn, and take back what has not begun elsewhere."""
        self._stop.set()
        for future in self._waiting:
            future.cancel()
        if self._own is not None:
            self._own.shutdown(wait=True)
        for future in self._waiting:  # those that ended after the last result was taken
            if future.done() and not future.cancelled() and future.exception() is None:
                self._count(future.result())
        self._waiting.clear()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()


@checked_call
def prepare_many(
    paths: Iterable[str | os.PathLike[str]],
    out_dir: str | os.PathLike[str],
    *,
    paper: str | Path | Paper | None = None,
    room: str | Path | Room | None = None,
    pipe: Pipeline | None = None,
    name: Name | None = None,
    executor: Executor | None = None,
    overwrite: bool = False,
    skip_done: bool = False,
    compress: str | None = None,
    threads: int | None = None,
    assume: str | Path | None = None,
    again: bool = False,
    progress: ManyProgress | None = None,
    judge: Judge | None = None,
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
    name : callable, optional
        Given an edit's path, returns the name of its output; see `Name`.
    executor : concurrent.futures.Executor, optional
        Where to run: threads, processes (started by ``spawn`` or ``forkserver``), or a cluster's
        (``distributed.Client(address).get_executor()``), whose machines must see the files under the same
        paths. If not given, threads of this process work on as many files at once as there are cores.
    overwrite, compress, assume, again
        As for `printprep.prepare`.
    progress : callable, optional
        ``progress(path, pixels, total)``: told of pixels of an edit that were done since (first 0, when its size
        is known), and of all it has; only with no executor; from any thread, one call at a time. Raising in it
        ends the run: what it raised comes out of the iterator, what is finished is kept.
    threads : int, optional
        In all; all cores if not given. With an executor for each file, and one if not given.
    skip_done : bool
        Leave out files whose output is there, made the same way of the same edit. Where the edit has changed
        since, the output is replaced, if it is still as it was written.
    judge : callable, optional
        ``judge(before, after, profile, pipe)``, called beside each job with samples of the picture; what
        it returns becomes ``Prepared.found``, what it raises ``Prepared.unjudged``, and the samples are
        dropped. With an executor it and what it returns must be picklable, and the samples are dropped even
        without one.

    Yields
    ------
    Prepared
        As each ends, in that order; an error is a value, and the rest goes on. A file that is prepared
        already is left out: its error is an `AlreadyPrepared`. Closing the iterator (or an interrupt) ends
        what is running, leaving no torn output.

    Raises
    ------
    OutputError
        If two files would get one name, or the folder is missing.
    ParameterError, UnknownName, InputError, PresetError
        If an argument will not do, the paper or the room cannot be found, or one of them is named beside `pipe`.

    All of these are raised by the call itself, before anything is done.

    Examples
    --------
    >>> import printprep as pp
    >>> for done in sorted(pp.prepare_many(["edit.tif", "none.tif"], ".", paper="gloss", room="office"), key=str):
    ...     print(done)
    'edit.tif' -> 'edit.gloss.office.tif': 96 x 64 pixels
    'none.tif': does not exist; check the name
    """
    if executor is not None and not hasattr(executor, "submit"):
        raise ParameterError("executor", executor, "must be a concurrent.futures.Executor")
    if pipe is None:
        pipe = pipeline(paper=paper, room=room)
    elif paper is not None or room is not None:
        raise ParameterError("pipe", pipe, "has a paper and a room of its own", "leave out paper and room")
    folder = disk_file("out_dir", out_dir)
    edits = [disk_file("paths", each) for each in listed("paths", paths, "paths")]
    if not os.path.isdir(out_dir):  # noqa: PTH112  (false for every name that cannot be, where Path raises)
        raise OutputError("no such folder", where=repr(os.fspath(out_dir)), do="make it first")
    check_compression(compress)
    if assume is not None:
        Profile.load(assume)
    jobs = [(path, folder / _named(path, pipe, name)) for path in edits]
    refuse_clashes(jobs)
    options = Options(overwrite, skip_done, compress, threads, assume, judge, again)
    return _results(Batch(jobs, pipe, options, executor=executor, progress=progress))


def _results(batch: Batch) -> Generator[Prepared, None, None]:
    with batch:
        yield from batch


def _named(path: Path, pipe: Pipeline, name: Name | None) -> str | os.PathLike[str]:
    if name is None:
        return output_name(path, pipe)
    found = name(path)
    if not isinstance(found, (str, os.PathLike)):
        raise ParameterError("name", found, "must return a file's name, or a path")
    return found


def refuse_clashes(jobs: list[Job]) -> None:
    """See that no two jobs write to one place.

    Raises
    ------
    OutputError
        Naming the first two that would.
    """
    taken: dict[Path, Path] = {}
    for path, output in jobs:
        if taken.setdefault(output, path) != path:
            what = f"{str(taken[output])!r} and {str(path)!r} would both be written there"
            raise OutputError(what, where=repr(str(output)), do="rename one, or prepare them into two folders")


def at_once(files: int, cores: int) -> tuple[int, int]:
    """How many files to work on at once, some more than many cores, for one may wait for its disk; threads of each."""
    count = max(1, min(files, cores + cores // 4))
    return count, max(1, cores // count)
