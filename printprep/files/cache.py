"""Arrays that took time to compute, kept between runs in the user's cache folder."""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Callable
from functools import cache
from io import BytesIO
from pathlib import Path
from time import time
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from printprep.events import log

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

_LIMIT = 200 << 20
"""Bytes kept: some 50 tables; the least recently used go first."""

_STALE = 3600.0
"""Seconds after which an unfinished file is taken for one that nobody writes any longer."""

_CHECK = 16
"""Bytes of the checksum that a file begins with."""

_FORMAT = 1
"""Of the files; one of another format fails the check."""

_SHAPING = ("adjust", "colour", "conditions", "render")
"""Folders of ours whose code and data shape what is kept."""


def folder() -> Path:
    """Where arrays are kept: ``PRINTPREP_CACHE``, or the user's cache folder; an OSError if the user has no home."""
    if named := os.environ.get("PRINTPREP_CACHE"):
        return Path(named)
    from platformdirs import user_cache_path

    try:
        return user_cache_path("printprep", appauthor=False)
    except RuntimeError as error:
        raise FileNotFoundError(str(error)) from error


@cache
def code_stamp() -> str:
    """Changes whenever something does that shapes what is kept: our own code and data, and libraries under it.

    Contents count, not times: packages made to be reproducible have one time for all versions.
    """
    import imagecodecs

    libraries = f"{np.__version__} {imagecodecs.__version__}"  # LittleCMS comes with the second
    root: Traversable = Path(__file__).resolve().parents[1]
    if not root.is_dir():  # a zipped package
        from importlib.resources import files

        root = files("printprep")
    return stamp_of(root, libraries)


def stamp_of(package: Traversable, libraries: str = "") -> str:
    """A hash of all files in the folders of a package that shape colours, and of what else is given."""
    digest = hashlib.blake2b(libraries.encode(), digest_size=16)
    for part in _SHAPING:
        for file in sorted((package / part).iterdir(), key=lambda f: f.name):
            if file.is_file():
                data = file.read_bytes()
                digest.update(f"\n{part}/{file.name} {len(data)}\n".encode() + data)
    return digest.hexdigest()


def made(name: str, make: Callable[[], tuple[NDArray[Any], ...]]) -> list[NDArray[Any]]:
    """Arrays that our own code makes of what a name tells: found, or made and kept."""
    key = hashlib.blake2b(f"{code_stamp()} {name}".encode(), digest_size=16).hexdigest()
    found = load(key)
    if found is None:
        found = list(make())
        keep(key, *found)
    return found


def load(key: str | None) -> list[NDArray[Any]] | None:
    """The arrays kept under a key, or None; a damaged file counts as none, and no key finds nothing."""
    if key is None:
        return None
    try:
        path = folder() / f"{key}.arrays"
        if not path.is_file() or path.stat().st_size > _LIMIT:  # a pipe would block
            return None
        data = memoryview(path.read_bytes())
        body = data[_CHECK:]
        if _check(key, body) != data[:_CHECK]:
            return None
        stream, arrays = BytesIO(body), list[NDArray[Any]]()
        while stream.tell() < len(body):
            arrays.append(np.lib.format.read_array(stream, allow_pickle=False))
        with contextlib.suppress(OSError):
            os.utime(path)
    except (OSError, ValueError, EOFError):  # whatever is wrong with it, computing anew is the answer
        return None
    return arrays


def keep(key: str | None, *arrays: NDArray[Any]) -> None:
    """Keep arrays under a key; failing to is no error, and without a key nothing is kept."""
    if key is None:
        return
    stream = BytesIO()
    for array in arrays:
        np.lib.format.write_array(stream, np.ascontiguousarray(array), allow_pickle=False)
    body = stream.getbuffer()
    try:
        place = folder()
        # a random name: process numbers repeat in containers that share a folder
        partial = place / f".{key[:16]}.{os.urandom(8).hex()}.tmp"
    except OSError:
        return
    try:
        place.mkdir(parents=True, exist_ok=True)
        with partial.open("xb") as file:
            file.write(_check(key, body))
            file.write(body)
        partial.replace(place / f"{key}.arrays")
        _tidy(place)
    except OSError as error:
        log.warning("nothing can be kept in %s (%s), so that each run makes its tables anew", place, error.strerror)
    finally:
        with contextlib.suppress(OSError):
            partial.unlink(missing_ok=True)


def _check(key: str, body: memoryview) -> bytes:
    """What a file begins with: it fails where bytes changed, or where the file was kept under another key."""
    import xxhash

    digest = xxhash.xxh3_128(f"{_FORMAT} {key} ".encode())
    digest.update(body)
    return digest.digest()


def _tidy(place: Path) -> None:
    for left in place.glob(".*.tmp"):  # by a run that was killed
        if time() - left.stat().st_mtime > _STALE:
            left.unlink(missing_ok=True)
    with os.scandir(place) as entries:  # closed even where another run takes a file away meanwhile
        found = [(e.stat(), e.path) for e in entries if e.name.endswith(".arrays")]
    room = _LIMIT
    for state, path in sorted(found, key=lambda f: f[0].st_mtime_ns, reverse=True):
        room -= state.st_size
        if room < 0:
            Path(path).unlink(missing_ok=True)
