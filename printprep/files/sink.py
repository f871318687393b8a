"""An output file that appears whole under its name, or not at all."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from contextlib import suppress
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Self

from printprep.errors import OutputError, OutsideError
from printprep.files import limits
from printprep.files.names import AnyPath, shown
from printprep.files.position import CLOSED_ON_EXEC, NO_LINK, write_at

if TYPE_CHECKING:
    from concurrent.futures import Future, ThreadPoolExecutor

PREFIX = ".printprep-"
"""How temporary files begin; one that stays behind after a kill may be deleted."""

_NEW = os.O_RDWR | os.O_CREAT | CLOSED_ON_EXEC
_NO_LINKS = {errno.EPERM, errno.ENOSYS, errno.EOPNOTSUPP, errno.ENOTSUP, errno.EMLINK, errno.EACCES}


class Sink:
    """A temporary file beside the output, written at any place by any thread, then published.

    The output's folder must exist, and its name have one of the endings. An existing file is replaced only with
    `overwrite`, and never `source`, whatever links lead to it. A run that is killed leaves the temporary file behind;
    the next run for the same output takes it over.

    An OutputError says that nothing can or may be written under that name, an OutsideError that folder or disk fail.
    """

    shown: str
    told: Path | str | None
    """What `Written` calls the output: a path, the name of a place, or None for an open file without a name."""
    _fd = -1
    _flusher: _Flusher | None = None

    def __init__(
        self, path: AnyPath, source: AnyPath | None = None, *,
        overwrite: bool = False, endings: tuple[str, ...] = (".tif", ".tiff"),
    ) -> None:  # fmt: skip
        self.shown, self._overwrite, self._endings = shown(path), overwrite, endings
        self._temporary = Path()
        try:
            self._path = os.fsdecode(path)
            self.told = Path(self._path)
            self._check(source)
            self._create(Path(self._path).parent)
            self._flusher = _Flusher(self._fd)
        except ValueError:
            raise OutputError("is no file name", where=self.shown, do="choose another name") from None
        except OSError as error:
            raise self._outside(error) from error
        except BaseException:  # an interrupt, at whatever moment; before `with` no other would clear up
            if self._fd < 0 and self._temporary.name:
                self._take_over()  # it may be there, and nobody's
            self._discard()
            raise

    def _check(self, source: AnyPath | None) -> None:
        if not self._path.lower().endswith(self._endings):
            what = f"does not end in {' or '.join(self._endings)}"
            raise OutputError(what, where=self.shown, do="choose such a name")
        try:
            state = os.lstat(self._path)
        except FileNotFoundError:
            if not Path(self._path).parent.is_dir():
                raise OutputError("its folder does not exist", where=self.shown, do="make it first") from None
            return
        except OSError as error:
            if error.errno in (errno.ENOTDIR, errno.ELOOP, errno.ENAMETOOLONG):
                raise OutputError("cannot be a file's name here", where=self.shown, do="choose another name") from None
            raise
        with suppress(OSError):
            if source is not None and Path(self._path).samefile(os.fsdecode(source)):
                raise OutputError("is the input itself", where=self.shown, do="choose another name")
        kinds = [state.st_mode]
        with suppress(OSError):  # where a link leads nowhere
            kinds.append(os.stat(self._path).st_mode)
        for kind in kinds:
            if stat.S_ISDIR(kind):
                raise OutputError("is a folder", where=self.shown, do="choose another name")
            if not (stat.S_ISREG(kind) or stat.S_ISLNK(kind)):
                raise OutputError("is not a regular file", where=self.shown, do="choose another name")
        if not self._overwrite:
            raise self._exists()

    def _create(self, folder: Path) -> None:
        # A name that depends on the output's: what a killed run left behind is taken over by the next.
        own = hashlib.blake2b(os.fsencode(Path(self._path).name), digest_size=6).hexdigest()
        self._temporary = folder / f"{PREFIX}{own}.tmp"
        if self._take_over():
            return
        for _ in range(100):
            self._temporary = folder / f"{PREFIX}{os.urandom(6).hex()}.tmp"
            with suppress(FileExistsError):
                self._fd = os.open(self._temporary, _NEW | os.O_EXCL, 0o666)  # less the umask
                return
        raise FileExistsError(errno.EEXIST, "no free temporary name")

    def _take_over(self) -> bool:
        """Open the temporary file, empty and locked against other runs; False where one is at work with it."""
        try:
            import fcntl  # not on every system

            fd = os.open(self._temporary, _NEW | NO_LINK, 0o666)
        except (ImportError, OSError):
            return False  # the other name will tell why
        try:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
            state = os.fstat(fd)
            ours = stat.S_ISREG(state.st_mode) and state.st_uid == os.geteuid() and state.st_nlink == 1
            if ours and os.path.samestat(state, os.lstat(self._temporary)):
                os.ftruncate(fd, 0)
                self._fd = fd
                return True
        except OSError:  # locked, or no locks here
            pass
        except BaseException:
            self._fd = -1
            os.close(fd)
            raise
        os.close(fd)
        return False

    def write(self, data: bytes | memoryview, offset: int) -> None:
        """Write all of a flat run of bytes at an offset."""
        try:
            write_at(self._fd, data, offset)
            if self._flusher is not None:
                self._flusher.wrote(len(data))
        except OSError as error:
            raise self._outside(error) from error

    def publish(self) -> None:
        """Make the file durable and give it its name; exactly one of several racing runs succeeds."""
        try:
            if self._flusher is not None:
                self._flusher.end()
            os.fsync(self._fd)
            if self._overwrite:
                os.replace(self._temporary, self._path)
            else:
                self._claim()
        except OSError as error:
            raise self._outside(error) from error
        self._close()

    def _claim(self) -> None:
        try:
            os.link(self._temporary, self._path)
        except FileExistsError:
            raise self._exists() from None
        except OSError as error:
            if error.errno not in _NO_LINKS:
                raise
            try:  # no hard links here: the name itself is the claim, and what replaces it is ours
                os.close(os.open(self._path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | CLOSED_ON_EXEC, 0o600))
                os.replace(self._temporary, self._path)
            except FileExistsError:
                raise self._exists() from None
            except BaseException:
                with suppress(OSError):
                    if not os.stat(self._path).st_size:  # a claim, not a picture that replaced it
                        os.unlink(self._path)
                raise
        else:
            os.unlink(self._temporary)

    def _exists(self) -> OutputError:
        do = "choose another name, or allow replacing it with {way}"
        return OutputError("exists already", where=self.shown, do=do, way="overwrite=True")

    def _outside(self, error: OSError) -> OutsideError:
        reason = os.strerror(error.errno or errno.EIO).lower()
        do = "free some space" if error.errno in (errno.ENOSPC, errno.EDQUOT) else "check permission and disk"
        return OutsideError(f"cannot be written ({reason})", where=self.shown, do=do)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._discard()

    def _discard(self) -> None:
        if self._fd >= 0:
            with suppress(OSError):
                os.unlink(self._temporary)  # while it is still locked
            if self._flusher is not None:
                with suppress(OSError):  # another error is on its way already
                    self._flusher.end()
            self._close()

    def _close(self) -> None:
        fd, self._fd = self._fd, -1  # first, for its number may soon be another file's
        os.close(fd)

    def __del__(self) -> None:
        """Clear up where an interrupt came between the making and `with`, or as that ended."""
        self._discard()


class _Flusher:
    """Hands an open file to the disk bit by bit, in a thread of its own, so that the end need not wait for all of it.

    The file must stay open until `end`.
    """

    def __init__(self, descriptor: int) -> None:
        self._descriptor, self._written, self._due, self._lock = descriptor, 0, limits.FLUSH_BYTES, Lock()
        self._pool: ThreadPoolExecutor | None = None
        self._last: Future[None] | None = None

    def wrote(self, count: int) -> None:
        """Say that so many bytes were written; errors as `end`."""
        with self._lock:
            self._written += count
            if self._written < self._due or not hasattr(os, "fdatasync"):
                return
            if self._last is not None:
                if not self._last.done():
                    return
                self._last.result()
            if self._pool is None:
                from concurrent.futures import ThreadPoolExecutor

                self._pool = ThreadPoolExecutor(1)
            self._due = self._written + limits.FLUSH_BYTES
            self._last = self._pool.submit(os.fdatasync, self._descriptor)

    def end(self) -> None:
        """Stop; nothing uses the file any more.

        Raises what the disk said on the way: it says so only once, so it must not be lost.
        """
        if self._pool is not None and self._last is not None:
            self._pool.shutdown()
            self._last.result()
