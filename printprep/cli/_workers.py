"""Processes of the command's own, for batches: in one process, Python runs on one core at a time."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable
from concurrent.futures import Executor, Future
from contextlib import suppress
from pathlib import Path
from types import FrameType
from typing import Any, TypeVar

from printprep.errors import PrintprepError
from printprep.jobs.one import Stopped
from printprep.jobs.prepare_many import at_once
from printprep.photo.bands import limit_threads
from printprep.photo.read import read
from printprep.pipe import Pipeline

_FILES = 4
"""Files from which processes pay."""

_PARENT_ENDS = 1  # PR_SET_PDEATHSIG, linux/prctl.h

Answer = TypeVar("Answer")

_parent = 0
_busy = _stopped = False


class _Workers(Executor):
    """A pool whose jobs end early when it is shut down, and leave nothing behind."""

    def __init__(self, count: int, threads: int) -> None:
        from concurrent.futures import ProcessPoolExecutor
        from multiprocessing import get_context

        # forked: what this process has loaded and compiled is there already, and takes no memory of its own
        self._pool = ProcessPoolExecutor(
            count, mp_context=get_context("fork"), initializer=_begin, initargs=(os.getpid(), threads)
        )
        self.threads = threads
        self._pool.submit(int).result()  # starts them all, before this process has threads

    def submit(self, fn: Callable[..., Answer], /, *args: Any, **named: Any) -> Future[Answer]:
        """A job that can be told of its progress, by which it is stopped."""
        return self._pool.submit(_work, fn, *args, **named)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Stop what is at work, and end the workers."""
        from multiprocessing import active_children

        for process in active_children():
            process.terminate()
        self._pool.shutdown(wait, cancel_futures=cancel_futures)


def workers(cores: int, pipe: Pipeline, files: list[Path]) -> _Workers | None:
    """An executor of several processes where they pay, which knows the threads of each, else None.

    Parameters
    ----------
    cores : int
        Processors to use.
    pipe : Pipeline
        What will be done.
    files : list of Path
        To what; the first is looked at, so that what all need is made once.
    """
    if sys.platform != "linux" or cores < 2 or len(files) < _FILES:
        return None
    with suppress(PrintprepError, OSError):  # it will be refused when its turn comes
        pipe.plan(read(files[0]).profile).engine.prepare()
    return _Workers(*at_once(len(files), cores))


def _begin(parent: int, threads: int) -> None:
    """In each worker, first: the command alone hears interrupts, and no worker outlives it."""
    import ctypes

    global _parent
    _parent = parent
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _stop)
    ctypes.CDLL(None).prctl(_PARENT_ENDS, signal.SIGTERM)
    limit_threads(threads)


def _stop(number: int, frame: FrameType | None) -> None:
    global _stopped
    _stopped = True
    if not _busy:
        _leave_where_alone()


def _heed(pixels: int, total: int) -> None:
    if _stopped:
        raise Stopped


def _work(job: Callable[..., Answer], *args: Any, **named: Any) -> Answer:
    global _busy
    _heed(0, 0)
    _busy = True
    try:
        return job(*args, _heed, **named)
    finally:
        _busy = False
        _leave_where_alone()


def _leave_where_alone() -> None:
    """Nobody would take another result, nor end this worker."""
    if os.getppid() != _parent:
        os._exit(1)
