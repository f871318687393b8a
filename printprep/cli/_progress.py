"""Lines on stderr while work goes on: how far it is, on a terminal only, or which step it is at."""

from __future__ import annotations

import sys
import threading
import time
from types import TracebackType
from typing import Self

_EVERY = 0.1
"""Seconds between two changes of the line."""

_SURE_AFTER = 1.0
"""Seconds before a speed is told: the first moments go into compiling."""


class _Line:
    """A line that changes where stderr is a terminal, and is gone at the end; a closed stderr changes nothing."""

    def __init__(self) -> None:
        self._live = sys.stderr is not None and sys.stderr.isatty()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, at: TracebackType | None) -> None:
        self._write("")

    def _write(self, text: str, elsewhere: str = "") -> None:
        """Put this in the line's place; where there is no terminal, what stands for it `elsewhere`."""
        text = f"\r\x1b[K{text}" if self._live else elsewhere
        try:
            if text:
                sys.stderr.write(text)
                sys.stderr.flush()
        except (OSError, ValueError, AttributeError):
            self._live = False


class Progress(_Line):
    """Counts pixels, and files of so many, and shows them where stderr is a terminal."""

    def __init__(self, files: int) -> None:
        super().__init__()
        self._files, self._ended, self._begun = files, 0, 0
        self._pixels = self._total = 0
        self._start = self._shown = time.monotonic()
        self._lock = threading.Lock()

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
        """Note a file that ended, and its pixels where it was done elsewhere; clear the line for what is said of it."""
        if pixels:
            self.pixels(0, pixels)
            self.pixels(pixels, pixels)
        with self._lock:
            self._ended += 1
            self._write("")
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
        self._write(text)


class Told(_Line):
    """Steps of a long job: one line that changes on a terminal, a line for each step elsewhere."""

    def __call__(self, text: str) -> None:
        """A step that begins."""
        self._write(f"{text} ...", f"printprep: {text}\n")


def _spoken(seconds: float) -> str:
    """A span of time as people say it."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"
