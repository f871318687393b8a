"""Many files in one run: through any executor, stopped at any time, with any file at fault."""

from __future__ import annotations

import hashlib
import multiprocessing
import threading
from collections.abc import Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from printprep.compose import Pipeline, pipeline
from printprep.errors import InputError, OutputError, OutsideError
from printprep.photo import Photo, read
from printprep.record.batch import Batch, Options, prepare_many
from printprep.record.job import Prepared, prepare
from tests.support.tiffs import picture, tiff


@pytest.fixture(autouse=True, scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PRINTPREP_CACHE", str(tmp_path_factory.mktemp("tables")))
        yield


@pytest.fixture(scope="module")
def pipe() -> Pipeline:
    return pipeline(paper="cotton-rag", room="hallway", settings={"gamut-fit.detail": 0})


@pytest.fixture
def edits(tmp_path: Path) -> list[Path]:
    return [tiff(tmp_path / f"{n}.tif", pixels=picture(60, 40, seed=k)) for k, n in enumerate("abcde")]


@pytest.fixture
def out(tmp_path: Path) -> Path:
    (tmp_path / "out").mkdir()
    return tmp_path / "out"


def digests(folder: Path) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(folder.iterdir())}


def mean_change(before: np.ndarray, after: np.ndarray, *_: object) -> float:
    """A judge that other processes can find."""
    return float(after.mean() - before.mean())


def test_every_executor_gives_the_same_bytes(edits: list[Path], pipe: Pipeline, tmp_path: Path) -> None:
    spawn = multiprocessing.get_context("spawn")
    pools: dict[str, Executor | None] = {
        "none": None, "threads": ThreadPoolExecutor(3), "processes": ProcessPoolExecutor(2, mp_context=spawn)
    }  # fmt: skip
    seen = {}
    for name, pool in pools.items():
        (tmp_path / name).mkdir()
        results = list(prepare_many(edits, tmp_path / name, pipe=pipe, executor=pool, judge=mean_change))
        assert sorted(r.input.name for r in results) == [p.name for p in edits]
        assert all(r.error is None and not r.skipped and r.pixels == 2400 for r in results)
        seen[name] = digests(tmp_path / name), sorted(r.found for r in results)
        assert all(r.before.size == 0 for r in results)  # judged, and let go
        if pool:
            pool.shutdown()
    assert seen["none"] == seen["threads"] == seen["processes"]
    alone = tmp_path / "alone.tif"
    prepare(edits[0], alone, pipe)
    assert hashlib.sha256(alone.read_bytes()).hexdigest() in seen["none"][0].values()


def test_samples_stay_with_results_in_this_process(edits: list[Path], pipe: Pipeline, out: Path) -> None:
    result = next(iter(prepare_many(edits[:1], out, pipe=pipe)))
    np.testing.assert_array_equal(result.before, read(edits[0]))
    assert result.output is not None
    np.testing.assert_array_equal(result.after, read(result.output))
    with ThreadPoolExecutor(1) as pool:
        away = list(prepare_many(edits[1:2], out, pipe=pipe, executor=pool))
    assert away[0].after.size == 0


def test_errors_are_values_and_the_rest_goes_on(edits: list[Path], pipe: Pipeline, out: Path) -> None:
    edits[1].write_bytes(b"no picture")
    results = {r.input.name: r for r in prepare_many([*edits, "none.tif"], out, pipe=pipe)}
    assert isinstance(results["b.tif"].error, InputError)
    assert isinstance(results["none.tif"].error, InputError)
    assert len(list(out.iterdir())) == 4
    again = {r.input.name: r for r in prepare_many(edits, out, pipe=pipe)}
    assert all(isinstance(again[n].error, OutputError) for n in ("a.tif", "c.tif"))


