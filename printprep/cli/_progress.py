"""A progress line on stderr, on a terminal only: files, megapixels per second, time left."""

from __future__ import annotations

import contextlib
import sys
import threading
import time
from types import TracebackType

_EVERY = 0.1
"""Seconds between two changes of the line."""

_SURE_AFTER = 1.0
"""Seconds before a speed is told: the first moments go into compiling."""


class Progress:
    """Counts files and pixels, and shows them where stderr is a terminal.

    Parameters
    ----------
    files : int
        How many will be done.
    """

    def __init__(self, files: int) -> None:
        self._files, self._ended, self._begun = files, 0, 0
        self._pixels = self._total = 0
        self._start = self._shown = time.monotonic()
        self._lock = threading.Lock()
        self._live = sys.stderr is not None and sys.stderr.isatty()

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, at: TracebackType | None) -> None:
        self._clear()

    def pixels(self, done: int, total: int) -> None:
        """Note pixels that are done, of a picture of so many (0 where it begins); called from any thread."""
        if not self._live:
            return
        with self._lock:
            if done == 0:
                self._begun += 1
                self._total += total
            self._pixels += done
            if time.monotonic() - self._shown >= _EVERY:
                self._show()

    def file(self, pixels: int = 0) -> None:
        """Note a file that ended, and clear the line for what is said of it.

        Parameters
        ----------
        pixels : int
            Of a file that was done elsewhere, so that `pixels` was not told of it.
        """
        if pixels:
            self.pixels(0, pixels)
            self.pixels(pixels, pixels)
        with self._lock:
            self._ended += 1
            self._clear()
            self._shown = 0.0  # what follows brings the line back

    def _show(self) -> None:
        self._shown = time.monotonic()
        to_come = self._files - max(self._begun, self._ended)
        whole = self._total + to_come * self._total / max(self._begun, 1)  # each as large as those begun
        text = f"{self._ended} of {self._files} files, " if self._files > 1 else ""
        text += f"{self._pixels / 1e6:.0f} of {whole / 1e6:.0f} megapixels"
        seconds = self._shown - self._start
        if seconds >= _SURE_AFTER and self._pixels:
            left = (whole - self._pixels) * seconds / self._pixels
            text += f", {self._pixels / seconds / 1e6:.0f} megapixels/s, {_spoken(left)} left"
        self._write("\r\x1b[K" + text)

    def _clear(self) -> None:
        if self._live:
            self._write("\r\x1b[K")

    def _write(self, text: str) -> None:
        try:
            sys.stderr.write(text)
            sys.stderr.flush()
        except (OSError, ValueError):
            self._live = False


class Told:
    """Steps of a long job on stderr: one line that changes on a terminal, a line for each step elsewhere."""

    def __init__(self) -> None:
        self._live = sys.stderr is not None and sys.stderr.isatty()

    def __enter__(self) -> Told:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, at: TracebackType | None) -> None:
        if self._live:
            _written("\r\x1b[K")

    def __call__(self, text: str) -> None:
        """A step that begins."""
        _written(f"\r\x1b[K{text} ..." if self._live else f"printprep: {text}\n")


def _written(text: str) -> None:
    with contextlib.suppress(OSError, ValueError, AttributeError):  # a closed stderr changes nothing
        sys.stderr.write(text)
        sys.stderr.flush()


def _spoken(seconds: float) -> str:
    """A span of time as people say it."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"
