"""What happens, told to Python's ``logging`` under the name ``printprep``; silent unless a program asks for it.

``info`` tells of files read and written and tables made, with seconds; ``debug`` of what was found again, and of
presets; ``warning`` of what makes runs slower or leaves something out. Nothing here changes a result.
"""

from __future__ import annotations

import logging
from time import perf_counter

log = logging.getLogger("printprep")
log.addHandler(logging.NullHandler())  # else Python would print warnings where nobody has asked for any


class Clock:
    """Seconds since it was made, for messages: ``%s`` shows them as ``1.23 s``."""

    def __init__(self) -> None:
        self._start = perf_counter()

    def __str__(self) -> str:
        return f"{perf_counter() - self._start:.2f} s"
