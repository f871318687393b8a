"""Rows in bands, on several threads, each with one buffer that it uses again and again."""

from __future__ import annotations

import operator
import os
import threading
from collections import deque
from collections.abc import Callable, Generator
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from printprep.errors import ParameterError
from printprep.files import limits
from printprep.photo.pixels import Pixels

Work = Callable[[int], None]
T = TypeVar("T")

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


def ordered(count: int, threads: int, worker: Callable[[], Callable[[int], T]]) -> Generator[T, None, None]:
    """What the tasks 0..count-1 give, in order; done by several threads, or with one thread in the calling one.

    `worker` is called once in each thread and returns the function that does one task. At most two tasks a thread are
    under way or wait to be taken. Raised is the first error of a task, or what came in the calling thread meanwhile (an
    interrupt); the other threads have ended by then, each after the task it was at. To be closed where it is left
    before its end.
    """
    threads = min(threads, count)
    if threads <= 1:
        yield from map(worker(), range(count))
        return
    from concurrent.futures import Future, ThreadPoolExecutor

    own = threading.local()

    def task(i: int) -> T:
        if not hasattr(own, "work"):
            own.work = worker()
        done: T = own.work(i)
        return done

    pool, waiting = ThreadPoolExecutor(threads), deque[Future[T]]()
    try:
        for i in range(count):
            waiting.append(pool.submit(task, i))
            if len(waiting) > 2 * threads:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    finally:
        pool.shutdown(cancel_futures=True)


def run(count: int, threads: int, worker: Callable[[], Work]) -> None:
    """Do the tasks 0..count-1, as `ordered`."""
    for _ in ordered(count, threads, worker):
        pass


def read_all(pixels: Pixels, threads: int | None = None) -> NDArray[np.uint16]:
    """All rows, as one (height, width, 3) array."""
    whole = np.empty((pixels.height, pixels.width, 3), np.uint16)
    rows = band_rows(pixels.width)

    def work(i: int) -> None:
        pixels.read(i * rows, whole[i * rows : (i + 1) * rows])

    run(-(-pixels.height // rows), thread_count(threads), lambda: work)
    return whole