def test_what_nobody_foresaw_is_an_error_of_that_file(
    edits: list[Path], pipe: Pipeline, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from printprep.record import batch

    def fails(path: Path, *arguments: Any, **more: Any) -> Prepared:
        if path.name == "c.tif":
            raise ZeroDivisionError("never seen\nbefore")
        return prepare(path, *arguments, **more)

    monkeypatch.setattr(batch, "prepare", fails)
    for threads in (1, 2):
        results = {r.input.name: r for r in prepare_many(edits, out, pipe=pipe, threads=threads, overwrite=True)}
        error = results["c.tif"].error
        assert isinstance(error, OutsideError)
        assert str(error).endswith("was not finished (ZeroDivisionError: never seen); run again with skip_done=True")
        assert sum(r.error is None for r in results.values()) == 4
    with pytest.raises(ZeroDivisionError):  # alone, it is shown as it is
        list(prepare_many(edits[2:3], out, pipe=pipe))


def test_done_is_left_out_and_other_work_is_not(edits: list[Path], pipe: Pipeline, out: Path) -> None:
    list(prepare_many(edits[:2], out, pipe=pipe))
    before = digests(out)
    results = {r.input.name: r.skipped for r in prepare_many(edits, out, pipe=pipe, skip_done=True)}
    assert results == {"a.tif": True, "b.tif": True, "c.tif": False, "d.tif": False, "e.tif": False}
    assert digests(out) == before | digests(out)
    tiff(edits[0], pixels=picture(61, 40))  # the edit was cut anew since
    (result,) = prepare_many(edits[:1], out, pipe=pipe, skip_done=True)
    assert isinstance(result.error, OutputError)


def test_a_job_whose_worker_was_lost_is_done_again(edits: list[Path], pipe: Pipeline, out: Path) -> None:
    class Repeating(Executor):
        """Loses every first result, as a cluster does whose worker ends before it could answer."""

        def submit(self, work: Any, /, *arguments: Any, **more: Any) -> Future[Any]:
            work(*arguments, **more)
            future: Future[Any] = Future()
            future.set_result(work(*arguments, **more))
            return future

    results = list(prepare_many(edits, out, pipe=pipe, executor=Repeating()))
    assert [r.error for r in results] == [None] * 5
    assert len(list(out.iterdir())) == 5
    again = list(prepare_many(edits, out, pipe=pipe, executor=Repeating()))
    assert all(isinstance(r.error, OutputError) for r in again)  # these were there before the run


def test_a_broken_pool_names_every_file_it_lost(edits: list[Path], pipe: Pipeline, out: Path) -> None:
    class Broken(Executor):
        submitted = 0

        def submit(self, work: Any, /, *arguments: Any, **more: Any) -> Future[Any]:
            self.submitted += 1
            if self.submitted > 2:
                raise BrokenProcessPool("no more workers")
            future: Future[Any] = Future()
            future.set_exception(BrokenProcessPool("a worker ended"))
            return future

    results = list(prepare_many(edits, out, pipe=pipe, executor=Broken()))
    assert sorted(r.input.name for r in results) == [p.name for p in edits]
    assert all(isinstance(r.error, OutsideError) and r.error.way == "skip_done=True" for r in results)


def test_closing_stops_at_once_keeps_what_is_finished_and_counts_the_rest(
    tmp_path: Path, pipe: Pipeline, out: Path
) -> None:
    edits = [tmp_path / f"{k:02}.tif" for k in range(12)]
    for path in edits:
        Photo.from_array(picture(1500, 1000)).write(path)
    jobs = [(path, out / path.name) for path in edits]
    threads_before = threading.active_count()
    batch = Batch(jobs, pipe, Options(threads=2))
    first = next(iter(batch))
    batch.close()
    finished = sorted(p.name for p in out.iterdir())
    assert first.output is not None
    assert first.output.name in finished
    assert batch.remaining == len(jobs) - len(finished) > 0
    for name in finished:
        assert read(out / name).shape == (1500, 1000, 3)
        np.asarray(read(out / name))  # whole
    assert threading.active_count() == threads_before
    with Batch(jobs, pipe, Options(skip_done=True)) as rest:
        assert sum(r.skipped for r in rest) == len(finished)
        assert rest.remaining == 0


def test_progress_is_told_of_every_pixel(edits: list[Path], pipe: Pipeline, out: Path) -> None:
    told: list[tuple[int, int]] = []
    list(prepare_many(edits, out, pipe=pipe, progress=lambda *a: told.append(a)))
    assert sum(done for done, _ in told) == 5 * 2400
    assert [done for done, _ in told].count(0) == 5
    assert {total for _, total in told} == {2400}


def test_two_files_for_one_name_are_refused(edits: list[Path], pipe: Pipeline, out: Path) -> None:
    (out / "sub").mkdir()
    twin = tiff(out / "sub" / "a.tif")
    with pytest.raises(OutputError, match="would both be written there"):
        next(prepare_many([edits[0], twin], out, pipe=pipe))
    with pytest.raises(OutputError, match="no such folder"):
        next(prepare_many(edits, out / "none", pipe=pipe))


def test_only_so_many_jobs_are_handed_out_ahead(
    edits: list[Path], pipe: Pipeline, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from printprep.record import batch

    monkeypatch.setattr(batch, "_AHEAD", 2)
    most = 0

    class Counting(ThreadPoolExecutor):
        def submit(self, work: Any, /, *arguments: Any, **more: Any) -> Future[Any]:
            nonlocal most
            most = max(most, self._work_queue.qsize() + 1)
            return super().submit(work, *arguments, **more)

    with Counting(1) as pool:
        assert len(list(prepare_many(edits, out, pipe=pipe, executor=pool))) == 5
    assert most <= 2
