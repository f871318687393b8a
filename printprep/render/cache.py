"""Keep compiled tables on disk, so that the second picture starts at once."""

from __future__ import annotations

import contextlib
import hashlib
import os
from functools import cache
from pathlib import Path

import numpy as np

from printprep.render.table import Table

_KEPT = 48
"""Tables kept (3.5 MB each); the least recently used go first."""


def folder() -> Path:
    """Where tables are kept: ``PRINTPREP_CACHE``, or the user's cache folder."""
    if named := os.environ.get("PRINTPREP_CACHE"):
        return Path(named)
    from platformdirs import user_cache_path

    return user_cache_path("printprep", appauthor=False)


@cache
def code_stamp() -> str:
    """Changes whenever a file of this package does: size and time of each module that shapes a table."""
    root = Path(__file__).resolve().parents[1]
    stats = [
        (p.name, (s := p.stat()).st_size, s.st_mtime_ns)
        for part in ("adjust", "colour", "conditions", "render")
        for p in sorted((root / part).glob("*.py"))
    ]
    return hashlib.sha256(repr(stats).encode()).hexdigest()


def load(key: str) -> Table | None:
    """The table kept under a key, or None; a damaged file counts as none."""
    path = folder() / f"{key}.npz"
    try:
        with np.load(path, allow_pickle=False) as data:
            unshaper = data["unshaper"]
            table = Table(data["shaper"], data["cube"], unshaper if unshaper.size else None)
        if table.shaper.shape != (65536,) or table.cube.ndim != 4 or table.cube.shape[3] != 3:
            return None
        with contextlib.suppress(OSError):
            os.utime(path)
    except Exception:  # whatever is wrong with a cache file, compiling anew is the answer
        return None
    return table


def keep(key: str, table: Table) -> None:
    """Keep a table; failing to is no error."""
    place = folder()
    partial = place / f".{key[:16]}.{os.getpid()}.tmp"
    try:
        place.mkdir(parents=True, exist_ok=True)
        with partial.open("wb") as file:
            np.savez(
                file,
                shaper=table.shaper,
                cube=table.cube,
                unshaper=table.unshaper if table.unshaper is not None else np.empty(0, np.float32),
            )
        partial.replace(place / f"{key}.npz")
        kept = sorted(place.glob("*.npz"), key=lambda p: p.stat().st_mtime, reverse=True)
        for old in kept[_KEPT:]:
            old.unlink(missing_ok=True)
    except OSError:
        pass
    finally:
        with contextlib.suppress(OSError):
            partial.unlink(missing_ok=True)
