"""printprep log: from preparing a file to what finished prints took."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from tests.support.command import one_line_error, run
from tests.support.tiffs import picture, tiff


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("PRINTPREP_LOG", str(tmp_path / "data" / "log.sqlite3"))
    tiff(tmp_path / "a.tif", pixels=picture(40, 30))
    done = run("prepare", "a.tif", "-p", "gloss", "-r", "hallway", "-o", "b.tif", "--log", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "sheet 1 of the log" in done.stderr
    return tmp_path


def test_from_sheet_to_cost(folder: Path) -> None:
    assert run("log", "cost", cwd=folder).stdout == "0 sheets for 0 finished prints; 1 not judged yet\n"
    added = run("log", "add", "b.tif", "--result", "too dark", "--note", "=1+1\x1b[31m", cwd=folder)
    assert added.stdout == "1: too dark\n"
    assert "printprep reprint --from-log 1" in added.stderr
    assert run("log", "add", "b.tif", "--result", "right", "--sheet", "A3+", cwd=folder).stdout == "2: right\n"
    listed = run("log", "list", cwd=folder).stdout
    assert "too dark" in listed
    assert max(map(len, listed.splitlines())) <= 80
    assert "\x1b" not in listed
    entries = json.loads(run("log", "list", "--json", cwd=folder).stdout)
    assert [(e["number"], e["result"]) for e in entries] == [(1, "too dark"), (2, "right")]
    shown = run("log", "show", "1", cwd=folder).stdout
    assert "note       =1+1\\x1b[31m" in shown
    assert "room       hallway" in shown
    assert json.loads(run("log", "show", "2", "--json", cwd=folder).stdout)["ticket"]["hand_over"] == "source"
    cost = run("log", "cost", "--by-paper", cwd=folder).stdout
    assert cost == "2 sheets for 1 finished print, 0 right the first time\n  gloss: " + cost.splitlines()[0] + "\n"


def test_export(folder: Path) -> None:
    for name in ("prints.csv", "prints.json"):
        assert run("log", "export", "-o", name, cwd=folder).stdout == f"{name}\n"
    rows = list(csv.DictReader(io.StringIO((folder / "prints.csv").read_bytes().decode(), newline="")))
    assert rows[0]["paper"] == json.loads((folder / "prints.json").read_text())[0]["paper"] == "gloss"
    assert '"number","date"' in run("log", "export", cwd=folder).stdout
    assert json.loads(run("log", "export", "--format", "json", cwd=folder).stdout)
    assert "--overwrite" in one_line_error(run("log", "export", "-o", "prints.csv", cwd=folder))
    assert "end in .json" in one_line_error(run("log", "export", "-o", "x.csv", "--format", "json", cwd=folder))


def test_an_empty_log(tmp_path: Path) -> None:
    nowhere = str(tmp_path / "none.sqlite3")
    assert "no sheets yet" in run("log", "list", cwd=tmp_path, PRINTPREP_LOG=nowhere).stdout
    assert run("log", "list", "--json", cwd=tmp_path, PRINTPREP_LOG=nowhere).stdout == "[]\n"
    assert "is not in the log" in one_line_error(run("log", "show", "1", cwd=tmp_path, PRINTPREP_LOG=nowhere))
    assert not (tmp_path / "none.sqlite3").exists()


def test_what_is_wrong_is_said_in_one_line(folder: Path) -> None:
    line = one_line_error(run("log", "add", "b.tif", "--result", "light", cwd=folder))
    assert "must be one of: right, too dark, too light" in line
    assert "has no job ticket" in one_line_error(run("log", "add", "a.tif", cwd=folder))
    assert "did you mean gloss?" in one_line_error(run("log", "list", "--paper", "glos", cwd=folder))
    assert "did you mean list?" in one_line_error(run("log", "lst", cwd=folder))
    assert "must be a whole number" in one_line_error(run("log", "show", "x", cwd=folder))


def test_a_damaged_log_stops_the_work_before_it_begins(folder: Path) -> None:
    log = folder / "data" / "log.sqlite3"
    log.write_bytes(b"no log")
    again = run("prepare", "a.tif", "-p", "gloss", "-r", "hallway", "-o", "c.tif", "--log", cwd=folder)
    assert "is no print log" in one_line_error(again)
    assert not (folder / "c.tif").exists()
    assert log.read_bytes() == b"no log"
