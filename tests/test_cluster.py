"""A batch on a real scheduler and two worker processes, on the loopback address."""

from __future__ import annotations

import hashlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from printprep.compose import pipeline
from printprep.errors import InputError
from printprep.jobs.cluster import cluster
from printprep.jobs.prepare_many import prepare_many
from printprep.photo.photo import Photo
from printprep.photo.read import read
from tests.support.command import one_line_error, run

pytest.importorskip("distributed")

FILES = 12


class Cluster:
    """A scheduler and its workers."""

    def __init__(self, folder: Path) -> None:
        self.file, self.processes = folder / "scheduler.json", list[subprocess.Popen[bytes]]()
        self.environment = {
            **os.environ, "PRINTPREP_CACHE": str(folder / "tables"), "DASK_DISTRIBUTED__WORKER__DAEMON": "False",
        }  # fmt: skip
        self._folder = folder
        self.start("dask_scheduler", "--port", "0", "--host", "127.0.0.1", "--no-dashboard", "--no-show")
        self.workers = [self.worker(n) for n in "ab"]
        deadline = time.monotonic() + 60
        while not self.file.exists():
            assert time.monotonic() < deadline, "no scheduler"
            time.sleep(0.05)
        self.address: str = json.loads(self.file.read_text())["address"]

    def start(self, module: str, *arguments: str) -> subprocess.Popen[bytes]:
        """Start one process of the cluster."""
        with (self._folder / f"{module}.log").open("ab") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", f"distributed.cli.{module}", "--scheduler-file", str(self.file), *arguments],
                env=self.environment, stdout=log, stderr=log, cwd=self._folder,
            )  # fmt: skip
        self.processes.append(process)
        return process

    def worker(self, name: str) -> subprocess.Popen[bytes]:
        """Start a worker in one process, without a nanny that would start it again."""
        return self.start(
            "dask_worker", "--name", name, "--nthreads", "1", "--no-nanny", "--no-dashboard",
            "--host", "127.0.0.1", "--local-directory", str(self._folder / name),
        )  # fmt: skip

    def close(self) -> None:
        """End all of them."""
        for process in self.processes:
            process.kill()
            process.wait()


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    started = Cluster(tmp_path_factory.mktemp("cluster"))
    yield started
    started.close()


@pytest.fixture(scope="module")
def edits(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder, rng = tmp_path_factory.mktemp("edits"), np.random.default_rng(3)
    paths = [folder / f"{k:02}.tif" for k in range(FILES)]
    for path in paths:  # noise is slow to compress: time to be killed in
        Photo.from_array(rng.integers(0, 65536, (700, 900, 3)).astype(np.uint16)).write(path, compress="deflate")
    return paths


def digests(folder: Path) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(folder.iterdir())}


def test_the_command_runs_on_a_cluster(tmp_path: Path, running: Cluster, edits: list[Path]) -> None:
    (tmp_path / "out").mkdir()
    where = ("--paper", "gloss", "--room", "office", "-o", "out", "--cluster", running.address)
    done = run("prepare", *edits[:3], "none.tif", *where, cwd=tmp_path)
    assert done.returncode == 2, done.stderr
    assert done.stdout.count("still loses") == 3
    assert "none.tif" in done.stderr
    assert "distributed" not in done.stderr
    assert len(list((tmp_path / "out").iterdir())) == 3
    again = run("prepare", *edits[:3], *where, "--skip-done", cwd=tmp_path)
    assert (again.returncode, again.stderr.count("done already")) == (0, 3)
    assert read(next((tmp_path / "out").iterdir())).shape == (700, 900, 3)


def test_a_worker_killed_in_the_middle_loses_no_file_and_leaves_nothing_torn(
    tmp_path: Path, running: Cluster, edits: list[Path]
) -> None:
    (out := tmp_path / "out").mkdir()
    (here := tmp_path / "here").mkdir()
    pipe = pipeline(paper="cotton-rag", room="hallway", settings={"gamut-fit.glow": 0})
    victim = running.workers[0]
    results = []
    with cluster(running.address) as executor:
        for result in prepare_many(edits, out, pipe=pipe, executor=executor):
            results.append(result)
            if victim.poll() is None:  # kill it as it writes: its temporary file is there
                deadline = time.monotonic() + 30
                while time.monotonic() < deadline and not any(p.name[0] == "." for p in out.iterdir()):
                    time.sleep(0.001)
                os.kill(victim.pid, signal.SIGKILL)
                victim.wait()
    assert sorted(r.input.name for r in results) == [p.name for p in edits]
    assert [str(r.error) for r in results if r.error] == []
    list(prepare_many(edits, here, pipe=pipe))
    assert digests(out) == digests(here)


def test_photos_are_read_by_the_workers_from_their_own_files(tmp_path: Path, running: Cluster) -> None:
    from distributed import Client

    codes = [np.full((40, 30, 3), value, np.uint16) for value in (10_000, 60_000)]
    photos = []
    for k, array in enumerate(codes):
        Photo.from_array(array).write(tmp_path / f"{k}.tif")
        photos.append(read(tmp_path / f"{k}.tif"))
    pipe = pipeline(paper="cotton-rag", room="hallway", settings={"gamut-fit.glow": 0})
    with Client(running.address, set_as_default=False) as client:
        for k in (0, 1, 0, 1):
            np.testing.assert_array_equal(client.submit(np.asarray, photos[k]).result(), codes[k])
        ready = pipe(photos[0])
        np.testing.assert_array_equal(client.submit(np.asarray, ready, pure=False).result(), ready)
        Photo.from_array(codes[0][:20]).write(tmp_path / "1.tif", overwrite=True)
        with pytest.raises(InputError, match="has changed since it was opened"):
            client.submit(np.asarray, photos[1], pure=False).result()


def test_an_address_that_will_not_do_is_one_line(tmp_path: Path, edits: list[Path]) -> None:
    where = ("prepare", edits[0], "--paper", "gloss", "-o", "b.tif", "--cluster")
    assert "no scheduler answers" in one_line_error(run(*where, "tcp://127.0.0.1:9", cwd=tmp_path), 1)
    assert "is no address" in one_line_error(run(*where, "rubbish://x", cwd=tmp_path))
    assert "is no address" in one_line_error(run(*where, "", cwd=tmp_path))
