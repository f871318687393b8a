"""Arrays that took time to compute, kept between runs in the user's cache folder."""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Callable
from functools import cache
from io import BytesIO
from pathlib import Path
from threading import get_ident
from time import time
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.colour.solid import Solid

_LIMIT = 200 << 20
"""Bytes kept: some 50 tables; the least recently used go first."""

_STALE = 3600.0
"""Seconds after which an unfinished file is taken for one that nobody writes any longer."""

_CHECK = 16
"""Bytes of the checksum that a file begins with."""


def folder() -> Path:
    """Where arrays are kept: ``PRINTPREP_CACHE``, or the user's cache folder.

    Raises
    ------
    OSError
        If the user has no home.
    """
    if named := os.environ.get("PRINTPREP_CACHE"):
        return Path(named)
    from platformdirs import user_cache_path

    try:
        return user_cache_path("printprep", appauthor=False)
    except RuntimeError as error:
        raise FileNotFoundError(str(error)) from error


@cache
def code_stamp() -> str:
    """Changes whenever a module does that shapes what is kept: its size or time."""
    root = Path(__file__).resolve().parents[1]
    stats = [
        (entry.name, (s := entry.stat()).st_size, s.st_mtime_ns)
        for part in ("adjust", "colour", "conditions", "render")
        for entry in sorted(os.scandir(root / part), key=lambda e: e.name)
        if entry.name.endswith(".py")
    ]
    return hashlib.blake2b(repr(stats).encode(), digest_size=16).hexdigest()


def load(key: str) -> list[NDArray[Any]] | None:
    """The arrays kept under a key, or None; a damaged file counts as none."""
    import xxhash

    try:
        path = folder() / f"{key}.arrays"
        if not path.is_file():  # a pipe would block
            return None
        data = memoryview(path.read_bytes())
        body = data[_CHECK:]
        if xxhash.xxh3_128_digest(body) != data[:_CHECK]:
            return None
        stream, arrays = BytesIO(body), list[NDArray[Any]]()
        while stream.tell() < len(body):
            arrays.append(np.lib.format.read_array(stream, allow_pickle=False))
        with contextlib.suppress(OSError):
            os.utime(path)
    except (OSError, ValueError, EOFError):  # whatever is wrong with it, computing anew is the answer
        return None
    return arrays


def keep(key: str, *arrays: NDArray[Any]) -> None:
    """Keep arrays under a key; failing to is no error."""
    import xxhash

    stream = BytesIO()
    for array in arrays:
        np.lib.format.write_array(stream, np.ascontiguousarray(array), allow_pickle=False)
    body = stream.getbuffer()
    try:
        place = folder()
        partial = place / f".{key[:16]}.{os.getpid()}.{get_ident()}.tmp"
    except OSError:
        return
    try:
        place.mkdir(parents=True, exist_ok=True)
        with partial.open("wb") as file:
            file.write(xxhash.xxh3_128_digest(body))
            file.write(body)
        partial.replace(place / f"{key}.arrays")
        _tidy(place)
    except OSError:
        pass
    finally:
        with contextlib.suppress(OSError):
            partial.unlink(missing_ok=True)


def _tidy(place: Path) -> None:
    for left in place.glob(".*.tmp"):  # by a run that was killed
        if time() - left.stat().st_mtime > _STALE:
            left.unlink(missing_ok=True)
    found = [(e.stat(), e.path) for e in os.scandir(place) if e.name.endswith(".arrays")]
    room = _LIMIT
    for state, path in sorted(found, key=lambda f: f[0].st_mtime_ns, reverse=True):
        room -= state.st_size
        if room < 0:
            Path(path).unlink(missing_ok=True)


def solid(name: str, make: Callable[[], Solid]) -> Solid:
    """A gamut solid: found, or made and kept.

    Parameters
    ----------
    name : str
        Of all that shapes it.
    make : callable
        Makes it.
    """
    key = hashlib.blake2b(f"{code_stamp()} solid {name}".encode(), digest_size=16).hexdigest()
    kept = load(key)
    if kept is not None and len(kept) == 2 and kept[1].shape == (3,):
        try:
            return Solid(kept[0], *map(float, kept[1]))
        except ValueError:
            pass
    made = make()
    keep(key, made.chroma, np.array([made.black_L, made.white_L, made.floor_L]))
    return made
