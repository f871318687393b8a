"""The recipes for arrays of other libraries give what the whole picture as one NumPy array gives."""

from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

import dask.array as da
import numpy as np
import pytest
from numpy.typing import NDArray

import printprep as pp
from tests.examples import dask_tiles, xarray_pictures
from tests.support.pictures import beside, romm


@pytest.fixture(autouse=True)
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "tables"))


@dataclass(frozen=True)
class Soften(pp.Adjustment):
    """Each pixel becomes the mean of five in a row."""

    stage: ClassVar[pp.Stage] = pp.Stage.DETAIL

    def reach(self, on: pp.Conditions) -> int:
        return 2

    def __call__(self, lab: NDArray[np.float32], on: pp.Conditions) -> NDArray[np.float32]:
        wide = np.pad(lab, ((0, 0), (2, 2), (0, 0)), "edge")
        return np.asarray(sum(wide[:, k : k + lab.shape[1]] for k in range(5)) / np.float32(5), np.float32)


@pytest.mark.parametrize("chunks", [(64, 80), (63, 79), (240, 360)])
def test_dask_tiles(chunks: tuple[int, int]) -> None:
    picture = romm(beside("blue")[0])
    pipe = pp.pipeline(paper="cotton-rag", room="evening-sitting-room")
    whole = pipe.apply(picture, "ROMM RGB")
    tiled = dask_tiles.prepare(da.from_array(picture, chunks=(*chunks, 3)), pipe, "ROMM RGB").compute()
    assert np.array_equal(tiled, whole)


def test_dask_tiles_of_a_step_that_looks_around() -> None:
    picture = romm(beside("blue")[0])[:90, :140]
    pipe = pp.pipeline(paper="cotton-rag", room="evening-sitting-room") + Soften()
    assert pipe.reach("ROMM RGB") == 2
    whole = pipe.apply(picture, "ROMM RGB").astype(int)
    tiled = dask_tiles.prepare(da.from_array(picture, chunks=(31, 47, 3)), pipe, "ROMM RGB").compute()
    assert np.abs(tiled - whole).max() <= 1


def test_xarray() -> None:
    pictures = xarray_pictures.example()
    pipe = pp.pipeline(paper="cotton-rag", room="hallway")
    done = xarray_pictures.prepare(pictures, pipe)
    assert (done.dims, done.dtype, done.attrs) == (pictures.dims, np.float32, {"by": "me"})
    for scene in ("a", "b"):
        alone = pipe.apply(np.moveaxis(pictures.sel(scene=scene).values, 0, -1), "sRGB")
        assert np.array_equal(np.moveaxis(done.sel(scene=scene).values, 0, -1), alone)
