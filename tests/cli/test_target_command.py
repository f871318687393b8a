"""The target and screen commands, as run by a user."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.support.command import one_line_error, run


def test_target_writes_three_files(tmp_path: Path) -> None:
    done = run("target", "-o", "t.tif", "--sheet", "90x90", "--ppi", "150", "--paper", "smooth-matte", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("\n") == 3
    assert "90 × 90 mm at 150 ppi" in done.stdout
    made = sorted(p.name for p in tmp_path.iterdir() if not p.name.startswith(".config"))
    assert made == ["t.html", "t.tif", "t.txt"]
    assert "Smooth matte photo paper" in (tmp_path / "t.html").read_text("utf-8")
    again = run("target", "-o", "t.tif", "--sheet", "90x90", "--ppi", "150", cwd=tmp_path)
    assert "exists already" in one_line_error(again)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [(["-o", "t.png"], ".tif"), (["-o", "t.tif", "--sheet", "A9"], "must be one of A6"),
     (["-o", "t.tif", "--ppi", "5"], "pixels per inch"), (["-o", "t.tif", "--paper", "glos"], "did you mean gloss"),
     (["-o", "none/t.tif"], "folder does not exist"), ([], "-o")],
)  # fmt: skip
def test_target_refuses_in_one_line(tmp_path: Path, arguments: list[str], message: str) -> None:
    assert message in one_line_error(run("target", *arguments, cwd=tmp_path))
    assert not list(tmp_path.glob("t.*"))


def test_screen_says_what_and_writes_the_picture(tmp_path: Path) -> None:
    done = run("screen", "--paper", "cotton-rag", "--room", "lux=300", "-o", "s.png", "--size", "800x600", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("87 cd/m2")  # 300 lx * 0.9071 (L* 96.3) / pi
    assert "warning" not in done.stdout
    assert (tmp_path / "s.png").read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


def test_screen_warns_and_counts_metered_light(tmp_path: Path) -> None:
    """ISO 2720 with K = 12.5: f/4, 1/15 s, ISO 400 is 7.5 cd/m2 on the sheet metered."""
    done = run("screen", "-p", "gloss", "--metered", "f/4 1/15 ISO 400", "--json", cwd=tmp_path)
    found = json.loads(done.stdout)
    assert found["illuminance_lux"] == pytest.approx(27.7, abs=0.05)
    assert "darker" in found["warning"]
    assert len(found["advice"]) >= 1


@pytest.mark.parametrize(
    ("arguments", "message"),
    [([], "no paper is named"), (["-p", "gloss"], "no room is named"),
     (["-p", "gloss", "-r", "hallwy"], "did you mean hallway"),
     (["-p", "gloss", "-r", "hallway", "-o", "x.png", "--size", "big"], "WIDTHxHEIGHT"),
     (["-p", "gloss", "-r", "hallway", "-o", "x.jpg"], ".png")],
)  # fmt: skip
def test_screen_refuses_in_one_line(tmp_path: Path, arguments: list[str], message: str) -> None:
    assert message in one_line_error(run("screen", *arguments, cwd=tmp_path))
    assert not list(tmp_path.glob("x.*"))
