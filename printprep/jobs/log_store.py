"""The store of the print log: one SQLite file that several processes may use at once."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path

from printprep.errors import InputError, OutsideError, PrintprepError
from printprep.files.names import shown
from printprep.files.source import InputFile

APPLICATION = 0x7070_6C67
"""What marks our files among SQLite's (``PRAGMA application_id``): the letters pplg."""

COLUMNS = (
    "date", "print", "prepared", "edit", "paper", "room", "sheet", "settings", "result", "note", "version", "ticket",
)  # fmt: skip
"""Of an entry, beside its number: texts, empty where nothing is known."""

STEPS: tuple[tuple[str, ...], ...] = (
    (
        "CREATE TABLE prints (number INTEGER PRIMARY KEY AUTOINCREMENT, "
        "date TEXT NOT NULL, print TEXT NOT NULL, prepared TEXT NOT NULL, edit TEXT NOT NULL, paper TEXT NOT NULL, "
        "room TEXT NOT NULL, sheet TEXT NOT NULL, settings TEXT NOT NULL, result TEXT NOT NULL, note TEXT NOT NULL, "
        "version TEXT NOT NULL, ticket TEXT NOT NULL)",
        f"PRAGMA application_id = {APPLICATION}",
    ),
)
"""Step k makes schema k + 1 of schema k. Steps are added and never changed, so that every older file can follow."""

_PATIENCE = 20.0
"""Seconds to wait for other processes; one entry takes some milliseconds."""

_MAGIC = b"SQLite format 3\0"
"""What such a file begins with (The SQLite Database File Format, 1.3)."""

Row = dict[str, str]


def rows(path: Path) -> list[tuple[int, Row]]:
    """All entries of a log by number; none where there is no file yet.

    A file that is damaged, no print log, or of a newer version is an InputError, one that cannot be used an
    OutsideError; it is left alone.
    """
    if not os.path.lexists(path):
        return []
    with _opened(path) as base:
        found = base.execute(f"SELECT number, {', '.join(COLUMNS)} FROM prints ORDER BY number").fetchall()
    return [(number, dict(zip(COLUMNS, map(str, texts), strict=True))) for number, *texts in found]


def add(path: Path, row: Mapping[str, str], *, judges: tuple[str, ...] = ()) -> tuple[int, bool]:
    """Add an entry, whole or not at all, or judge the last one that waits for it: its number, and whether it was there.

    By the columns `judges` an entry without a result is known to be the same sheet: what is said is put into it.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _outside(path, error.strerror or "the system refused") from error
    with _opened(path) as base:
        base.execute("BEGIN IMMEDIATE")
        waiting = None
        if judges:
            same = " AND ".join(f"{name} = ?" for name in judges)
            waiting = base.execute(
                f"SELECT max(number) FROM prints WHERE result = '' AND {same}", [row[name] for name in judges]
            ).fetchone()[0]
        if waiting is not None:
            said = {k: row[k] for k in ("date", "result", "sheet", "settings", "note") if row[k]}
            texts = ", ".join(f"{name} = ?" for name in said)
            base.execute(f"UPDATE prints SET {texts} WHERE number = ?", [*said.values(), waiting])
            number = int(waiting)
        else:
            marks = ", ".join("?" * len(COLUMNS))
            done = base.execute(
                f"INSERT INTO prints ({', '.join(COLUMNS)}) VALUES ({marks})", [row[name] for name in COLUMNS]
            )
            number = int(done.lastrowid or 0)
        base.execute("COMMIT")
    return number, waiting is not None


@contextmanager
def _opened(path: Path) -> Iterator[sqlite3.Connection]:
    """The file, found sound and of this schema; whatever fails is one of our errors, and rolled back."""
    try:
        if os.path.lexists(path):
            file = InputFile(path, "print log")
            if file.size and file.read(0, min(file.size, len(_MAGIC))) != _MAGIC:
                raise _damaged(path, "is no print log")
        with closing(sqlite3.connect(path, timeout=_PATIENCE, isolation_level=None)) as base:
            _check(base, path)
            _migrate(base)
            yield base
    except sqlite3.OperationalError as error:
        busy = getattr(error, "sqlite_errorcode", 0) & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
        raise _outside(path, "is held by another process" if busy else str(error)) from error
    except sqlite3.DatabaseError as error:
        raise _damaged(path, str(error)) from error


def _check(base: sqlite3.Connection, path: Path) -> None:
    """Refuse what is no log of ours, newer than we know, or damaged."""
    base.execute("BEGIN")  # one moment for all that is looked at: another process may just be making the file
    version = _pragma(base, "user_version")
    tables = base.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if tables and (version == 0 or _pragma(base, "application_id") != APPLICATION):
        raise _damaged(path, "is no print log")
    if version > len(STEPS):
        do = "use a newer printprep; it was left alone"
        raise InputError("is a print log of a newer version", where=shown(path), do=do)
    if base.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok":
        raise _damaged(path, "is damaged")
    base.execute("COMMIT")


def _migrate(base: sqlite3.Connection) -> None:
    """Take every step that the file lacks, all or none; two processes take them once."""
    if _pragma(base, "user_version") == len(STEPS):
        return
    base.execute("BEGIN IMMEDIATE")
    for number in range(_pragma(base, "user_version"), len(STEPS)):
        for statement in STEPS[number]:
            base.execute(statement)
        base.execute(f"PRAGMA user_version = {number + 1}")
    base.execute("COMMIT")


def _pragma(base: sqlite3.Connection, name: str) -> int:
    return int(base.execute(f"PRAGMA {name}").fetchone()[0])


def _damaged(path: Path, what: str) -> InputError:
    do = "it was left alone: put a copy of before in its place, or move it away to begin a new one"
    what = what if what.startswith("is ") else f"is damaged ({what})"
    return InputError(what, where=shown(path), do=do)


def _outside(path: Path, reason: str) -> PrintprepError:
    what = reason if reason.startswith("is ") else f"cannot be used as the print log ({reason})"
    return OutsideError(what, where=shown(path), do="see to the folder, or try again; nothing was changed")
