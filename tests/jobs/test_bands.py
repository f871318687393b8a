"""The bytes of a prepared file depend on neither threads nor bands, whatever its steps look at."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import skimage.data

from printprep.check.sampled import samples
from printprep.compose import pipeline
from printprep.conditions.sheet import Sheet
from printprep.jobs.prepare import prepare
from printprep.photo.bands import limit_threads, thread_count
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.photo.write import write
from printprep.render.sample import SamplePixels


@pytest.fixture(autouse=True, scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PRINTPREP_CACHE", str(tmp_path_factory.mktemp("tables")))
        yield


@pytest.fixture(scope="module")
def edit(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A real picture: scikit-image's bundled photograph of coffee, CC0."""
    path = tmp_path_factory.mktemp("edit") / "coffee.tif"
    Photo.from_array(skimage.data.coffee(), "opRGB").write(path, compress="lzw")
    return path


POINTWISE: Mapping[str, object] = {"gamut-fit.glow": 0}
AS_SHIPPED: Mapping[str, object] = {}


@pytest.mark.parametrize("settings", [POINTWISE, AS_SHIPPED])
@pytest.mark.parametrize("compress", ["none", "zstd"])
def test_same_bytes_for_any_bands_and_threads(
    tmp_path: Path, edit: Path, settings: Mapping[str, object], compress: str
) -> None:
    ready = pipeline(paper="gloss", room="evening-sitting-room", settings=settings)(read(edit))
    seen = set()
    for threads, band in ((1, 1), (1, 50_000), (2, 333_333), (5, 1 << 20), (2, 4 << 20), (1, 1 << 30)):
        out = tmp_path / f"{threads}-{band}.tif"
        write(ready, out, compress=compress, threads=threads, band_bytes=band)
        seen.add(hashlib.sha256(out.read_bytes()).hexdigest())
    assert len(seen) == 1


def test_a_sample_holds_what_was_read(edit: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("printprep.render.sample._SIDE", 50)
    photo = read(edit)
    sampled = SamplePixels(photo.pixels)
    whole = np.asarray(photo)
    for top in range(0, photo.height, 17):
        sampled.read(top, np.empty((min(17, photo.height - top), photo.width, 3), np.uint16))
    assert sampled.codes.shape == (50, 50, 3)
    rows = np.linspace(0, photo.height - 1, 50).round().astype(int)
    columns = np.linspace(0, photo.width - 1, 50).round().astype(int)
    assert np.array_equal(sampled.codes, whole[np.ix_(rows, columns)])


@pytest.mark.parametrize("sheet", [Sheet(), Sheet(size="A4", margin_mm=20, fill=True), Sheet(size="A5", margin_mm=9)])
def test_one_sample_is_judged_by_prepare_and_report_whatever_the_threads(
    tmp_path: Path, edit: Path, sheet: Sheet
) -> None:
    read(edit).write(tmp_path / "plain.tif", compress="none")  # whose rows are read ahead where there are threads
    pipe = replace(pipeline(paper="gloss", room="office"), sheet=sheet)
    (told,) = samples(read(edit), [pipe])
    for name, threads in (("plain.tif", 1), ("plain.tif", 4), (edit, 3)):
        out = tmp_path / f"{threads}.tif"
        done = prepare(
            tmp_path / name, out, pipe, threads=threads, overwrite=True, judge=lambda before, after, *_: (before, after)
        )
        assert done.unjudged == ""
        assert np.array_equal(done.found[0], told.before)
        assert np.array_equal(done.found[1], told.after)


def test_a_limit_on_threads_holds_where_none_are_asked_for() -> None:
    try:
        limit_threads(1)
        assert thread_count() == 1
        assert thread_count(3) == 3
    finally:
        limit_threads(None)
    assert thread_count() >= 1


def test_an_idle_pipeline_hands_over_the_very_pixels(tmp_path: Path, edit: Path) -> None:
    idle = {"shadow-lift.strength": 0, "room-brightness.strength": 0, "gamut-fit.strength": 0}
    done = prepare(edit, tmp_path / "out.tif", pipeline(paper="gloss", room="office", settings=idle))
    assert np.array_equal(np.asarray(read(tmp_path / "out.tif")), np.asarray(read(edit)))
    assert np.array_equal(done.before, done.after)
