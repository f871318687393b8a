"""Settings of the command's own process; a library that is imported must leave them to its host."""

from __future__ import annotations

import os
import warnings
from contextlib import suppress

_KEPT = 256 << 20
"""Freed memory, in bytes, that is kept for the next band, as most of it is wanted again at once."""

_TRIM_THRESHOLD, _MMAP_THRESHOLD, _ARENA_MAX = -1, -3, -8  # names of the C library's, malloc.h


def settle() -> None:
    """Keep freed memory, and let no library start threads of its own. Call it before numpy is imported.

    Bands need the same few arrays again and again. Where each is fetched anew from the system, clearing
    its pages takes two thirds of the time that steps which look around take (measured, see benchmarks).
    Threads share what is kept: with a store for each, twelve pictures of different sizes took 400 MB, not 280.
    """
    for library in ("OPENBLAS", "OMP", "MKL"):
        os.environ.setdefault(f"{library}_NUM_THREADS", "1")
    with suppress(OSError, AttributeError, TypeError):  # other systems have other C libraries
        import ctypes

        mallopt = ctypes.CDLL(None).mallopt
        mallopt(_MMAP_THRESHOLD, _KEPT)
        mallopt(_TRIM_THRESHOLD, _KEPT)
        mallopt(_ARENA_MAX, 1)


def hush() -> None:
    """Keep remarks of libraries, meant for programmers, off the user's terminal."""
    import logging  # 10 ms, which help need not wait for

    warnings.simplefilter("ignore")
    logging.getLogger().addHandler(logging.NullHandler())
