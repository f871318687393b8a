"""A file opened for positioned reads: several threads may read at once, nothing is moved."""

from __future__ import annotations

import errno
import os
import stat
from os import PathLike
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, cast

from printprep.errors import InputError, OutsideError, ParameterError
from printprep.files import limits
from printprep.files.names import AnyPath, shown
from printprep.files.position import AT_NO_WAIT, CLOSED_ON_EXEC, read_at, read_into_at

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

MEASUREMENT_BYTES = 16 << 20
"""A chart's text: 10,000 patches of 36 wavelengths have 4 MB."""

_REFUSED = {
    errno.ENOENT: ("does not exist", "check the name"),
    errno.ENOTDIR: ("does not exist", "check the name"),
    errno.ELOOP: ("is a link that leads back to itself", "name the file it should lead to"),
    errno.ENAMETOOLONG: ("is too long a name", "check it"),
    errno.ENXIO: ("is not a regular file", "name a {} file"),
    errno.EISDIR: ("is a folder", "name a {} file"),
}
"""What is wrong, and what to do."""


_reopening = Lock()


class InputFile:
    """A regular file, open until it is no longer used; links are followed. `noun` is what it should be, for messages.

    A copy, in this process or another, opens the file anew by its absolute path when it first reads,
    and refuses to where that is no longer the same file, unchanged.

    An InputError says that it does not exist, or is a folder, pipe or device; an OutsideError that it may not be read.
    """

    _fd = -1
    _path: Path | None = None

    def __init__(self, path: AnyPath, noun: str = "picture") -> None:
        self.shown, self._noun = shown(path), noun
        try:
            name = os.fspath(path)
            kind = os.stat(name).st_mode
            if not stat.S_ISREG(kind):  # before opening it: opening a device may have effects, a pipe may block
                what = "a folder" if stat.S_ISDIR(kind) else "not a regular file"
                raise InputError(f"is {what}", where=self.shown, do=f"name a {noun} file")
            self._fd = os.open(name, os.O_RDONLY | CLOSED_ON_EXEC | AT_NO_WAIT)
            state = os.fstat(self._fd)
        except ValueError:
            raise InputError("is no file name", where=self.shown, do="check it") from None
        except OSError as error:
            if error.errno in _REFUSED:
                what, do = _REFUSED[error.errno]
                raise InputError(what, where=self.shown, do=do.format(noun)) from None
            raise self._outside(error) from error
        if not stat.S_ISREG(state.st_mode):
            raise InputError("is not a regular file", where=self.shown, do=f"name a {noun} file")
        self.size = state.st_size
        self._path = Path(os.fsdecode(path)).absolute()
        self._state = state.st_size, state.st_mtime_ns, state.st_ino

    @classmethod
    def of(cls, descriptor: int, name: str) -> InputFile:
        """A file that is open already and may still grow; closed with the object."""
        file = cls.__new__(cls)
        file._fd, file.shown, file.size = descriptor, name, 1 << 62
        return file

    def __getstate__(self) -> dict[str, Any]:
        if self._path is None:
            raise TypeError("a temporary file cannot be copied")
        return {key: value for key, value in vars(self).items() if key != "_fd"}

    @property
    def _descriptor(self) -> int:
        if self._fd < 0:
            with _reopening:
                if self._fd < 0:
                    self._reopen()
        return self._fd

    def _reopen(self) -> None:
        assert self._path is not None
        found = InputFile(self._path, self._noun)
        if found._state != self._state:
            raise InputError("has changed since it was opened", where=self.shown, do="open it again")
        self._fd, found._fd = found._fd, -1

    def read(self, offset: int, count: int) -> bytes:
        """The bytes at an offset, all of them; an InputError if the file ends before them."""
        if offset < 0 or offset + count > self.size:
            raise self.ends()
        parts: list[bytes] = []
        while count:
            try:
                part = read_at(self._descriptor, min(count, 1 << 30), offset)
            except OSError as error:
                raise self._outside(error) from error
            if not part:
                raise self.ends()
            if len(part) == count and not parts:
                return part
            parts.append(part)
            offset += len(part)
            count -= len(part)
        return b"".join(parts)

    def read_into(self, view: memoryview, offset: int) -> None:
        """Fill a flat, writable view of bytes from an offset."""
        while len(view):
            try:
                done = read_into_at(self._descriptor, view[: 1 << 30], offset)
            except OSError as error:
                raise self._outside(error) from error
            if not done:
                raise self.ends()
            view = view[done:]
            offset += done

    def ends(self) -> InputError:
        """The error for a file that is shorter than it says."""
        return InputError("the file ends before its picture data", where=self.shown, do="copy or export it again")

    def _outside(self, error: OSError) -> OutsideError:
        reason = os.strerror(error.errno or errno.EIO).lower()
        return OutsideError(f"cannot be read ({reason})", where=self.shown, do="check permission and disk")

    def __del__(self) -> None:
        if self._fd >= 0:
            os.close(self._fd)
            self._fd = -1


def place(path: object) -> Path | Traversable:
    """A path in one form; a ParameterError if it is none."""
    if isinstance(path, (str, bytes, PathLike)):
        return Path(os.fsdecode(path))
    if not hasattr(path, "read_bytes"):
        raise ParameterError("path", path, "must be the path of a file")
    return cast("Traversable", path)


def contents(path: AnyPath | Traversable, noun: str) -> bytes:
    """The bytes of a profile or a measurement (`noun`), which may be in a zipped package; links are followed.

    It is refused if it does not exist, is a folder, pipe or device, is too large, or may not be read.
    """
    path = place(path)
    if not isinstance(path, Path):
        return path.read_bytes()
    limit = MEASUREMENT_BYTES if noun == "measurement" else limits.METADATA_BYTES
    file = InputFile(path, noun)
    if file.size > limit:
        raise InputError(f"is too large for a {noun}, over {limit >> 20} MiB", where=file.shown, do="name another file")
    return file.read(0, file.size)
