"""Rows in bands, on several threads, each with one buffer that it uses again and again."""

from __future__ import annotations

import operator
import os
import threading
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from printprep.errors import ParameterError
from printprep.files import limits
from printprep.photo.pixels import Pixels

Work = Callable[[int], None]


_most: int | None = None


def limit_threads(most: int | None) -> None:
    """Let nothing in this process use more threads than this, where no number is asked for; None lifts it."""
    global _most
    _most = most


def thread_count(threads: int | None = None) -> int:
    """How many threads to use: as asked, else one for each processor that we may run on, up to the limit."""
    if threads is not None:
        if not hasattr(threads, "__index__"):
            raise ParameterError("threads", threads, "must be a whole number")
        return max(1, operator.index(threads))
    try:
        cores = len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        cores = os.cpu_count() or 1
    return cores if _most is None else min(cores, _most)


def band_rows(width: int, multiple: int = 1, size: int | None = None) -> int:
    """Rows of a band of about `size` bytes (`limits.BAND_BYTES` where not given), a multiple of `multiple`."""
    return max(1, (size or limits.BAND_BYTES) // (width * 6 * multiple)) * multiple


def run(count: int, threads: int, worker: Callable[[], Work], on_stop: Callable[[], None] | None = None) -> None:
    """Do the tasks 0..count-1, taken in order by whichever thread is free; with one thread, in the calling one.

    `worker` is called once in each thread and returns the function that does one task. `on_stop` is called when a task
    has failed or the run is interrupted: it wakes tasks that wait. Raised is the first error of a task, or what came in
    the calling thread meanwhile (an interrupt); the other threads have ended by then, each after the task it was at.
    """
    if min(threads, count) <= 1:
        work = worker()
        for i in range(count):
            work(i)
        return
    from concurrent.futures import ThreadPoolExecutor, as_completed

    stop, lock, taken = threading.Event(), threading.Lock(), iter(range(count))

    def lane() -> None:
        work = worker()
        while not stop.is_set():
            with lock:
                i = next(taken, None)
            if i is None:
                return
            work(i)

    pool = ThreadPoolExecutor(min(threads, count))
    try:
        for done in as_completed([pool.submit(lane) for _ in range(min(threads, count))]):
            done.result()
    finally:
        stop.set()
        if on_stop:
            on_stop()
        pool.shutdown()


def read_all(pixels: Pixels, threads: int | None = None) -> NDArray[np.uint16]:
    """All rows, as one (height, width, 3) array."""
    whole = np.empty((pixels.height, pixels.width, 3), np.uint16)
    rows = band_rows(pixels.width)

    def work(i: int) -> None:
        pixels.read(i * rows, whole[i * rows : (i + 1) * rows])

    run(-(-pixels.height // rows), thread_count(threads), lambda: work)
    return whole
