"""The same input gives the same bytes, whatever the process, its surroundings and what it finds kept; and nearly the
same pixels on a processor that can do less."""

from __future__ import annotations

import hashlib
import multiprocessing
import os
import shutil
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import pytest
import skimage.data
import tifffile

from printprep.compose import pipeline
from printprep.jobs.prepare_many import prepare_many
from printprep.photo.photo import Photo

WHERE = ("--paper", "cotton-rag", "--room", "evening-sitting-room")


@pytest.fixture(scope="module")
def edit(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """scikit-image's photograph of coffee (CC0), colours strengthened: much to do for steps that look around."""
    rgb = skimage.data.coffee().astype(np.float64)
    strong = np.clip(rgb.mean(-1, keepdims=True) + 1.6 * (rgb - rgb.mean(-1, keepdims=True)), 0, 255)
    path = tmp_path_factory.mktemp("edit") / "coffee.tif"
    Photo.from_array((strong * 257).astype(np.uint16), "opRGB").write(path)
    return path


def prepared(edit: Path, out: Path, cache: Path | None, *more: str, **env: str) -> str:
    """The digest of what a new process makes of an edit."""
    own = {k: v for k, v in os.environ.items() if not k.startswith(("LC_", "LANG", "PYTHONHASHSEED"))}
    own["PRINTPREP_CACHE"] = str(cache) if cache else "/dev/null/none"
    result = subprocess.run(
        [sys.executable, "-m", "printprep", "prepare", edit, *WHERE, "-o", out, *more],
        capture_output=True, text=True, env=own | env, check=False,
    )  # fmt: skip
    assert result.returncode == 0, result.stderr
    return hashlib.sha256(out.read_bytes()).hexdigest()


def test_surroundings_change_nothing(tmp_path: Path, edit: Path) -> None:
    cache = tmp_path / "tables"
    other = tmp_path / "é elsewhere" / edit.name
    other.parent.mkdir()
    shutil.copyfile(edit, other)
    seen = {
        "nothing kept": prepared(edit, tmp_path / "0.tif", cache, PYTHONHASHSEED="1"),
        "table kept": prepared(edit, tmp_path / "1.tif", cache, PYTHONHASHSEED="2"),
        "cannot be kept": prepared(edit, tmp_path / "2.tif", None, "--threads", "1", PYTHONHASHSEED="3"),
        "threads of libraries": prepared(
            edit, tmp_path / "3.tif", tmp_path / "more", "--threads", "7",
            OPENBLAS_NUM_THREADS="4", OMP_NUM_THREADS="3", LC_ALL="C", TZ="Asia/Kathmandu",
        ),
        "another name": prepared(other, other.with_name("out.tif"), cache, LC_ALL="C.UTF-8", PYTHONOPTIMIZE="1"),
    }  # fmt: skip
    assert set(seen.values()) == {seen["nothing kept"]}, seen


def test_processes_give_the_bytes_that_this_one_does(
    tmp_path: Path, edit: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "tables"))
    pipe = pipeline(paper="cotton-rag", room="evening-sitting-room")
    seen = set()
    for name, method in (("here", None), ("spawn", "spawn"), ("forkserver", "forkserver")):
        (out := tmp_path / name).mkdir()
        context = multiprocessing.get_context(method) if method else None
        pool = ProcessPoolExecutor(1, mp_context=context) if context else None
        (result,) = prepare_many([edit], out, pipe=pipe, executor=pool)
        if pool:
            pool.shutdown()
        assert result.error is None and result.output is not None
        seen.add(hashlib.sha256(result.output.read_bytes()).hexdigest())
    assert len(seen) == 1


def test_without_wide_instructions_pixels_are_the_same_within_a_code(tmp_path: Path, edit: Path) -> None:
    """numpy told to leave out what this processor has beyond its baseline, tables compiled that way too."""
    found = np.show_config(mode="dicts")["SIMD Extensions"].get("found", [])
    if not found:
        pytest.skip("numpy finds nothing here beyond its baseline")
    off = {"NPY_DISABLE_CPU_FEATURES": " ".join(found)}
    check = "import numpy; print(numpy.show_config(mode='dicts')['SIMD Extensions'].get('found', []))"
    left = subprocess.run(
        [sys.executable, "-c", check], env=os.environ | off, capture_output=True, text=True, check=True
    )
    assert left.stdout.strip() == "[]"
    prepared(edit, tmp_path / "wide.tif", tmp_path / "wide")
    prepared(edit, tmp_path / "plain.tif", tmp_path / "plain", **off)
    wide, plain = (tifffile.imread(tmp_path / f"{name}.tif").astype(int) for name in ("wide", "plain"))
    assert (wide != tifffile.imread(edit)).mean() > 0.9
    assert np.abs(wide - plain).max() <= 1
