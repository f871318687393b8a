"""Prepare many files: in this process, in others, or on many machines, through any executor."""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from queue import SimpleQueue
from threading import Event, Lock
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from printprep.compose import Pipeline, pipeline
from printprep.errors import OutputError, OutsideError, ParameterError, PrintprepError, out_of_memory
from printprep.record.job import Prepared, Progress, is_done, output_name, prepare

if TYPE_CHECKING:
    from concurrent.futures import Executor, Future

    from printprep.conditions.paper import Paper
    from printprep.conditions.room import Room

Job = tuple[Path, Path]
"""An edit, and where it is written when prepared."""

Judge = Callable[..., Any]
"""``judge(before, after, profile, pipe)``: samples of the edit and of what was made of it; runs beside the job."""

_AT_ONCE = 3
"""Files in work at once in one process: one is opened, one computes, one is made durable."""

_AHEAD = 1000
"""Jobs handed to an executor ahead of the results: enough for hundreds of workers, little for a million files."""


@dataclass(frozen=True)
class Options:
    """How every file of a batch is prepared; see `printprep.prepare`.

    Parameters
    ----------
    overwrite, compress, threads, assume
        As for `printprep.prepare`.
    skip_done : bool
        Leave out files whose output is there, made the same way.
    judge : callable, optional
        See `Judge`; what it returns is ``Prepared.found``.
    """

    overwrite: bool = False
    skip_done: bool = False
    compress: str | None = None
    threads: int | None = None
    assume: str | Path | None = None
    judge: Judge | None = None


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
    progress : callable, optional
        Told of pixels, in this process only.
    """

    def __init__(
        self, jobs: list[Job], pipe: Pipeline, options: Options,
        *, executor: Executor | None = None, progress: Progress | None = None,
    ) -> None:  # fmt: skip
        self._jobs, self._pipe, self._options, self._progress = jobs, pipe, options, progress
        self._executor, self._own = executor, None if executor else _threads(len(jobs), options.threads)
        self._waiting: dict[Future[Prepared], Path] = {}
        self._stop, self._turn, self._finished = Event(), Lock(), 0

    @property
    def remaining(self) -> int:
        """Files that are not finished: still to come, stopped, or refused."""
        return len(self._jobs) - self._finished

    def __iter__(self) -> Iterator[Prepared]:
        pool = self._executor or self._own
        results = self._here() if pool is None else self._pooled(pool)
        for result in results:
            self._finished += result.error is None
            yield result

    def _here(self) -> Iterator[Prepared]:
        """One after the other in this thread: nothing is gained by another."""
        for path, output in self._jobs:
            try:
                result = _one(path, output, self._pipe, self._options, self._told)
            except Exception as error:
                if len(self._jobs) == 1:
                    raise
                result = _lost(path, error)
            yield result

    def _pooled(self, pool: Executor) -> Iterator[Prepared]:
        ahead = _AHEAD if self._executor else _AT_ONCE
        jobs = iter(self._jobs)
        ended: SimpleQueue[Future[Prepared]] = SimpleQueue()
        while True:
            while len(self._waiting) < ahead and (job := next(jobs, None)) is not None:
                try:
                    future = self._submit(pool, *job)
                except RuntimeError as error:  # the pool is broken or was shut down
                    yield _lost(job[0], error)
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
                result = _lost(path, error)
            yield result

    def _submit(self, pool: Executor, path: Path, output: Path) -> Future[Prepared]:
        if self._executor is None:
            return pool.submit(_one, path, output, self._pipe, self._options, self._told, self._turn)
        options = self._options
        if options.threads is None:
            options = replace(options, threads=1)  # as many files at once as there are workers
        if not (options.overwrite or os.path.lexists(output)):
            options = replace(options, skip_done=True)  # a lost worker's job is done again elsewhere
        return pool.submit(_away, path.absolute(), output.absolute(), self._pipe, options)

    def _told(self, pixels: int, total: int) -> None:
        if self._stop.is_set():
            raise _Stopped
        if self._progress is not None:
            self._progress(pixels, total)

    def close(self) -> None:
        """End what is running here, leaving nothing torn, and take back what has not begun elsewhere."""
        self._stop.set()
        for future in self._waiting:
            future.cancel()
        if self._own is not None:
            self._own.shutdown(wait=True)
        for future in self._waiting:  # those that ended after the last result was taken
            if future.done() and not future.cancelled() and future.exception() is None:
                self._finished += future.result().error is None
        self._waiting.clear()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()


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
    executor : concurrent.futures.Executor, optional
        Where to run: threads, processes (started by ``spawn`` or ``forkserver``), or a cluster's
        (``distributed.Client(address).get_executor()``), whose machines must see the files under the same
        paths. If not given, all cores work on one file after the other, and wait for the disk meanwhile.
    overwrite, compress, assume, progress
        As for `printprep.prepare`. `progress` is only told with no executor.
    threads : int, optional
        For each file; if not given all cores, or one where an executor runs as many files as it has workers.
    skip_done : bool
        Leave out files whose output is there, made the same way.
    judge : callable, optional
        ``judge(before, after, profile, pipe)``, called beside each job with samples of the picture; what
        it returns becomes ``Prepared.found``, and the samples are dropped. With an executor it must be
        picklable, and the samples are dropped even without one.

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
    if isinstance(paths, (str, bytes, os.PathLike)):
        raise ParameterError("paths", paths, "must be a list of paths; put a single one in brackets")
    if executor is not None and not hasattr(executor, "submit"):
        raise ParameterError("executor", executor, "must be a concurrent.futures.Executor")
    pipe = pipe or pipeline(paper=paper, room=room)
    folder = Path(out_dir)
    if not os.path.isdir(folder):  # noqa: PTH112  (false for every name that cannot be, where Path raises)
        raise OutputError(f"{str(folder)!r}: no such folder; make it first")
    jobs = [(Path(p), folder / output_name(p, pipe)) for p in paths]
    refuse_clashes(jobs)
    options = Options(overwrite, skip_done, compress, threads, assume, judge)
    with Batch(jobs, pipe, options, executor=executor, progress=progress) as batch:
        yield from batch


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
            raise OutputError(
                f"{str(output)!r}: {str(taken[output])!r} and {str(path)!r} would both be written there; "
                "rename one, or prepare them into two folders"
            )


class _Stopped(BaseException):
    """The batch was given up; raised inside a job so that it leaves nothing behind."""


def _threads(jobs: int, threads: int | None) -> Executor | None:
    if jobs < 2 or threads == 1:
        return None
    from concurrent.futures import ThreadPoolExecutor

    return ThreadPoolExecutor(min(jobs, _AT_ONCE))


def _one(
    path: Path,
    output: Path,
    pipe: Pipeline,
    options: Options,
    progress: Progress | None = None,
    turn: Lock | None = None,
) -> Prepared:
    """One job, its error as a value."""
    o = options
    try:
        if o.skip_done and is_done(path, output, pipe):
            return Prepared(path, output, skipped=True)
        done = prepare(
            path, output, pipe, overwrite=o.overwrite, compress=o.compress, threads=o.threads, assume=o.assume,
            progress=progress, turn=turn,
        )  # fmt: skip
        return done if o.judge is None else _bare(done, o.judge(done.before, done.after, done.profile, pipe))
    except PrintprepError as error:
        return Prepared(path, error=error)
    except MemoryError:
        return Prepared(path, error=OutsideError(f"{str(path)!r}: not enough memory; close other programs"))
    except OSError as error:
        reason = error.strerror or "the system refused"
        return Prepared(path, error=OutsideError(f"{str(path)!r}: {reason}; see to the disk"))
    except _Stopped:
        return Prepared(path, error=_unfinished(path))


def _away(path: Path, output: Path, pipe: Pipeline, options: Options) -> Prepared:
    """One job in another process; samples of pixels are not sent back."""
    done = _one(path, output, pipe, options)
    return _bare(done, done.found)


def _bare(done: Prepared, found: Any) -> Prepared:
    none = Prepared(done.input)
    return replace(done, found=found, before=none.before, after=none.after)


def _unfinished(path: Path, reason: str = "") -> OutsideError:
    do = "run again with {way}"
    return OutsideError(f"was not finished{reason}", where=repr(str(path)), do=do, way="skip_done=True")


def _lost(path: Path, error: Exception) -> Prepared:
    """A job whose worker ended, or that failed in a way nobody foresaw."""
    if out_of_memory(error):
        return Prepared(path, error=OutsideError(f"{str(path)!r}: not enough memory; close other programs"))
    said = str(error).splitlines()[:1]
    reason = ": ".join([type(error).__name__, *said])
    lost = _unfinished(path, f" ({reason})")
    lost.__cause__ = error
    return Prepared(path, error=lost)
