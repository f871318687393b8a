"""A copied or pickled photo reads its own file, unchanged, or refuses; never another's."""

from __future__ import annotations

import copy
import gc
import multiprocessing
import os
import pickle
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import pytest
import tifffile

from printprep.compose import pipeline
from printprep.errors import InputError, OutputError
from printprep.files import limits
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.pipe import Pipeline
from tests.support.tiffs import picture, profile_bytes, tiff

Copier = Callable[[Photo], Photo]


def pickled(photo: Photo) -> Photo:
    """There and back."""
    back = pickle.loads(pickle.dumps(photo))
    assert isinstance(back, Photo)
    return back


COPIERS = pytest.mark.parametrize("copier", [copy.copy, copy.deepcopy, pickled])


@pytest.fixture(autouse=True, scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PRINTPREP_CACHE", str(tmp_path_factory.mktemp("tables")))
        yield


def many_layouts(folder: Path) -> list[Path]:
    """Files whose pixels are read in every way there is: as they lie, decoded, by planes, turned."""
    paths = [
        tiff(folder / "plain.tif", pixels=picture(40, 30)),
        tiff(folder / "mirrored.tif", {274: (3, [2])}, pixels=picture(40, 30)),
        tiff(folder / "turned.tif", {274: (3, [6])}, pixels=picture(40, 30)),
    ]
    for compression in ("zlib", "lzw"):
        paths.append(folder / f"{compression}.tif")
        tifffile.imwrite(
            paths[-1], picture(40, 30), photometric="rgb", compression=compression, rowsperstrip=7,
            iccprofile=profile_bytes(),
        )  # fmt: skip
    paths.append(folder / "planes.tif")
    tifffile.imwrite(
        paths[-1], picture(40, 30).transpose(2, 0, 1), photometric="rgb", planarconfig="separate", compression="zlib",
        tile=(16, 16), iccprofile=profile_bytes(),
    )  # fmt: skip
    return paths


@COPIERS
def test_every_layout_reads_the_same(tmp_path: Path, copier: Copier) -> None:
    for path in many_layouts(tmp_path):
        photo = read(path)
        other = copier(photo)
        np.testing.assert_array_equal(other, photo, err_msg=path.name)
        np.testing.assert_array_equal(copier(other), photo, err_msg=path.name)  # of a copy that has been read


def test_one_large_piece_that_is_kept_on_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("CACHE_CEILING", "BAND_BYTES"):
        monkeypatch.setattr(limits, name, 1000)
    path = tmp_path / "a.tif"
    pixels = picture(200, 30)
    tifffile.imwrite(path, pixels, photometric="rgb", compression="zlib", iccprofile=profile_bytes())
    photo = read(path)
    for other in (pickled(photo), copy.deepcopy(photo), photo):
        np.testing.assert_array_equal(other.rows(150, 160), pixels[150:160])


@COPIERS
def test_dropping_a_copy_closes_nothing_that_is_not_its_own(tmp_path: Path, copier: Copier) -> None:
    ours, theirs = picture(20, 15, seed=1), picture(20, 15, seed=2)
    photo = read(tiff(tmp_path / "a.tif", pixels=ours))
    other = copier(photo)
    np.testing.assert_array_equal(other, ours)
    del other
    gc.collect()
    stranger = read(tiff(tmp_path / "b.tif", pixels=theirs))  # takes whatever number is free
    np.testing.assert_array_equal(photo, ours)
    np.testing.assert_array_equal(stranger, theirs)


@pytest.mark.parametrize("copier", [copy.deepcopy, pickled])
@pytest.mark.parametrize("change", ["pixels", "touched", "longer", "replaced", "gone"])
def test_a_file_that_changed_is_refused_in_one_line(tmp_path: Path, copier: Copier, change: str) -> None:
    path = tiff(tmp_path / "a.tif")
    photo, state = read(path), path.stat()
    other = copier(photo)
    data = path.read_bytes()
    if change == "pixels":
        with path.open("r+b") as file:
            file.seek(8)
            file.write(b"\1\2\3\4")
        os.utime(path, ns=(state.st_atime_ns, state.st_mtime_ns + 1))  # the least that can be told
    elif change == "touched":
        os.utime(path, ns=(state.st_atime_ns, state.st_mtime_ns + 1_000_000_000))
    elif change == "longer":
        path.write_bytes(data + b"\0\0")
        os.utime(path, ns=(state.st_atime_ns, state.st_mtime_ns))
    elif change == "replaced":  # same size, same time, another file
        (tmp_path / "new.tif").write_bytes(data)
        os.utime(tmp_path / "new.tif", ns=(state.st_atime_ns, state.st_mtime_ns))
        (tmp_path / "new.tif").rename(path)
    else:
        path.unlink()
    with pytest.raises(InputError, match="does not exist" if change == "gone" else "has changed since") as caught:
        np.asarray(other)
    assert "a.tif" in str(caught.value)
    assert str(caught.value).isprintable()


def test_the_file_is_found_from_another_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    tiff(tmp_path / "a.tif", pixels=picture(20, 15, seed=1))
    (tmp_path / "other").mkdir()
    tiff(tmp_path / "other" / "a.tif", pixels=picture(20, 15, seed=2))
    monkeypatch.chdir(tmp_path)
    photo = read("a.tif")
    data = pickle.dumps(photo)
    monkeypatch.chdir(tmp_path / "other")
    np.testing.assert_array_equal(pickle.loads(data), picture(20, 15, seed=1))
    with pytest.raises(OutputError, match="is the input itself"):  # and it still knows what it must never replace
        pickle.loads(data).write(tmp_path / "a.tif", overwrite=True)


PIPES: dict[str, Callable[[], Pipeline]] = {
    "pointwise": lambda: pipeline(paper="cotton-rag", room="hallway", settings={"gamut-fit.glow": 0}),
    "as shipped": lambda: pipeline(paper="cotton-rag", room="hallway"),
}


@pytest.mark.parametrize("name", PIPES)
@COPIERS
def test_a_prepared_photo_survives(tmp_path: Path, copier: Copier, name: str) -> None:
    path = tiff(tmp_path / "a.tif", pixels=picture(40, 30))
    ready = PIPES[name]()(read(path))
    early = copier(ready)
    wanted = np.asarray(ready)
    np.testing.assert_array_equal(early, wanted)
    np.testing.assert_array_equal(copier(ready), wanted)  # of one that has been computed
    ready.write(tmp_path / "one.tif")
    copier(ready).write(tmp_path / "two.tif")
    assert (tmp_path / "one.tif").read_bytes() == (tmp_path / "two.tif").read_bytes()


@pytest.mark.parametrize("start", ["spawn", "forkserver"])
def test_in_another_process(tmp_path: Path, start: str) -> None:
    paths = [tiff(tmp_path / f"{k}.tif", pixels=picture(20, 15, seed=k)) for k in range(3)]
    photos = [read(path) for path in paths]
    ready = PIPES["pointwise"]()(photos[0])
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context(start)) as pool:
        for k in (0, 1, 2, 1, 0):  # each copy is dropped before the next comes
            np.testing.assert_array_equal(pool.submit(np.asarray, photos[k]).result(), picture(20, 15, seed=k))
        np.testing.assert_array_equal(pool.submit(np.asarray, ready).result(), ready)
        tiff(paths[1], pixels=picture(20, 16))
        with pytest.raises(InputError, match=r"1\.tif': has changed since it was opened"):
            pool.submit(np.asarray, photos[1]).result()
        np.testing.assert_array_equal(pool.submit(np.asarray, photos[2]).result(), picture(20, 15, seed=2))
