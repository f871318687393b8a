"""The paper and room commands, as run by a user."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.command import one_line_error, run


def test_a_paper_by_eye_is_a_paper_like_any_other(tmp_path: Path) -> None:
    done = run("paper", "new", "my-rag", "--seen", "first-dark=7 last-light=97 mid=48", "--like", "cotton-rag",
               cwd=tmp_path)  # fmt: skip
    assert done.returncode == 0, done.stderr
    file = tmp_path / ".config" / "printprep" / "presets" / "papers" / "my-rag.toml"
    assert done.stdout == f"{file}: paper my-rag\n"
    assert "next: printprep presets show my-rag" in done.stderr
    shown = run("presets", "show", "my-rag", cwd=tmp_path)
    assert "tone-calibration" in shown.stdout
    assert "first-dark=7" in shown.stdout
    again = run("paper", "new", "my-rag", "--seen", "mid=50", "--like", "cotton-rag", cwd=tmp_path)
    assert "exists already; choose another name, or allow replacing it with --overwrite" in one_line_error(again)
    assert "first_dark = 7" in file.read_text()


def test_says_whose_colours_and_warns_of_a_wrong_medium(tmp_path: Path) -> None:
    done = run("paper", "new", "mine", "--seen", "first-dark=15", cwd=tmp_path)
    assert "colours are those of smooth-matte" in done.stderr
    assert "black ink, media setting" in done.stderr


def test_a_room_keeps_its_reading(tmp_path: Path) -> None:
    done = run("room", "new", "stairs", "--metered", "f/4 1/15 ISO 400", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "27.7" in done.stdout
    assert "f/4 1/15 ISO 400" in run("presets", "show", "stairs", cwd=tmp_path).stdout


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["paper", "new", "x"], "nothing says what it is"),
        (["paper", "new", "x", "--seen", "brightness=3"], "unknown reading"),
        (["paper", "new", "x", "--seen", "first-dark=40"], "first-dark = 40"),
        (["paper", "new", "a/b", "--seen", "mid=50"], "name"),
        (["paper", "new", "gloss", "--seen", "mid=50"], "comes with printprep"),
        (["paper", "new", "x", "--seen", "mid=50", "--like", "cotton-rga"], "did you mean cotton-rag"),
        (["paper", "new", "x", "--seen", "mid=50", "--room", "hallwy"], "did you mean hallway"),
        (["paper", "new", "x", "--profile", "none.icc"], "none.icc"),
        (["room", "new", "x"], "nothing says how light"),
        (["room", "new", "x", "--lux", "bright"], "--lux"),
        (["room", "new", "x", "--metered", "f/4"], "no ISO"),
        (["presets", "show", "none.icc"], "none.icc"),
    ],
)
def test_refuses_in_one_line(tmp_path: Path, words: list[str], message: str) -> None:
    assert message in one_line_error(run(*words, cwd=tmp_path))
    assert not (tmp_path / ".config" / "printprep" / "presets").exists()


def test_presets_show_takes_any_path(tmp_path: Path) -> None:
    (tmp_path / "eight.csv").write_text(
        "white,96.3,.1,2.2\nblack,16,.5,1\ncyan,57.5,-33,-46\nmagenta,51,68,-8\nyellow,90,-2.5,90\nred,50.5,63,43\n"
        "green,54,-56,29.5\nblue,29,20,-48.5\n"
    )
    done = run("presets", "show", "eight.csv", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "1.68" in done.stdout  # ISO 5: density of L* 16
