"""Files that are not on this disk, or are open already: file objects, and places that fsspec knows."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import Lock
from typing import IO, Any, Protocol, Self, runtime_checkable

from printprep.errors import InputError, OutputError, OutsideError, ParameterError, PrintprepError
from printprep.files.names import AnyPath, printable, shown
from printprep.files.source import InputFile

_PLACE = re.compile(r"[A-Za-z][A-Za-z0-9+.:-]+://")
"""How text begins that names a place for fsspec: ``memory://``, ``s3://``, ``simplecache::s3://``."""


@runtime_checkable
class OpenFile(Protocol):
    """A place that fsspec knows, as ``fsspec.open`` gives it."""

    fs: Any
    path: str

    def open(self) -> Any: ...  # noqa: D102


AnyFile = AnyPath | IO[bytes] | OpenFile
"""What `printprep.read` and `Photo.write` take: a path, a place for fsspec, or an open binary file."""


def opened(file: AnyFile, noun: str = "picture") -> InputFile:
    """A file to read from, wherever it is: text with ``://`` in it is opened by fsspec.

    `noun` is what it should be, for messages. It is refused if it does not exist, may not be read, or is not open for
    reading bytes at any place; or if fsspec, or what that needs, is not installed.
    """
    if (place := place_of(file, "rb")) is not None:
        return PlaceFile(place, noun)
    if isinstance(file, (str, bytes, os.PathLike)):
        return InputFile(file, noun)
    if not all(callable(getattr(file, name, None)) for name in ("read", "seek", "tell")):
        raise ParameterError("path", file, "must be the path of a file, or an open file")
    return StreamFile(file, noun)


def disk_file(key: str, file: object) -> Path:
    """The path of a file on this disk, for calls that know no others; `key` is the argument's name."""
    if isinstance(file, (str, bytes, os.PathLike)) and not (isinstance(file, str) and _PLACE.match(file)):
        return Path(os.fsdecode(file))
    do = "of others: pipe(printprep.read(file)).write(output)"
    raise ParameterError(key, file, "must be a path on this disk", do)


def place_of(file: object, mode: str) -> OpenFile | None:
    """What fsspec should open, to read ("rb") or to write ("wb"); None where it is not asked."""
    if isinstance(file, str) and _PLACE.match(file):
        try:
            from fsspec.core import OpenFile as Place
            from fsspec.core import url_to_fs
        except ImportError:
            do = "install it: pip install 'printprep[fsspec]'"
            kind = InputError if mode == "rb" else OutputError
            raise kind("needs the package fsspec", where=shown(file), do=do) from None
        with telling("opened" if mode == "rb" else "written", shown(file)):
            fs, path = url_to_fs(file)
        return Place(fs, path, mode)  # type: ignore[no-any-return]
    return file if isinstance(file, OpenFile) and not isinstance(file, os.PathLike) else None


def local_path(place: OpenFile) -> str | None:
    """The path of a place that is on this disk after all, where the usual promises can be kept."""
    protocols = place.fs.protocol
    plain = getattr(place, "compression", None) is None
    return place.path if plain and "file" in ((protocols,) if isinstance(protocols, str) else protocols) else None


def name_of(place: OpenFile) -> str:
    """What a place is called in messages."""
    with suppress(Exception):
        return shown(str(place.fs.unstrip_protocol(place.path)))
    return shown(str(place.path))


