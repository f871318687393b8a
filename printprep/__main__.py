"""Start the command; an interrupt while it is still being loaded ends it without a word."""

from __future__ import annotations

import os
import signal
from types import FrameType
from typing import NoReturn


def run() -> NoReturn:
    """Load the command line and run it; see `printprep.cli.main.main`."""
    for number in (signal.SIGINT, signal.SIGTERM):
        if signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, _end)
    from printprep.cli.main import main

    main()


def _end(number: int, frame: FrameType | None) -> NoReturn:
    os._exit(128 + number)


if __name__ == "__main__":
    run()
