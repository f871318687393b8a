"""Handing written data to the disk while more is being computed, so that the end need not wait for all of it."""

from __future__ import annotations

import os
from threading import Lock
from typing import TYPE_CHECKING

from printprep.files import limits

if TYPE_CHECKING:
    from concurrent.futures import Future, ThreadPoolExecutor


class Flusher:
    """Makes an open file, of some size, durable bit by bit in a thread of its own; it must stay open until `end`."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor, self._written, self._due, self._lock = descriptor, 0, limits.FLUSH_BYTES, Lock()
        self._pool: ThreadPoolExecutor | None = None
        self._last: Future[None] | None = None

    def wrote(self, count: int) -> None:
        """Say that so many bytes were written; errors as `end`."""
        with self._lock:
            self._written += count
            if self._written < self._due or not hasattr(os, "fdatasync"):
                return
            if self._last is not None:
                if not self._last.done():
                    return
                self._last.result()
            if self._pool is None:
                from concurrent.futures import ThreadPoolExecutor

                self._pool = ThreadPoolExecutor(1)
            self._due = self._written + limits.FLUSH_BYTES
            self._last = self._pool.submit(os.fdatasync, self._descriptor)

    def end(self) -> None:
        """Stop; nothing uses the file any more.

        Raises what the disk said on the way: it says so only once, so it must not be lost.
        """
        if self._pool is not None and self._last is not None:
            self._pool.shutdown()
            self._last.result()
