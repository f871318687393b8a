"""What is kept between runs never changes a result: damaged, mixed up, read-only, or shared by runs at once."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import printprep as pp
from tests.support.command import run

ARGUMENTS = ("prepare", "edit.tif", "-p", "cotton-rag", "-r", "hallway", "--overwrite", "-o")


@pytest.fixture
def prepared(tmp_path: Path) -> bytes:
    """A file prepared with nothing kept; what it took is kept in ``kept`` now."""
    codes = np.random.default_rng(0).integers(0, 65536, (40, 60, 3)).astype(np.uint16)
    pp.Photo.from_array(codes, "sRGB").write(tmp_path / "edit.tif")
    return again(tmp_path)


def again(folder: Path) -> bytes:
    done = run(*ARGUMENTS, "out.tif", cwd=folder, PRINTPREP_CACHE=str(folder / "kept"))
    assert done.returncode == 0, done.stderr
    return (folder / "out.tif").read_bytes()


def flipped(files: list[Path]) -> None:
    for number, file in enumerate(files):
        data = bytearray(file.read_bytes())
        data[(16, len(data) // 2, len(data) - 1)[number % 3]] ^= 4
        file.write_bytes(data)


def cut(files: list[Path]) -> None:
    for number, file in enumerate(files):
        os.truncate(file, (0, 16, 5000)[number % 3])


def mixed_up(files: list[Path]) -> None:
    contents = [file.read_bytes() for file in files]
    for file, data in zip(files, [*contents[1:], contents[0]], strict=True):
        file.write_bytes(data)


def in_the_way(files: list[Path]) -> None:
    for file in files:
        file.unlink()
        file.mkdir()


@pytest.mark.parametrize("damage", [flipped, cut, mixed_up, in_the_way])
def test_what_is_kept_is_made_anew_where_it_is_damaged(
    prepared: bytes, tmp_path: Path, damage: Callable[[list[Path]], None]
) -> None:
    files = sorted((tmp_path / "kept").glob("*.arrays"))
    assert len(files) >= 3
    damage(files)
    assert again(tmp_path) == prepared


def test_runs_at_once_with_nothing_kept_yet_agree(prepared: bytes, tmp_path: Path) -> None:
    names = [f"out{n}.tif" for n in range(3)]
    running = [
        subprocess.Popen(
            [sys.executable, "-m", "printprep", *ARGUMENTS, name],
            cwd=tmp_path,
            env={**os.environ, "PRINTPREP_CACHE": str(tmp_path / "fresh")},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for name in names
    ]
    assert [process.wait(120) for process in running] == [0, 0, 0]
    assert {(tmp_path / name).read_bytes() for name in names} == {prepared}
