"""prepare --size and what belongs to it, as a user types it."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

import printprep as pp
from tests.support.command import run
from tests.support.tiffs import picture


@pytest.fixture(scope="module")
def edit(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("edit") / "edit.tif"
    pp.Photo.from_array(picture(300, 200), "sRGB").write(path)
    return path


def test_a_sized_print_says_what_it_will_be(edit: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.tif"
    size = ["--size", "A6", "--margin", "1cm", "--keyline"]
    asked: list[str | Path] = ["prepare", edit, "-p", "gloss", *size, "-o", out]
    done = run(*asked, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "sheet: A6, 85 x 127 mm picture, 60 ppi from your pixels: pixels show" in done.stdout
    assert "60 of its pixels an inch are too few, they show" in done.stderr
    assert pp.read(out).resolution.ppi == 360
    again = run(*asked, "--skip-done", cwd=tmp_path)
    assert "done already" in again.stderr
    other = run("prepare", edit, "-p", "gloss", "--size", "A5", "--skip-done", "-o", out, cwd=tmp_path)
    assert other.returncode == 2 and "exists already" in other.stderr


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--size", "300x450"], "size = '300x450': has no unit; write 300x450mm or 300x450in"),
        (["--size", "A22"], "size = 'A22': must be a size such as A4, 8x10in or 300x450mm; did you mean A2?"),
        (["--size", "A6", "--margin", "60mm"], "--margin = 60.0: leaves no picture on a sheet of 105 x 148 mm"),
        (["--size", "A6", "--margin", "5"], "--margin = '5': has no unit; write 5mm or 5in"),
        (["--margin", "5mm"], "--margin = 5.0: needs a size; say how large the sheet is"),
        (["--size", "A6", "--ppi", "0"], "--ppi = 0.0: must be a number, 1 to 10000"),
        (["--size", "A6", "--anchor", "here"], "--anchor = 'here': must be centre, top"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(edit: Path, tmp_path: Path, options: list[str], said: str) -> None:
    done = run("prepare", edit, "-p", "gloss", *options, "-o", tmp_path / "x.tif", cwd=tmp_path)
    assert done.returncode == 2
    assert said in done.stderr and done.stderr.count("\n") == 1
    assert not (tmp_path / "x.tif").exists()


def test_the_ticket_tells_the_command_again(edit: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.tif"
    size = ["--size", "A6", "--margin", "12mm", "--fill", "--anchor", "top", "--keyline"]
    size += ["--caption", "{file} on {paper}"]
    assert run("prepare", edit, "-p", "gloss", *size, "-o", out, cwd=tmp_path).returncode == 0
    words = shlex.split(pp.read_ticket(out).command)
    assert words[:5] == ["printprep", "prepare", "edit.tif", "--paper", "gloss"]
    again = tmp_path / "again.tif"
    done = run(*words[1:], "-o", again, cwd=edit.parent)
    assert done.returncode == 0, done.stderr
    assert again.read_bytes() == out.read_bytes()
    repeated = run("reprint", out, "--input", edit, "-o", tmp_path / "re.tif", cwd=tmp_path)
    assert repeated.returncode == 0, repeated.stderr
    assert (tmp_path / "re.tif").read_bytes() == out.read_bytes()


@pytest.mark.parametrize("command", ["prepare", "strip", "report"])
def test_help_lists_the_sheet_apart(command: str, tmp_path: Path) -> None:
    first, _, second = run(command, "--help", cwd=tmp_path).stdout.partition("\nThe finished sheet:\n")
    assert "--paper" in first
    assert "--help" in first
    assert "--anchor" not in first
    assert second.startswith("  --size SIZE ")
    assert "--caption" in second


def test_an_option_wins_over_the_preset_also_where_it_asks_for_what_is_usual(edit: Path, tmp_path: Path) -> None:
    pipe = pp.pipeline(paper="gloss", sheet=pp.Sheet(size="A6", fill=True, orientation="portrait"))
    (tmp_path / "own.toml").write_text(pipe.to_toml())
    usual = ("--fit", "--orientation", "auto")
    done = run("prepare", edit, "--preset", "own.toml", *usual, "-o", tmp_path / "out.tif", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    sheet = pp.read_ticket(tmp_path / "out.tif").sheet
    assert (sheet["fill"], sheet["orientation"]) == (False, "auto")
