"""The strip and pick commands, as run by a user."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile

import printprep as pp
from tests.jobs.test_strips import picture
from tests.support.command import one_line_error, run


@pytest.fixture
def edit(tmp_path: Path) -> Path:
    pp.Photo.from_array(picture(300, 420), "opRGB").write(tmp_path / "edit.tif")
    return tmp_path / "edit.tif"


def test_from_strip_to_print(edit: Path, tmp_path: Path) -> None:
    asked = ["--paper", "cotton-rag", "--room", "hallway", "--size", "A5", "--ppi", "120"]
    done = run("strip", "edit.tif", *asked, "--vary", "shadow-lift.worth=0..1/3", "--parts", "1", "-o", "s.tif",
               cwd=tmp_path)  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "3 crops" in done.stdout
    assert "A1 to A3" in done.stdout
    assert "printprep pick s.tif A3 --save NAME" in done.stderr
    kept = run("pick", "s.tif", "a2", "--save", "wall", "--refine", cwd=tmp_path)
    assert kept.returncode == 0, kept.stderr
    assert "wall.toml: A2, shadow-lift.worth 0.5" in kept.stdout
    assert "next: printprep prepare edit.tif --preset wall\n" in kept.stderr
    assert run("prepare", "edit.tif", "--preset", "wall", cwd=tmp_path).returncode == 0
    assert (tmp_path / "edit.wall.tif").exists()  # paper and room have one name, which is said once
    assert (tmp_path / "s-A2.tif").exists()
    worth = ["--set", "shadow-lift.worth=0.5"]
    pictures = []
    for number, words in enumerate((
        ["--preset", "wall"], [*asked, *worth],
        ["--preset", "wall", "--size", "A6", "--margin", "12mm"],
        [*asked[:4], "--size", "A6", "--margin", "12mm", "--ppi", "120", *worth],
    )):  # fmt: skip
        assert run("prepare", "edit.tif", *words, "-o", f"{number}.tif", cwd=tmp_path).returncode == 0
        pictures.append(np.asarray(tifffile.imread(tmp_path / f"{number}.tif")))
    assert np.array_equal(pictures[0], pictures[1])  # the preset is the whole job, its size too
    assert np.array_equal(pictures[2], pictures[3])  # what is typed is laid over it
    assert pictures[0].shape != pictures[2].shape


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["strip", "edit.tif", "--paper", "gloss", "--vary", "strength=1..1/3", "-o", "s.tif"], "empty range"),
        (["strip", "edit.tif", "--paper", "gloss", "-o", "s.tif"], "--vary"),
        (["strip", "edit.tif", "--vary", "strength=0..1/3", "-o", "s.tif"], "no paper is named"),
        (["strip", "edit.tif", "-p", "gloss", "--vary", "strength=0..1/3", "--crop", "1,2", "-o", "s.tif"], "--crop"),
        (["strip", "edit.tif", "-p", "gloss", "--vary", "strength=0..1/3", "--crop", "900,0,9,9", "-o", "s.tif"],
         "within the picture"),
        (["strip", "edit.tif", "-p", "gloss", "--vary", "strength=0..1/9", "--parts", "9", "--sheet", "A6", "-o",
          "s.tif"], "do not fit on A6"),
        (["strip", "none.tif", "-p", "gloss", "--vary", "strength=0..1/3", "-o", "s.tif"], "none.tif"),
        (["pick", "edit.tif", "A1", "--save", "x"], "is no test strip"),
        (["pick", "edit.tif", "A1"], "add --save NAME"),
    ],
)  # fmt: skip
def test_refuses_in_one_line(edit: Path, tmp_path: Path, words: list[str], message: str) -> None:
    assert message in one_line_error(run(*words, cwd=tmp_path))
    assert not (tmp_path / "s.tif").exists()
