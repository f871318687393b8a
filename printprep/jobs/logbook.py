"""The print log: which sheets were printed, how each was judged, and what finished prints cost."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import datetime
from pathlib import Path
from typing import Any

from printprep.errors import OutsideError, ParameterError, expect
from printprep.files.streams import disk_file
from printprep.jobs import log_store
from printprep.parameters import checked_call
from printprep.results import Result
from printprep.ticket import read_ticket

RESULTS = ("right", "too dark", "too light", "blocked shadows", "dull colour", "too strong", "tinted", "soft")
"""How a print can be judged."""

_LONGEST = 2000
"""Characters of a text that a user may add."""

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a spreadsheet may take for the start of a formula, in ASCII and in full width (OWASP, "CSV Injection")."""


@dataclass(frozen=True)
class Entry(Result):
    """One sheet of the log.

    Parameters
    ----------
    number : int
        Counts up, never used twice.
    date : str
        When it was added or judged: ISO 8601, local time with its offset, seconds.
    print : str
        The prepared file, its whole path.
    prepared, edit : str
        ``xxh3_128`` of the prepared pixels; name of the edit, or its pixels' hash where no name is known.
    paper, room : str
        What they are called.
    sheet, settings, note : str
        As the user wrote them: the size, what was set in the dialogue, anything else.
    result : str
        One of `RESULTS`; empty where it is not judged yet.
    version : str
        Of printprep, that prepared it.
    ticket : str
        The job ticket, JSON.
    """

    number: int
    date: str
    print: str
    prepared: str
    edit: str
    paper: str
    room: str
    sheet: str = ""
    settings: str = ""
    result: str = ""
    note: str = ""
    version: str = ""
    ticket: str = ""

    def to_dict(self) -> dict[str, Any]:
        """The entry for JSON: the ticket as what it says."""
        try:
            ticket = json.loads(self.ticket)
        except ValueError:
            ticket = self.ticket
        return {**super().to_dict(), "ticket": ticket}


def log_file() -> Path:
    """Where the log is kept: ``PRINTPREP_LOG``, or ``log.sqlite3`` in the user's data folder."""
    if named := os.environ.get("PRINTPREP_LOG"):
        return Path(named)
    from platformdirs import user_data_path

    try:
        return user_data_path("printprep", appauthor=False) / "log.sqlite3"
    except RuntimeError:
        do = "name a file in PRINTPREP_LOG"
        raise OutsideError("there is no home folder to keep it in", where="print log", do=do) from None


