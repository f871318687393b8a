"""Many files from the command line: progress on a terminal, interrupts, and how many threads."""

from __future__ import annotations

import hashlib
import os
import pty
import re
import resource
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import tifffile

from printprep.colour.profile import Profile
from tests.support.command import run

ROOM = ("--paper", "cotton-rag", "--room", "hallway", "--set", "gamut-fit.glow=0")
COMMAND = [sys.executable, "-m", "printprep.cli.main", "prepare"]
PROCESSES = "8"
"""Threads with which a batch of four files or more is done by processes, on Linux."""


@pytest.fixture(scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("tables")


@pytest.fixture
def environment(tables: Path, tmp_path: Path) -> dict[str, str]:
    return {**os.environ, "PRINTPREP_CACHE": str(tables), "XDG_CONFIG_HOME": str(tmp_path / ".config")}


@pytest.fixture
def edits(tmp_path: Path) -> list[Path]:
    """Files of 1.5 megapixels; noise, stored with deflate, which takes its time."""
    codes = np.random.default_rng(1).integers(0, 65536, (1000, 1500, 3)).astype(np.uint16)
    first = tmp_path / "00.tif"
    tifffile.imwrite(
        first, codes, photometric="rgb", compression="zlib", rowsperstrip=16, iccprofile=Profile.named("opRGB").data
    )
    paths = [tmp_path / f"{k:02}.tif" for k in range(8)]
    for path in paths[1:]:
        path.hardlink_to(first)
    (tmp_path / "out").mkdir()
    return paths


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize(("times", "threads", "files"), [(1, "2", 3), (5, "2", 3), (1, "2", 8), (5, PROCESSES, 8)])
@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_an_interrupt_keeps_what_is_finished_and_the_next_run_goes_on(
    tmp_path: Path, edits: list[Path], environment: dict[str, str], number: int, status: int, times: int, threads: str,
    files: int,
) -> None:  # fmt: skip
    out, edits = tmp_path / "out", edits[:files]
    process = subprocess.Popen(
        [*COMMAND, *edits, *ROOM, "-o", "out", "--threads", threads], cwd=tmp_path, env=environment, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True,
    )  # fmt: skip
    deadline = time.monotonic() + 90
    while not any(p.suffix == ".tif" for p in out.iterdir()) and time.monotonic() < deadline:
        time.sleep(0.005)
    for _ in range(times):  # by someone impatient; a terminal tells all processes
        os.killpg(process.pid, number) if number == signal.SIGINT else process.send_signal(number)
        time.sleep(0.003)
    sent = time.monotonic()
    _, errors = process.communicate(timeout=60)
    assert time.monotonic() - sent < 10  # at once, but for a slow machine
    assert process.returncode == status, errors
    finished = sorted(out.iterdir())
    assert 1 <= len(finished) < len(edits)
    assert all(p.suffix == ".tif" and p.name[0] != "." for p in finished)
    assert f"{len(edits) - len(finished)} of {len(edits)} files remain; run again with --skip-done" in errors
    assert "Traceback" not in errors
    before = {p: (digest(p), p.stat().st_mtime_ns) for p in finished}
    where = environment["PRINTPREP_CACHE"]
    again = run("prepare", *edits, *ROOM, "-o", "out", "--skip-done", cwd=tmp_path, PRINTPREP_CACHE=where)
    assert again.returncode == 0, again.stderr
    assert again.stderr.count("done already") == len(finished)
    assert {p: (digest(p), p.stat().st_mtime_ns) for p in finished} == before
    assert len({tifffile.imread(p).tobytes() for p in out.iterdir()}) == 1
    assert len(list(out.iterdir())) == len(edits)


@pytest.mark.skipif(sys.platform != "linux", reason="several processes do a batch on Linux alone")
def test_workers_do_not_outlive_a_command_that_is_killed(
    tmp_path: Path, edits: list[Path], environment: dict[str, str]
) -> None:
    process = subprocess.Popen(
        [*COMMAND, *edits, *ROOM, "-o", "out", "--threads", PROCESSES], cwd=tmp_path, env=environment,
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
    )  # fmt: skip
    deadline = time.monotonic() + 90
    while not list((tmp_path / "out").iterdir()) and time.monotonic() < deadline:
        time.sleep(0.005)
    assert len(_of_session(process.pid)) > 2
    process.kill()
    process.wait()
    while _of_session(process.pid) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert _of_session(process.pid) == []
    where = environment["PRINTPREP_CACHE"]
    again = run("prepare", *edits, *ROOM, "-o", "out", "--skip-done", cwd=tmp_path, PRINTPREP_CACHE=where)
    assert again.returncode == 0, again.stderr
    assert len({tifffile.imread(p).tobytes() for p in (tmp_path / "out").iterdir()}) == 1


def _of_session(leader: int) -> list[str]:
    """Processes of a session that still run."""
    states = [
        path.read_text().rpartition(")")[2].split() for path in Path("/proc").glob("[0-9]*/stat") if path.exists()
    ]
    return [state[0] for state in states if int(state[3]) == leader and state[0] != "Z"]


@pytest.mark.skipif(sys.platform != "linux", reason="several processes do a batch on Linux alone")
def test_processes_make_the_bytes_of_one_thread(tmp_path: Path, edits: list[Path], environment: dict[str, str]) -> None:
    where = environment["PRINTPREP_CACHE"]
    for folder, threads in (("one", "1"), ("many", PROCESSES)):
        (tmp_path / folder).mkdir()
        done = run(
            "prepare",
            *edits[:4],
            tmp_path / "none.tif",
            *ROOM,
            "-o",
            folder,
            "--threads",
            threads,
            cwd=tmp_path,
            PRINTPREP_CACHE=where,
        )
        assert done.returncode == 2
        assert done.stdout.count("still loses") == 4
        assert "none.tif': does not exist" in done.stderr
    assert {digest(p) for p in (tmp_path / "one").iterdir()} == {digest(p) for p in (tmp_path / "many").iterdir()}


def on_a_terminal(command: list[str], cwd: Path, environment: dict[str, str]) -> tuple[int, str, str]:
    """Run with stderr on a terminal; exit status, stdout, and what the terminal got."""
    controller, terminal = pty.openpty()
    process = subprocess.Popen(
        command, cwd=cwd, env=environment, stdout=subprocess.PIPE, stderr=terminal, stdin=terminal, text=True
    )
    os.close(terminal)
    shown = b""
    while True:
        ready, _, _ = select.select([controller], [], [], 60)
        try:
            part = os.read(controller, 65536) if ready else b""
        except OSError:  # the other end is closed
            part = b""
        if not part:
            break
        shown += part
    os.close(controller)
    output, _ = process.communicate(timeout=60)
    return process.returncode, output, shown.decode()


def test_progress_is_shown_on_a_terminal(tmp_path: Path, edits: list[Path], environment: dict[str, str]) -> None:
    command = [*COMMAND, *map(str, edits), *ROOM, "-o", "out", "--threads", "1"]
    status, output, shown = on_a_terminal(command, tmp_path, environment)
    assert status == 0
    assert output.count("still loses") == len(edits)
    lines = re.findall(r"\r\x1b\[K([^\r\x1b]+)", shown)
    progress = [line for line in lines if "megapixels" in line]
    assert progress
    assert re.fullmatch(r"\d of 8 files, \d+ of 12 megapixels(, \d+ megapixels/s, \d+ (s|min) left)?", progress[-1])
    assert any("left" in line for line in progress)
    done = [int(line.split(" of 12")[0].split(", ")[1]) for line in progress]
    assert done == sorted(done)
    assert shown.rstrip().endswith("before it is judged")  # nothing of the line stays


def test_no_progress_elsewhere(tmp_path: Path, edits: list[Path], environment: dict[str, str]) -> None:
    where = environment["PRINTPREP_CACHE"]
    result = run("prepare", *edits[:3], *ROOM, "-o", "out", cwd=tmp_path, PRINTPREP_CACHE=where)
    assert result.returncode == 0
    assert "\r" not in result.stderr
    assert "megapixel" not in result.stderr


def test_one_thread_is_one_thread(tmp_path: Path, edits: list[Path], environment: dict[str, str]) -> None:
    (tmp_path / "cold").mkdir()
    environment["PRINTPREP_CACHE"] = str(tmp_path / "cold")  # so that compiling is counted
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    command = [*COMMAND, *map(str, edits[:3]), *ROOM, "-o", "out", "--threads", "1", "--compress", "zstd"]
    subprocess.run(command, cwd=tmp_path, env=environment, check=True, capture_output=True)
    after, wall = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic() - start
    assert after.ru_utime - before.ru_utime < 1.1 * wall


@pytest.mark.parametrize("compress", ["none", "lzw"])
def test_the_same_bytes_for_any_number_of_threads(
    tmp_path: Path, edits: list[Path], environment: dict[str, str], compress: str
) -> None:
    seen = set()
    for threads in ("1", "2", "7"):
        command = [*COMMAND, "00.tif", *ROOM, "-o", f"{threads}.tif", "--threads", threads, "--compress", compress]
        subprocess.run(command, cwd=tmp_path, env=environment, check=True, capture_output=True)
        seen.add(digest(tmp_path / f"{threads}.tif"))
    assert len(seen) == 1


@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_a_signal_that_a_library_makes_an_error_of_is_still_one(number: int, status: int) -> None:
    """Extension modules do that while they are being loaded; what comes right after the first changes nothing."""
    code = f"""
import signal
from printprep.cli import main

def loading(**_):
    try:
        signal.raise_signal({int(number)})
    except BaseException:
        signal.raise_signal({int(number)})
        raise ImportError("initialization failed")

main.commands = loading
main.main()
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == status
    assert done.stderr.count("\n") == 1
    assert "what was finished is kept" in done.stderr