class StreamFile(InputFile):
    """An open file that is read by one thread at a time; its own position is left where it was.

    The picture begins at its beginning. It must stay open until the picture has been written, is never closed here, and
    cannot be sent to another process.
    """

    def __init__(self, stream: Any, noun: str = "picture") -> None:
        self.shown, self._noun, self.stream, self._turn = stream_name(stream), noun, stream, Lock()
        with telling("read", self.shown):
            self.size = self._end()

    def _end(self) -> int:
        stream = self.stream
        if not getattr(stream, "seekable", lambda: True)():
            do = "read it into io.BytesIO first"
            raise InputError("cannot be read at any place", where=self.shown, do=do)
        before = stream.tell()
        end = stream.seek(0, os.SEEK_END)
        end = stream.tell() if end is None else end
        stream.seek(0)
        some = stream.read(1)
        stream.seek(before)
        if not isinstance(some, (bytes, bytearray)):
            raise ParameterError("path", stream, "must be open in binary mode", "open it with 'rb'")
        return int(end)

    @property
    def on_disk(self) -> Path | None:
        """The path of a file on this disk that was opened by its name."""
        return disk_path(self.stream)

    def __deepcopy__(self, memo: dict[int, Any]) -> Self:
        return self  # there is one open file, with a lock

    def __copy__(self) -> Self:
        return self

    def __getstate__(self) -> dict[str, Any]:
        do = "read it by its name there"
        raise InputError("is an open file, which cannot be sent elsewhere", where=self.shown, do=do)

    def read(self, offset: int, count: int) -> bytes:
        """The bytes at an offset, all of them; as `InputFile.read`."""
        if offset < 0 or offset + count > self.size:
            raise self.ends()
        stream, parts = self.stream, list[bytes]()
        with telling("read", self.shown), self._turn:
            before = stream.tell()
            stream.seek(offset)
            while count:
                part = stream.read(min(count, 1 << 30))
                if not part:
                    raise self.ends()
                parts.append(bytes(part))
                count -= len(part)
            stream.seek(before)
        return parts[0] if len(parts) == 1 else b"".join(parts)

    def read_into(self, view: memoryview, offset: int) -> None:
        """Fill a flat, writable view of bytes from an offset."""
        view[:] = self.read(offset, len(view))

    def __del__(self) -> None:
        """Leave the file open: it is the caller's."""


class PlaceFile(StreamFile):
    """A file at a place that fsspec knows; a copy elsewhere opens it anew, and refuses where it has changed."""

    def __init__(self, place: OpenFile, noun: str = "picture") -> None:
        self.place = place
        self._open(noun)
        self._was = self._mark()

    def _open(self, noun: str) -> None:
        shown_as = name_of(self.place)
        with telling("opened", shown_as):
            try:
                stream = self.place.open()
            except FileNotFoundError:
                raise InputError("does not exist", where=shown_as, do="check the name") from None
            except IsADirectoryError:
                raise InputError("is a folder", where=shown_as, do=f"name a {noun} file") from None
        super().__init__(stream, noun)
        self.shown = shown_as

    def _mark(self) -> tuple[int, str]:
        mark = ""
        with suppress(Exception):  # not every store has one
            mark = str(self.place.fs.ukey(self.place.path))
        return self.size, mark

    @property
    def on_disk(self) -> Path | None:
        """The path of a file that is on this disk after all."""
        path = local_path(self.place)
        return None if path is None else Path(path).absolute()

    def __getstate__(self) -> dict[str, Any]:
        return {"place": self.place, "_noun": self._noun, "_was": self._was}

    def __setstate__(self, state: dict[str, Any]) -> None:
        vars(self).update(state)
        self._open(state["_noun"])
        if self._mark() != state["_was"]:
            raise InputError("has changed since it was opened", where=self.shown, do="open it again")

    def __del__(self) -> None:
        with suppress(Exception):
            self.stream.close()


def stream_name(stream: object) -> str:
    """What an open file is called in messages."""
    name = getattr(stream, "name", None)
    return shown(name) if isinstance(name, (str, bytes)) else "open file"


def disk_path(stream: object) -> Path | None:
    """The absolute path of an open file on this disk, where its name still leads to it."""
    name = getattr(stream, "name", None)
    if not isinstance(name, (str, bytes)):
        return None
    try:
        if os.path.samestat(os.fstat(stream.fileno()), os.stat(name)):  # type: ignore[attr-defined]
            return Path(os.fsdecode(name)).absolute()
    except (OSError, ValueError, AttributeError):
        pass
    return None


@contextmanager
def telling(what: str, where: str) -> Iterator[None]:
    """Tell whatever a file or store may raise that is being "opened", "read" or "written" in the user's terms."""
    try:
        yield
    except PrintprepError:
        raise
    except Exception as error:
        kind = OutputError if what == "written" else InputError
        said = printable(str(error).strip().partition("\n")[0], 160) or type(error).__name__
        told = f"cannot be {what} ({said})"
        if isinstance(error, ValueError) and "closed" in said:
            raise kind("the file is closed", where=where, do="keep it open until the picture is written") from error
        if isinstance(error, ImportError):
            raise kind(told, where=where, do="install what it needs") from error
        if isinstance(error, NotImplementedError):
            raise kind(f"cannot be {what} there ({said})", where=where, do="choose another place") from error
        raise OutsideError(told, where=where, do="check name, permission, connection and space") from error