class Logbook:
    """The print log.

    Parameters
    ----------
    path : path, optional
        Of its file; see `log_file`.

    Examples
    --------
    >>> Logbook("none-yet.sqlite3").entries()
    []
    """

    def __init__(self, path: str | os.PathLike[str] | None = None) -> None:
        self._path = log_file() if path is None else disk_file("path", path)

    @property
    def path(self) -> Path:
        """The file."""
        return self._path

    def entries(self) -> list[Entry]:
        """All sheets, oldest first.

        Raises
        ------
        InputError
            If the file is damaged, no print log, or of a newer version; it is left alone.
        OutsideError
            If it cannot be read.

        Examples
        --------
        >>> import printprep as pp
        >>> _ = pp.prepare("edit.tif", "print.tif", pp.pipeline(paper="gloss"))
        >>> book = pp.Logbook("log.sqlite3")
        >>> _ = book.add("print.tif", result="right")
        >>> [entry.result for entry in book.entries()]
        ['right']
        """
        return [Entry(number, **row) for number, row in log_store.rows(self.path)]

    @checked_call
    def entry(self, number: int) -> Entry:
        """One sheet.

        Raises
        ------
        ParameterError
            If there is none of this number.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.Logbook("log.sqlite3").entry(7)
        Traceback (most recent call last):
            ...
        printprep.errors.ParameterError: number = 7: is not in the log; take one that its list has
        """
        found = next((e for e in self.entries() if e.number == number), None)
        if found is None:
            raise ParameterError("number", number, "is not in the log", "take one that its list has")
        return found

    @checked_call
    def add(
        self,
        path: str | os.PathLike[str],
        *,
        result: str = "",
        sheet: str = "",
        settings: str = "",
        note: str = "",
        date: datetime | None = None,
    ) -> tuple[Entry, bool]:
        """Add a sheet; a result goes to the sheet of the same prepared file that waits for one, where there is one.

        Parameters
        ----------
        path : path
            The prepared file that was printed.
        result : str
            One of `RESULTS`; empty where it is not judged yet.
        sheet, settings, note : str
            Kept as they are.
        date : datetime, optional
            Now, if not given.

        Returns
        -------
        entry : Entry
            As it stands in the log.
        judged : bool
            Whether it was there already.

        Raises
        ------
        InputError
            If the file carries no job ticket, or as `entries`.
        ParameterError
            For another result, or a text that is too long.
        OutsideError
            If the log cannot be written; nothing was changed.

        Examples
        --------
        >>> import printprep as pp
        >>> _ = pp.prepare("edit.tif", "print.tif", pp.pipeline(paper="gloss"))
        >>> entry, judged = pp.Logbook("log.sqlite3").add("print.tif", result="too dark")
        >>> entry.number, entry.paper, judged
        (1, 'gloss', False)
        """
        expect("path", path, (str, os.PathLike), "must be a path")
        words = {"sheet": sheet, "settings": settings, "note": note}
        for key, text in words.items():
            if len(text) > _LONGEST:
                raise ParameterError(key, text, f"must have at most {_LONGEST} characters", "shorten it")
        judged_as = " ".join(result.lower().replace("-", " ").replace("_", " ").split())
        if judged_as and judged_as not in RESULTS:
            raise ParameterError("result", result, f"must be one of: {', '.join(RESULTS)}")
        ticket = read_ticket(Path(path))
        when = datetime.now() if date is None else date
        row = {
            "date": when.astimezone().isoformat(timespec="seconds"),
            "print": str(Path(path).absolute()),
            "prepared": str(ticket.prepared.get("xxh3_128", "")),
            "edit": str(ticket.edit.get("name") or ticket.edit.get("xxh3_128") or ""),
            "paper": str(ticket.paper.get("name", "")),
            "room": str(ticket.room.get("name", "")),
            "result": judged_as,
            "version": ticket.version,
            "ticket": ticket.to_json(),
            **words,
        }
        row = {key: text.encode("utf-8", "backslashreplace").decode() for key, text in row.items()}
        number, judged = log_store.add(self.path, row, judges=("print", "prepared") if judged_as else ())
        return self.entry(number), judged


# ---------------------------------------------------------------- what prints cost


@dataclass(frozen=True)
class Cost:
    """What finished prints took: sheets that are judged, those of them that are right, and those not judged yet.

    `first` are right ones with no failed sheet of the same edit on the same paper since the last right one.
    """

    sheets: int
    finished: int
    first: int
    waiting: int = 0

    def __str__(self) -> str:
        sheets, prints = ("" if number == 1 else "s" for number in (self.sheets, self.finished))
        text = f"{self.sheets} sheet{sheets} for {self.finished} finished print{prints}"
        if self.finished:
            text += f", {self.first} right the first time"
        return text + (f"; {self.waiting} not judged yet" if self.waiting else "")


def cost(entries: Iterable[Entry]) -> Cost:
    """What the finished prints among these sheets took."""
    failed: set[tuple[str, str]] = set()
    sheets = finished = first = waiting = 0
    for entry in entries:
        picture = entry.edit, entry.paper
        if not entry.result:
            waiting += 1
            continue
        sheets += 1
        if entry.result != "right":
            failed.add(picture)
            continue
        finished += 1
        first += picture not in failed
        failed.discard(picture)
    return Cost(sheets, finished, first, waiting)


def cost_by_paper(entries: Iterable[Entry]) -> dict[str, Cost]:
    """The same for each paper, by name."""
    entries = list(entries)
    return {name: cost(e for e in entries if e.paper == name) for name in sorted({e.paper for e in entries})}


# ---------------------------------------------------------------- export


def as_json(entries: Iterable[Entry]) -> str:
    """The sheets as a JSON list, with their tickets."""
    return json.dumps([entry.to_dict() for entry in entries], indent=2, sort_keys=True) + "\n"


def as_csv(entries: Iterable[Entry]) -> str:
    """The sheets as a CSV table (RFC 4180), without tickets; no cell begins as a spreadsheet's formula does."""
    import csv
    from io import StringIO

    names = [f.name for f in fields(Entry) if f.name != "ticket"]
    text = StringIO(newline="")
    table = csv.writer(text, quoting=csv.QUOTE_ALL)
    table.writerow(names)
    for entry in entries:
        table.writerow([_inert(str(getattr(entry, name))) for name in names])
    return text.getvalue()


def _inert(text: str) -> str:
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA) else text
