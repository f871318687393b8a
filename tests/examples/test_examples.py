"""The examples do what they say, as a reader would run them."""

from __future__ import annotations

import asyncio
import io
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile

import printprep as pp
from tests.examples import numpy_function, service
from tests.support.pictures import beside, romm

HERE = Path(__file__).parent


@pytest.fixture
def edit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "tables"))
    pp.Photo.from_array(romm(beside("red")[0])[::2, ::2], "ROMM RGB", ppi=240).write(tmp_path / "edit.tif")
    return tmp_path / "edit.tif"


def python(*arguments: str | Path, cwd: Path, path: Path | None = None) -> str:
    paths = [str(p) for p in (path, HERE.parents[1]) if p]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(paths), "PRINTPREP_CACHE": str(cwd / "tables")}
    command = [sys.executable, "-W", "error::UserWarning", *map(str, arguments)]
    done = subprocess.run(command, cwd=cwd, env=environment, capture_output=True, text=True, check=False, timeout=240)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_a_script_with_scikit_image(edit: Path) -> None:
    said = python(HERE / "skimage_script.py", "edit.tif", "print.tif", cwd=edit.parent)
    assert said.startswith("'print.tif': ")
    made = pp.read(edit.parent / "print.tif")
    assert made.profile == pp.read(edit).profile and made.resolution.ppi == 240
    assert pp.read_ticket(edit.parent / "print.tif").paper["name"] == "cotton-rag"


def test_a_numpy_function(edit: Path) -> None:
    pictures = np.random.default_rng(0).integers(0, 256, (2, 20, 30, 3), dtype=np.uint8)
    dim, bright = (numpy_function.for_print(pictures, lux=lux) for lux in (40.0, 500.0))
    assert dim.shape == pictures.shape and dim.dtype == np.uint8
    assert dim.mean() > bright.mean() + 3  # common practice, no source: dim rooms want lighter prints
    assert np.array_equal(dim[1], numpy_function.for_print(pictures[1], lux=40.0))


def test_a_services_handler(edit: Path) -> None:
    async def several() -> list[dict[str, Any]]:
        uploads = [io.BytesIO(edit.read_bytes()) for _ in range(3)]
        good = [service.prepare(upload, "gloss", "office") for upload in uploads]
        bad = [
            service.prepare(io.BytesIO(b"no picture"), "gloss", "office"),
            service.prepare(uploads[0], "../../etc/passwd.icc", "office"),
        ]
        return list(await asyncio.gather(*good, *bad))

    *good, damaged, stranger = asyncio.run(several())
    pipe = pp.pipeline(paper="gloss", room="office")
    pipe(pp.read(edit)).write(edit.parent / "usual.tif")
    usual = tifffile.imread(edit.parent / "usual.tif")
    for answer in good:
        assert answer["status_code"] == 200
        assert np.array_equal(tifffile.imread(io.BytesIO(answer["content"])), usual)
        assert pp.read_ticket(io.BytesIO(answer["content"])).room["name"] == "office"
    for answer in (damaged, stranger):
        assert answer["status_code"] == 422
        assert json.loads(str(answer["content"]))["error"].isprintable()


def test_a_batch_on_a_local_cluster(edit: Path, tmp_path: Path) -> None:
    pytest.importorskip("distributed")
    edits, out = tmp_path / "edits", tmp_path / "out"
    edits.mkdir()
    out.mkdir()
    for n in range(3):
        (edits / f"{n}.tif").write_bytes(edit.read_bytes())
    (edits / "broken.tif").write_bytes(b"no picture")
    done = list(pp.prepare_many([edits / "0.tif"], out, paper="baryta", room="gallery"))
    assert done[0].error is None
    said = python(HERE / "dask_batch.py", edits, out, cwd=tmp_path).splitlines()
    assert len(said) == 4 and sum("180 x 120 pixels" in line for line in said) == 2
    assert sum("broken.tif" in line and "; " in line for line in said) == 1
    assert sum("was done already" in line for line in said) == 1
    assert len(list(out.glob("*.baryta.gallery.tif"))) == 3


def test_a_notebook(edit: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    nbformat, nbclient = pytest.importorskip("nbformat"), pytest.importorskip("nbclient")
    pytest.importorskip("ipykernel")
    monkeypatch.setenv("PYTHONPATH", str(HERE.parents[1]))
    monkeypatch.setenv("IPYTHONDIR", str(edit.parent / "ipython"))
    monkeypatch.setenv("PYDEVD_DISABLE_FILE_VALIDATION", "1")
    book = nbformat.read(HERE / "two_rooms.ipynb", as_version=4)
    place = {"metadata": {"path": edit.parent}}
    nbclient.NotebookClient(book, timeout=120, kernel_name="python3", resources=place).execute()
    cells = [cell for cell in book.cells if cell.cell_type == "code"]
    shown = [set().union(*(out.get("data", {}) for out in cell.outputs)) for cell in cells]
    assert "image/png" in shown[0] and "image/png" in shown[4]  # the photo, and the photo prepared
    assert "text/html" in shown[1]  # the pipeline's table
    values = eval(book.cells[5].outputs[0]["data"]["text/plain"])
    assert values["home"] > max(values["gentler"], values["office"])


def test_a_package_of_others(edit: Path, tmp_path: Path) -> None:
    pytest.importorskip("hatchling")
    site, source = tmp_path / "site", tmp_path / "studio"
    subprocess.run(["cp", "-r", HERE / "studio", source], check=True)
    python(
        "-m", "pip", "install", "-q", "--no-deps", "--no-build-isolation", "--no-index", "--disable-pip-version-check",
        "--target", site, source, cwd=tmp_path,
    )  # fmt: skip
    command = ("-m", "printprep", "prepare", edit, "--paper", "studio-rag", "--room", "studio-wall", "-o", "print.tif")
    python(*command, cwd=tmp_path, path=site)
    ticket = pp.read_ticket(tmp_path / "print.tif")
    assert (ticket.paper["name"], ticket.room["illuminance_lux"]) == ("studio-rag", 120)
    assert {"warm-highlights", "shadow-lift", "room-brightness"} <= {step["step"] for step in ticket.steps}
    script = (
        "import printprep as pp; from printprep.testing import check_adjustment; from studio_prints import *\n"
        "check_adjustment(WarmHighlights())\n"
        "print(sorted(p.name for p in pp.presets() if p.owner == 'studio-prints'))"
    )
    assert python("-c", script, cwd=tmp_path, path=site).strip() == "['studio-rag', 'studio-wall']"
