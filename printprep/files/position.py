"""Reading and writing at a place of a file; by seeking, one thread at a time, where the system cannot do it at once."""

from __future__ import annotations

import os
from threading import Lock

BY_POSITION = all(hasattr(os, name) for name in ("pread", "preadv", "pwrite"))
"""Whether the system reads and writes by position (POSIX); Windows does not."""

CLOSED_ON_EXEC = getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_NOINHERIT", 0) | getattr(os, "O_BINARY", 0)
"""Flags of every file that we open: no child inherits it, and bytes stay as they are; as far as a system knows them."""

AT_NO_WAIT = getattr(os, "O_NONBLOCK", 0)
NO_LINK = getattr(os, "O_NOFOLLOW", 0)

_turn = Lock()
"""One for all files: descriptors of one file share their position."""


def read_at(descriptor: int, count: int, offset: int) -> bytes:
    """Up to `count` bytes from an offset; none where the file has ended."""
    if BY_POSITION:
        return os.pread(descriptor, count, offset)
    with _turn:
        os.lseek(descriptor, offset, os.SEEK_SET)
        return os.read(descriptor, count)


def read_into_at(descriptor: int, view: memoryview, offset: int) -> int:
    """Fill a flat, writable view of bytes from an offset; how many were read."""
    if BY_POSITION:
        return os.preadv(descriptor, [view], offset)
    data = read_at(descriptor, len(view), offset)
    view[: len(data)] = data
    return len(data)


def write_at(descriptor: int, data: bytes | memoryview, offset: int) -> None:
    """Write all of a flat run of bytes at an offset."""
    view = memoryview(data)
    while len(view):
        if BY_POSITION:
            done = os.pwrite(descriptor, view[: 1 << 30], offset)
        else:
            with _turn:
                os.lseek(descriptor, offset, os.SEEK_SET)
                done = os.write(descriptor, view[: 1 << 30])
        view, offset = view[done:], offset + done
