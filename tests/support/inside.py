"""Run the real command line in this process: everything but the start of Python, in milliseconds."""

from __future__ import annotations

import logging
import os
import signal
import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO, TextIOWrapper
from pathlib import Path
from subprocess import CompletedProcess
from unittest.mock import patch

from printprep.cli import main as command_line
from printprep.photo.bands import limit_threads


def inside(*arguments: str | Path) -> CompletedProcess[str]:
    """Run ``printprep``; its status and what it wrote. The process is left as it was found."""
    out, err = (TextIOWrapper(BytesIO(), encoding="utf-8", write_through=True) for _ in range(2))
    words = ["printprep", *map(str, arguments)]
    with _as_it_was(), patch.multiple(sys, argv=words, stdout=out, stderr=err):
        try:
            command_line.main()
        except SystemExit as ended:
            status = int(ended.code or 0)
    said = [stream.buffer.getvalue().decode("utf-8") for stream in (out, err)]
    return CompletedProcess(words, status, *said)


@contextmanager
def _as_it_was() -> Iterator[None]:
    """Undo what the command settles for a process that is its own."""
    handlers = [(number, signal.getsignal(number)) for number in (signal.SIGINT, signal.SIGTERM)]
    log = logging.getLogger()
    loggers = list(log.handlers)
    with warnings.catch_warnings(), patch.object(command_line, "settle", lambda: None), patch.dict(os.environ):
        try:
            yield
        finally:
            for number, handler in handlers:
                signal.signal(number, handler)
            log.handlers[:] = loggers
            limit_threads(None)
