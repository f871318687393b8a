"""Many files in one run: through any executor, stopped at any time, with any file at fault."""

from __future__ import annotations

import hashlib
import multiprocessing
import threading
import time
from collections.abc import Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from printprep.compose import pipeline
from printprep.errors import InputError, OutputError, OutsideError, ParameterError, PrintprepError, UnknownName
from printprep.jobs.one import Options
from printprep.jobs.prepare import Prepared, prepare
from printprep.jobs.prepare_many import Batch, prepare_many
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.pipe import Pipeline
from tests.support.tiffs import picture, tiff


@pytest.fixture(autouse=True, scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PRINTPREP_CACHE", str(tmp_path_factory.mktemp("tables")))
        yield


@pytest.fixture(scope="module")
def pipe() -> Pipeline:
    return pipeline(paper="cotton-rag", room="hallway", settings={"gamut-fit.glow": 0})


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
    from printprep.jobs import one as batch

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
    other = pipeline(paper="cotton-rag", room="hallway", settings={"gamut-fit.glow": 0, "shadow-lift.strength": 0.1})
    (result,) = prepare_many(edits[:1], out, pipe=other, skip_done=True)  # made another way
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
    told: list[tuple[Path, int, int]] = []
    list(prepare_many(edits, out, pipe=pipe, progress=lambda *a: told.append(a)))
    for path in edits:
        assert sum(done for file, done, _ in told if file == path) == 2400
        assert [done for file, done, _ in told if file == path].count(0) == 1
    assert {total for _, _, total in told} == {2400}


def test_two_files_for_one_name_are_refused(edits: list[Path], pipe: Pipeline, out: Path) -> None:
    (out / "sub").mkdir()
    twin = tiff(out / "sub" / "a.tif")
    with pytest.raises(OutputError, match="would both be written there"):
        prepare_many([edits[0], twin], out, pipe=pipe)


@pytest.mark.parametrize(
    ("wrong", "error", "words"),
    [
        ({"out_dir": "none"}, OutputError, "no such folder"),
        ({"out_dir": ""}, OutputError, "no such folder"),
        ({"out_dir": None}, ParameterError, "out_dir"),
        ({"paper": "cotton-rat"}, UnknownName, "did you mean cotton-rag"),
        ({"room": "lux=-4"}, ParameterError, "lux"),
        ({"paper": None}, PrintprepError, "no paper is named"),
        ({"paths": [3]}, ParameterError, "paths"),
        ({"executor": "two"}, ParameterError, "executor"),
        ({"compress": "jpeg"}, ParameterError, "compress"),
        ({"assume": "sBGR"}, UnknownName, "sRGB"),
        ({"name": lambda path: 3}, ParameterError, "name"),
        ({"name": lambda path: "same.tif"}, OutputError, "would both be written there"),
    ],
)
def test_what_will_not_do_is_refused_at_the_call(
    edits: list[Path], out: Path, wrong: dict[str, Any], error: type[Exception], words: str
) -> None:
    right: dict[str, Any] = {"paths": edits, "out_dir": out, "paper": "cotton-rag", "room": "hallway"}
    with pytest.raises(error, match=words):
        prepare_many(**(right | wrong))  # not iterated
    assert not list(out.iterdir())


def test_a_pipeline_and_a_paper_are_not_named_together(edits: list[Path], pipe: Pipeline, out: Path) -> None:
    with pytest.raises(ParameterError, match="has a paper and a room of its own"):
        prepare_many(edits, out, pipe=pipe, paper="gloss")
    with pytest.raises(ParameterError, match="has a paper and a room of its own"):
        prepare_many(edits, out, pipe=pipe, room="office")
    with pytest.raises(ParameterError, match="must be a Pipeline"):
        prepare_many(edits, out, pipe="cotton-rag")  # type: ignore[arg-type]


def broken_judge(*_: object) -> float:
    """A judge that other processes can find."""
    raise ZeroDivisionError("what is\nthis")


@pytest.mark.parametrize("number", [1, 5])
@pytest.mark.parametrize("where", ["here", "one thread", "processes"])
def test_a_judge_that_raises_takes_no_file_away(
    edits: list[Path], pipe: Pipeline, out: Path, number: int, where: str
) -> None:
    spawn = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(1, mp_context=spawn) if where == "processes" else None
    more: dict[str, Any] = {"threads": 1} if where == "one thread" else {}
    results = list(prepare_many(edits[:number], out, pipe=pipe, judge=broken_judge, executor=pool, **more))
    if pool:
        pool.shutdown()
    assert len(results) == number
    for result in results:
        assert result.error is None
        assert result.output is not None
        assert result.output.exists()
        assert (result.found, result.unjudged) == (None, "ZeroDivisionError: what is")


class Enough(Exception):
    """Not an error: a caller who changed their mind."""


@pytest.mark.parametrize("number", [1, 5])
@pytest.mark.parametrize("threads", [1, 2])
@pytest.mark.parametrize("raised", [Enough, KeyboardInterrupt, InputError])
@pytest.mark.parametrize("at", [0, 1])
def test_raising_in_progress_ends_the_run(
    edits: list[Path], pipe: Pipeline, out: Path, number: int, threads: int, raised: type[BaseException], at: int
) -> None:
    calls = 0

    def stop(path: Path, pixels: int, total: int) -> None:
        nonlocal calls
        calls += 1
        if bool(pixels) == bool(at):
            raise raised("enough")

    before = threading.active_count()
    with pytest.raises(raised, match="enough"):
        list(prepare_many(edits[:number], out, pipe=pipe, progress=stop, threads=threads))
    assert not list(out.iterdir())  # nothing was finished, nothing is torn
    assert calls <= 1 + at * 3
    assert threading.active_count() == before


def test_a_run_that_is_ended_keeps_what_is_finished(edits: list[Path], pipe: Pipeline, out: Path) -> None:
    def stop(path: Path, pixels: int, total: int) -> None:
        if path == edits[3]:
            raise Enough

    results: list[Prepared] = []
    with pytest.raises(Enough):
        results.extend(prepare_many(edits, out, pipe=pipe, progress=stop, threads=1))
    assert [r.input for r in results] == edits[:3]
    assert all(r.error is None for r in results)
    assert len(list(out.iterdir())) == 3


def test_progress_is_told_by_one_thread_at_a_time(edits: list[Path], pipe: Pipeline, out: Path) -> None:
    inside = threading.Lock()

    def told(path: Path, pixels: int, total: int) -> None:
        assert inside.acquire(blocking=False)
        time.sleep(0.005)
        inside.release()

    assert all(r.error is None for r in prepare_many(edits, out, pipe=pipe, progress=told))


def test_outputs_are_named_by_a_function(edits: list[Path], pipe: Pipeline, out: Path, tmp_path: Path) -> None:
    (out / "below").mkdir()
    elsewhere = tmp_path / "elsewhere.tif"
    names: dict[str, Any] = {"a.tif": "1.tif", "b.tif": Path("below") / "2.tif", "c.tif": elsewhere}
    results = list(prepare_many(edits[:3], out, pipe=pipe, name=lambda path: names[path.name]))
    assert sorted(str(r.output) for r in results) == sorted(map(str, [out / "1.tif", out / "below/2.tif", elsewhere]))
    assert all(r.output is not None and r.output.exists() for r in results)


def test_only_so_many_jobs_are_handed_out_ahead(
    edits: list[Path], pipe: Pipeline, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from printprep.jobs import prepare_many as batch

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


def test_what_is_no_pipeline_or_no_path_is_refused(edits: list[Path], out: Path) -> None:
    with pytest.raises(ParameterError, match="must be a Pipeline"):
        prepare(edits[0], out / "a.tif", "cotton-rag")  # type: ignore[arg-type]
    with pytest.raises(ParameterError, match="must be the path of a file"):
        read(5)  # type: ignore[arg-type]
