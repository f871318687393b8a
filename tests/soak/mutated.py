"""Damaged files, through every command that reads one, in a process of its own that may die without harm."""

from __future__ import annotations

import os
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import cache
from multiprocessing import get_context
from pathlib import Path

from tests.soak.watch import Work
from tests.support.damage import damaged, sound_files
from tests.support.inside import inside
from tests.support.runs import COMMANDS, WHERE, run_on

AT_ONCE = 50
"""Files that are tried between two other things."""

NAMES = (*COMMANDS, *["prepare", "prepare compressed"] * 6)
"""Preparing is what may do most harm, so it is tried most."""


class Mutated:
    """A process that tries damaged files, as many as are asked for.

    Parameters
    ----------
    work : Work
        Gets what is found.
    """

    def __init__(self, work: Work) -> None:
        self._work, self._next = work, work.rng.randrange(1 << 30)
        self._pool = self._fresh()

    def _fresh(self) -> ProcessPoolExecutor:
        return ProcessPoolExecutor(
            1, get_context("spawn"), initializer=_prepare, initargs=(str(self._work.folder),)
        )

    def some(self) -> None:
        """Try `AT_ONCE` files."""
        tally, first = self._work.tally, self._next
        self._next += AT_ONCE
        try:
            counts, findings = self._pool.submit(_try, first, AT_ONCE).result(timeout=600)
        except (BrokenProcessPool, TimeoutError) as error:
            at = (self._work.folder / "at").read_text()
            tally.hold(False, f"mutated: the process ended or hung at seed {at} ({type(error).__name__})")
            for process in self._pool._processes.values():
                process.kill()
            self._pool = self._fresh()
            return
        tally.counts.update(counts)
        tally.findings += findings

    def close(self) -> None:
        """End the process."""
        self._pool.shutdown()


def _prepare(folder: str) -> None:
    os.environ["PRINTPREP_CACHE"] = str(Path(folder) / "tables of damaged files")
    os.environ["XDG_CONFIG_HOME"] = str(Path(folder) / "none")
    os.chdir(folder)


@cache
def _sources() -> tuple[list[bytes], bytes]:
    """Sound files, and one that was prepared."""
    folder = Path("sound")
    folder.mkdir(exist_ok=True)
    files = sound_files(folder)
    (folder / "a.tif").write_bytes(files[0])
    inside("prepare", folder / "a.tif", *WHERE, "-o", folder / "b.tif", "--overwrite")
    return files, (folder / "b.tif").read_bytes()


def _try(first: int, number: int) -> tuple[Counter[str], list[str]]:
    """Files of so many seeds, each with a command that its seed chooses."""
    counts, findings, (files, ready) = Counter[str](), list[str](), _sources()
    for seed in range(first, first + number):
        name = NAMES[seed % len(NAMES)]
        source = ready if name.startswith("ticket") else files[seed // len(NAMES) % len(files)]
        Path("at").write_text(f"{seed}, {name}")
        home = Path.cwd()
        with tempfile.TemporaryDirectory(dir=home) as folder:
            os.chdir(folder)
            try:
                done = run_on(damaged(source, seed), name)
                counts["mutated files that were used" if done else "mutated files that were refused"] += 1
            except Exception as error:  # whatever it is, it is a finding
                findings.append(f"mutated: seed {seed}, {name}: {type(error).__name__}: {error}")
            finally:
                os.chdir(home)
        counts["mutated files"] += 1
    return counts, findings
