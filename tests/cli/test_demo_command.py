"""printprep demo, run as a command at a small size."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from printprep.demo.run import PAPERS, ROOMS
from printprep.photo.read import read
from printprep.ticket import read_ticket

SMALL = ("--megapixels", "0.05")
NAMES = {"lanterns.tif", "lanterns.png"} | {
    f"lanterns.{what}.{kind}"
    for what in ("strip", "a4", *(f"{p}.{r}" for p in PAPERS for r in ROOMS))
    for kind in ("tif", "png")
}


def command(*words: str) -> list[str]:
    return [sys.executable, "-m", "printprep.cli.main", "demo", *words]


def demo(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command(*words), cwd=cwd, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    place = tmp_path_factory.mktemp("demo")
    done = demo("shown", *SMALL, cwd=place)
    assert done.returncode == 0, done.stderr
    return place / "shown", done


def test_makes_what_it_says(made: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    folder, done = made
    assert {f.name for f in folder.iterdir()} == NAMES
    assert done.stderr.splitlines()[0] == "printprep: painting the scene"  # a line for each step, where no terminal is
    assert [f"printprep: preparing for {p}, {r}" for p in PAPERS for r in ROOMS] == done.stderr.splitlines()[1:-2]
    for name in NAMES:
        assert str(Path("shown") / name) in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 85


def test_the_files_are_real_jobs(made: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    folder, _ = made
    edit = np.asarray(read(folder / "lanterns.tif"))
    for paper in PAPERS:
        for room in ROOMS:
            file = folder / f"lanterns.{paper}.{room}.tif"
            ready = read(file)
            assert ready.profile.description == read(folder / "lanterns.tif").profile.description
            assert not np.array_equal(np.asarray(ready), edit)
            assert paper in read_ticket(file).to_json()


def test_the_pictures_open(made: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    folder, _ = made
    for name in NAMES:
        if name.endswith(".png"):
            with Image.open(folder / name) as png:
                png.load()
                assert png.mode == "RGB"
                assert np.asarray(png).std() > 5


def test_never_over_an_earlier_run_unless_told(made: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    folder, _ = made
    before = {f.name: f.stat().st_mtime_ns for f in folder.iterdir()}
    refused = demo("shown", *SMALL, cwd=folder.parent)
    assert refused.returncode == 2
    assert "--overwrite" in refused.stderr
    assert len(refused.stderr.splitlines()) == 1
    assert {f.name: f.stat().st_mtime_ns for f in folder.iterdir()} == before
    again = demo("shown", "--overwrite", *SMALL, cwd=folder.parent)
    assert again.returncode == 0
    assert {f.name for f in folder.iterdir()} == NAMES


def test_a_file_in_the_way_is_refused(tmp_path: Path) -> None:
    (tmp_path / "shown").write_text("not a folder")
    done = demo("shown", *SMALL, cwd=tmp_path)
    assert done.returncode == 2
    assert "not a folder" in done.stderr
    assert (tmp_path / "shown").read_text() == "not a folder"


def test_an_interrupted_run_leaves_nothing(tmp_path: Path) -> None:
    run = subprocess.Popen(command("shown", "--megapixels", "2"), cwd=tmp_path, stderr=subprocess.PIPE, text=True)
    waited = time.monotonic()
    while not (tmp_path / "shown" / "lanterns.tif").exists() and time.monotonic() - waited < 60:
        time.sleep(0.05)
    run.send_signal(signal.SIGINT)
    _, said = run.communicate(timeout=60)
    assert run.returncode == 130
    assert "interrupted" in said
    assert os.listdir(tmp_path) == []  # noqa: PTH208
