"""Decoded strips or tiles on disk, for pictures of which too many would be needed in memory at once."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

from printprep.errors import OutsideError
from printprep.files.position import write_at
from printprep.files.source import InputFile
from printprep.photo._keep import Keeper
from printprep.photo.tiff.blocks import RawBlocks, Samples
from printprep.photo.tiff.storage import Pieces

Decode = Callable[[tuple[int, int]], Iterable[Samples]]
_DONE = np.empty(0, np.uint8)


class Spool:
    """Pieces of a plane, each decoded once by whichever thread wants it first, then read in part.

    They lie, in the plane's order, in a temporary file without a name, in TMPDIR if that is set, else in /var/tmp
    (which is on disk where /tmp may be memory); it is gone when the picture is closed, however that comes about.
    """

    def __init__(self, pieces: Pieces, shown: str) -> None:
        self._shown = shown
        self._bytes = pieces.piece_bytes
        places = np.arange(pieces.offsets.size, dtype=np.int64).reshape(pieces.offsets.shape) * self._bytes
        self._pieces = replace(pieces, swapped=False, offsets=places)
        self._once = Keeper(0)  # of what is done, nothing that needs room
        self._fd = -1

    def part(self, at: tuple[int, int], top: int, left: int, out: Samples, decode: Decode) -> None:
        """Fill the part of a rectangle, which begins at (top, left), that lies in one piece, `at` (down, across).

        `decode` gives the samples of a piece in one or several runs of rows.
        """
        self._once.get("file", self._opened)
        self._once.get(at, partial(self._decoded, at, decode))
        self._raw.part(at, top, left, out)

    def _opened(self) -> Samples:
        import tempfile

        try:
            with tempfile.TemporaryFile(dir=_folder(), buffering=0) as file:
                self._fd = os.dup(file.fileno())
        except OSError as error:
            raise self._full(error) from error
        self._raw = RawBlocks(InputFile.of(self._fd, self._shown), self._pieces)
        return _DONE

    def _decoded(self, at: tuple[int, int], decode: Decode) -> Samples:
        place = int(self._pieces.offsets[at])
        for rows in decode(at):
            try:
                write_at(self._fd, np.ascontiguousarray(rows).reshape(-1).view(np.uint8).data, place)
            except OSError as error:
                raise self._full(error) from error
            place += rows.nbytes
        return _DONE

    def _full(self, error: OSError) -> OutsideError:
        reason = os.strerror(error.errno or errno.EIO).lower()
        need = self._bytes * self._pieces.offsets.size >> 20
        return OutsideError(
            f"decoding it takes a temporary file of {need} MB, which failed ({reason})",
            where=self._shown,
            do="set TMPDIR to a folder with room, or export it without compression",
        )


def _folder() -> str | None:
    if "TMPDIR" in os.environ:
        return None  # Python's own rule
    return "/var/tmp" if Path("/var/tmp").is_dir() and os.access("/var/tmp", os.W_OK) else None
