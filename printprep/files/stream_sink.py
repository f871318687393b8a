"""An output that is no file on this disk: kept in a temporary file until it is complete, then handed over in one go."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

from printprep.errors import OutputError, OutsideError, ParameterError
from printprep.files.names import AnyPath
from printprep.files.position import read_at
from printprep.files.sink import Sink
from printprep.files.source import InputFile
from printprep.files.streams import (
    AnyFile,
    OpenFile,
    PlaceFile,
    StreamFile,
    disk_path,
    local_path,
    name_of,
    place_of,
    stream_name,
    telling,
)

_PIECE = 8 << 20
"""Bytes handed over at once."""


def sink(
    file: AnyFile, path: AnyPath | None = None, store: InputFile | None = None, *, overwrite: bool = False
) -> Sink:
    """What a picture is written into, wherever that is; `file` and errors as for `printprep.photo.write.write`.

    `path`, or `store` where there is no path, is a file that must not be replaced.
    """
    place = place_of(file, "wb")
    if place is not None:
        on_disk = local_path(place)
        found = Sink(on_disk, path, overwrite=overwrite) if on_disk else PlaceSink(place, store, overwrite=overwrite)
        found.told = file if isinstance(file, str) else str(place.path)
        return found
    if isinstance(file, (str, bytes, os.PathLike)):
        return Sink(file, path, overwrite=overwrite)
    if not callable(getattr(file, "write", None)):
        raise ParameterError("path", file, "must be the path of a file, or an open file")
    return StreamSink(file, path, store)


class _Spooled(Sink):
    """A temporary file that is handed over once it is complete."""

    def __init__(self) -> None:
        try:
            self._fd, name = tempfile.mkstemp(".tif", "printprep-")
        except OSError as error:
            raise self._outside(error) from error
        self._temporary = Path(name)

    def _outside(self, error: OSError) -> OutsideError:
        what = f"cannot be made ready in the folder for temporary files ({error.strerror})"
        return OutsideError(what, where=self.shown, do="free some space, or name another folder in TMPDIR")


class StreamSink(_Spooled):
    """An open file: it gets the picture from its position on, once that is complete.

    Where handing it over fails, what had arrived is cut off again, if the file can seek and be cut.
    """

    def __init__(self, stream: Any, path: AnyPath | None = None, store: InputFile | None = None) -> None:
        self.shown, self._stream = stream_name(stream), stream
        self.told = own = disk_path(stream)
        same = isinstance(store, StreamFile) and store.stream is stream
        with suppress(OSError):
            same = same or bool(path and own and own.samefile(os.fsdecode(path)))
        if same:
            raise OutputError("is the input itself", where=self.shown, do="open another")
        with telling("written", self.shown):
            if not getattr(stream, "writable", lambda: True)():
                raise ParameterError("path", stream, "must be open for writing", "open it with 'wb'")
            try:
                stream.write(b"")
            except TypeError:
                raise ParameterError("path", stream, "must be open in binary mode", "open it with 'wb'") from None
        super().__init__()

    def publish(self) -> None:
        """Hand the picture over."""
        stream, at = self._stream, 0
        with telling("written", self.shown):
            start = stream.tell() if getattr(stream, "seekable", lambda: False)() else None
            try:
                while piece := memoryview(read_at(self._fd, _PIECE, at)):
                    at += len(piece)
                    while len(piece):  # raw files may take less than they are given
                        done = stream.write(piece)
                        piece = piece[done if isinstance(done, int) and done > 0 else len(piece) :]
                if callable(getattr(stream, "flush", None)):
                    stream.flush()
            except BaseException:
                if start is not None:
                    with suppress(Exception):
                        stream.seek(start)
                        stream.truncate()
                raise


class PlaceSink(_Spooled):
    """A place that fsspec knows: it gets the picture in one upload, which most stores show whole or not at all.

    Whether a file is there already is asked before: between that and the upload another may come.
    """

    def __init__(self, place: OpenFile, store: InputFile | None = None, *, overwrite: bool = False) -> None:
        self.shown, self._place, self._overwrite = name_of(place), place, overwrite
        if not place.path.lower().endswith((".tif", ".tiff")):
            raise OutputError("does not end in .tif or .tiff", where=self.shown, do="choose such a name")
        if getattr(place, "compression", None) is not None or "w" not in getattr(place, "mode", "wb"):
            raise ParameterError("path", self.shown, "must be open for writing, without compression")
        if isinstance(store, PlaceFile) and (store.place.fs, store.place.path) == (place.fs, place.path):
            raise OutputError("is the input itself", where=self.shown, do="choose another name")
        self._refuse_existing()
        super().__init__()

    def _refuse_existing(self) -> None:
        with telling("written", self.shown):
            there = self._place.fs.exists(self._place.path)
        if there and not self._overwrite:
            raise self._exists()

    def publish(self) -> None:
        """Upload the picture."""
        self._refuse_existing()
        with telling("written", self.shown):
            self._place.fs.put_file(str(self._temporary), self._place.path)
