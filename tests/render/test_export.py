"""Tables for other programs: what OpenColorIO and colour-science read of the files is what prepare makes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import PyOpenColorIO as Ocio
import pytest
import tifffile
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000

import printprep as pp
from printprep.colour.icc import lab_from_device
from printprep.errors import OutputError
from tests.support.pictures import beside, romm


@pytest.fixture(autouse=True)
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "tables"))


TETRAHEDRAL = Ocio.INTERP_TETRAHEDRAL


def read_by_opencolorio(file: Path, rgb: NDArray[np.float32], how: Any = TETRAHEDRAL) -> NDArray[np.float32]:
    reader = Ocio.Config.CreateRaw().getProcessor(Ocio.FileTransform(str(file), interpolation=how))
    values = np.ascontiguousarray(rgb, np.float32).reshape(1, -1, 3).copy()
    reader.getDefaultCPUProcessor().apply(Ocio.PackedImageDesc(values, values.shape[1], 1, 3))
    return values.reshape(rgb.shape)


def test_a_clf_gives_the_pixels_of_prepare(tmp_path: Path) -> None:
    """As a raw converter or a video program with OpenColorIO would apply it to the edit."""
    picture = romm(beside("blue")[0])
    pp.Photo.from_array(picture, "ROMM RGB").write(tmp_path / "edit.tif")
    pipe = pp.pipeline(paper="cotton-rag", room="hallway", settings={"gamut-fit.glow": 0})
    pp.prepare(tmp_path / "edit.tif", tmp_path / "out.tif", pipe)
    plan = pipe.suited(pp.read(tmp_path / "edit.tif")).plan("ROMM RGB")
    assert not plan.around
    done = plan.export(tmp_path / "wall.clf")
    assert (done.most_error, done.mean_error) == (0, 0)
    theirs = read_by_opencolorio(tmp_path / "wall.clf", (picture / 65535).astype(np.float32))
    ours = tifffile.imread(tmp_path / "out.tif").astype(int)
    assert np.abs(np.rint(theirs * 65535).astype(int) - ours).max() <= 1


@pytest.mark.parametrize("profile", ["sRGB", "ROMM RGB"])
def test_a_cube_is_as_near_as_it_says(tmp_path: Path, profile: str) -> None:
    colour = pytest.importorskip("colour")
    pipe = pp.pipeline(paper="cotton-rag", room="hallway")
    plan = pipe.plan(profile)
    file = tmp_path / "wall.cube"
    done = plan.export(file, pointwise=True)
    rgb = np.random.default_rng(0).random((4000, 3)).astype(np.float32)
    table = pipe.apply(rgb, profile)

    def apart(theirs: NDArray[Any]) -> NDArray[np.float64]:
        one, two = (lab_from_device(v, plan.chain.out_profile) for v in (np.clip(theirs, 0, 1), table))
        return np.asarray(deltaE_ciede2000(one, two))

    cube = colour.read_LUT(str(file))  # colour-science's own reader
    assert cube.size == 65 and "Cotton rag" in cube.name
    found = {
        "OpenColorIO, tetrahedral": apart(read_by_opencolorio(file, rgb)),
        "OpenColorIO, trilinear": apart(read_by_opencolorio(file, rgb, Ocio.INTERP_LINEAR)),
        "colour-science, trilinear": apart(cube.apply(rgb)),
        "colour-science, tetrahedral": apart(
            cube.apply(rgb, interpolator=colour.algebra.table_interpolation_tetrahedral)
        ),
    }
    for reader, error in found.items():
        assert error.max() <= done.most_error * 1.1 + 0.01, reader
        assert error.mean() <= done.mean_error * 1.1 + 0.01, reader
    assert max(error.max() for error in found.values()) > done.most_error / 4  # what is said is no mere upper bound
    text = file.read_text()
    assert f"# within {done.most_error:.2g} CIEDE2000 of the table" in text
    assert "# pointwise part only" in text and f"# input: RGB, 0 to 1, in the profile {profile}" in text
    assert json.loads(done.to_json())["most_error"] == done.most_error


def test_endings_choose_the_format(tmp_path: Path) -> None:
    plan = pp.pipeline(paper="gloss", settings={"gamut-fit.glow": 0}).plan("sRGB")
    with pytest.raises(OutputError, match=r"does not end in \.clf or \.cube"):
        plan.export(tmp_path / "wall.3dl")
    plan.export(tmp_path / "WALL.CUBE")
    with pytest.raises(OutputError, match="exists already"):
        plan.export(tmp_path / "WALL.CUBE")
    assert (tmp_path / "WALL.CUBE").read_text().count("\n") > 65**3
