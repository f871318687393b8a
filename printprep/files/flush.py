"""Handing written data to the disk while more is being computed, so that the end need not wait for all of it."""

from __future__ import annotations

import os
import threading

from printprep.files import limits


class Flusher:
    """A thread that makes a file durable bit by bit; started only for files of some size.

    Parameters
    ----------
    descriptor : int
        The open file; must stay open until `end`.
    """

    def __init__(self, descriptor: int) -> None:
        self._descriptor, self._written, self._due = descriptor, 0, limits.FLUSH_BYTES
        self._lock, self._wake = threading.Lock(), threading.Event()
        self._thread: threading.Thread | None = None
        self._ended = False
        self._error: OSError | None = None

    def wrote(self, count: int) -> None:
        """Say that so many bytes were written."""
        with self._lock:
            self._written += count
            if self._written < self._due or not hasattr(os, "fdatasync"):
                return
            self._due = self._written + limits.FLUSH_BYTES
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, daemon=True)
                self._thread.start()
        self._wake.set()

    def end(self) -> None:
        """Stop; nothing uses the file any more.

        Raises
        ------
        OSError
            What the disk said on the way: it says so only once, so it must not be lost.
        """
        self._ended = True
        self._wake.set()
        if self._thread is not None:
            self._thread.join()
        if self._error is not None:
            raise self._error

    def _run(self) -> None:
        while True:
            self._wake.wait()
            self._wake.clear()
            if self._ended or self._error:
                return
            try:
                os.fdatasync(self._descriptor)
            except OSError as error:
                self._error = error
