"""printprep reprint, prepare --like, and the command that a ticket tells."""

from __future__ import annotations

import json
import shlex
from pathlib import Path

import pytest

from tests.support.command import one_line_error, run
from tests.support.lutprofile import MatrixInk, output_profile
from tests.support.tiffs import picture, tiff


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    tiff(tmp_path / "edit one.tif", pixels=picture(40, 30))
    ink = MatrixInk(17)
    (tmp_path / "my.icc").write_bytes(output_profile(ink.lab, ink.rgb))
    return tmp_path


WAYS = [
    ("--paper", "cotton-rag", "--room", "hallway", "--set", "shadow-lift.strength=0.25", "--strength", "0.8"),
    ("--paper", "my.icc", "--metered", "f/4 1/15 ISO 400", "--hand-over", "paper"),
    ("--paper", "gloss", "--room", "gallery", "--metered", "f/4 1/15 ISO 400"),
    ("--paper", "gloss"),
]  # fmt: skip


@pytest.mark.parametrize("way", WAYS)
def test_the_tickets_own_command_and_reprint_give_the_same_bytes(folder: Path, way: tuple[str, ...]) -> None:
    made = run("prepare", "edit one.tif", *way, "-o", "1.tif", cwd=folder)
    assert made.returncode == 0, made.stderr
    told = run("ticket", "1.tif", cwd=folder).stdout
    command = next(line for line in told.splitlines() if line.startswith("command"))
    words = shlex.split(command.removeprefix("command"))
    assert words[:3] == ["printprep", "prepare", "edit one.tif"]
    assert run(*words[1:], "-o", "2.tif", cwd=folder).returncode == 0
    again = run("reprint", "1.tif", "--input", "edit one.tif", "-o", "3.tif", cwd=folder)
    assert again.stdout == "3.tif\n  the same file, byte for byte\n"
    dialogue = next(line for line in told.splitlines() if line.startswith("print with")).removeprefix("print with ")
    assert f"when printing: {dialogue}" in again.stderr
    assert run("prepare", "edit one.tif", "--like", "1.tif", "-o", "4.tif", cwd=folder).returncode == 0
    first = (folder / "1.tif").read_bytes()
    assert {(folder / f"{n}.tif").read_bytes() for n in (2, 3, 4)} == {first}


def test_like_with_something_set_otherwise_says_so(folder: Path) -> None:
    run("prepare", "edit one.tif", *WAYS[0], "-o", "1.tif", cwd=folder)
    words = ("--like", "1.tif", "--set", "shadow-lift.strength=0.5", "-o", "2.tif")
    other = run("prepare", "edit one.tif", *words, cwd=folder)
    assert "not all is as in '1.tif': shadow-lift.strength=0.5: moves the print of 'edit one.tif' by " in other.stderr
    recipe = json.loads(run("ticket", "2.tif", "--json", cwd=folder).stdout)["recipe"]
    assert recipe["asked"]["settings"] == {"shadow-lift.strength": "0.5"}
    like = ("prepare", "edit one.tif", "--like", "1.tif", "-o", "3.tif")
    for more in (("--room", "gallery"), ("--metered", "f/4 1/15 ISO 400"), ("--preset", "x")):
        assert f"{more[0]}: cannot stand beside --like" in one_line_error(run(*like, *more, cwd=folder))
    assert "hand-over paper: this paper has no ICC profile" in run(*like, "--hand-over", "paper", cwd=folder).stderr
    run("prepare", "edit one.tif", *WAYS[1], "-o", "5.tif", cwd=folder)
    back = run("prepare", "edit one.tif", "--like", "5.tif", "--hand-over", "source", "-o", "6.tif", cwd=folder)
    assert "not all is as in '5.tif': hand-over source" in back.stderr


def test_a_date_only_where_it_is_asked_for(folder: Path) -> None:
    run("prepare", "edit one.tif", *WAYS[3], "-o", "1.tif", cwd=folder)
    run("prepare", "edit one.tif", *WAYS[3], "-o", "2.tif", "--dated", cwd=folder)
    plain, dated = (json.loads(run("ticket", f"{n}.tif", "--json", cwd=folder).stdout) for n in (1, 2))
    assert "date" not in plain
    assert dated.pop("date")[:2] == "20"
    assert plain == dated
    done = run("prepare", "edit one.tif", *WAYS[3], "-o", "2.tif", "--skip-done", cwd=folder)
    assert "done already" in done.stderr


def test_what_is_wrong_is_said_in_one_line(folder: Path) -> None:
    run("prepare", "edit one.tif", *WAYS[1], "-o", "1.tif", cwd=folder)
    reprint = ("reprint", "1.tif", "--input", "edit one.tif", "-o", "2.tif")
    (folder / "my.icc").rename(folder / "moved.icc")
    line = one_line_error(run(*reprint, cwd=folder))
    assert "the paper of the job ticket is not found: 'my.icc': does not exist" in line
    assert line.endswith("name it once more with --paper PAPER")
    assert "pixel for pixel" in run(*reprint, "--paper", "moved.icc", cwd=folder).stdout
    assert "has no job ticket" in one_line_error(
        run("reprint", "edit one.tif", "--input", "edit one.tif", "-o", "3.tif", cwd=folder)
    )
    assert "--overwrite" in one_line_error(run(*reprint, "--paper", "moved.icc", cwd=folder))
    assert "is prepared already" in one_line_error(
        run("reprint", "1.tif", "--input", "2.tif", "-o", "3.tif", "--paper", "moved.icc", cwd=folder)
    )


def test_what_a_sheet_of_the_log_asks_for(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRINTPREP_LOG", str(folder / "log.sqlite3"))
    run("prepare", "edit one.tif", *WAYS[0], "-o", "1.tif", cwd=folder)
    run("log", "add", "1.tif", "--result", "too dark", cwd=folder)
    told = run("reprint", "--from-log", "1", cwd=folder)
    lines = told.stdout.splitlines()
    assert lines[:2] == ["sheet 1, edit one.tif on cotton-rag, hallway: too dark", "check first:"]
    assert "80 lx" in lines[2]
    at = lines.index("only if all that is in order: room-brightness.strength 0.75, it was 0.45")
    command = shlex.split(lines[at + 1])
    done = run(*command[1:], cwd=folder)
    assert done.returncode == 0, done.stderr
    assert "not all is as in" in done.stderr
    run("log", "add", "1.tif", "--result", "right", cwd=folder)
    assert "nothing to do" in run("reprint", "--from-log", "2", cwd=folder).stdout
    assert "is not in the log" in one_line_error(run("reprint", "--from-log", "3", cwd=folder))
    assert "stands alone" in one_line_error(run("reprint", "1.tif", "--from-log", "1", cwd=folder))
    assert "Missing --input EDIT.tif" in one_line_error(run("reprint", "1.tif", cwd=folder))
