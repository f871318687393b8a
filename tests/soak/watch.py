"""What a soak run works on and what it watches: edits, their right results, runs of the command, and what was found."""

from __future__ import annotations

import hashlib
import os
import random
import re
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from printprep.files.sink import PREFIX
from printprep.photo.photo import Photo

ROOM = ("--room", "hallway")
PAPERS = ("gloss", "cotton-rag")
_LOADING = re.compile(r'File ".*printprep/__main__\.py", line \d+, in <module>\n +(import|from) ')
"""The first lines of our own, before which no signal can be heeded."""
_OURS = re.compile(r"printprep[:/]")
BEFORE = (-signal.SIGINT, -signal.SIGTERM)
"""Statuses of a process that a signal ended while Python itself was starting, or as it went."""


@dataclass
class Tally:
    """What was tried, how often, and what was found wrong."""

    counts: Counter[str] = field(default_factory=Counter)
    findings: list[str] = field(default_factory=list)

    def count(self, what: str, number: int = 1) -> None:
        """Note that something was tried or seen."""
        self.counts[what] += number

    def hold(self, good: bool, what: str) -> None:
        """Note a finding where something that must hold does not."""
        if not good:
            self.findings.append(what)


@dataclass(frozen=True)
class Ended:
    """A run of the command that has ended."""

    status: int
    said: str
    seconds: float

    @property
    def pythons_own(self) -> bool:
        """Whether it ended before our own code began, or after: what Python itself says then is none of ours."""
        failed = self.status in BEFORE or self.said.startswith(("Fatal Python error: init_", "Could not import runpy"))
        return failed and not _OURS.search(_LOADING.sub("", self.said))

    @property
    def clean(self) -> bool:
        """Whether all that it said on stderr are lines of its own; Python's, before it began, aside."""
        if self.pythons_own:
            return True
        lines = self.said.splitlines()
        return all(line.startswith("printprep: ") and "unexpected:" not in line for line in lines)


class Work:
    """A folder with edits, and the digests of what they become on each paper.

    Parameters
    ----------
    folder : Path
        Empty; everything lies in it.
    seed : int
        Tells all that is left to chance but the moments in time.
    """

    def __init__(self, folder: Path, seed: int) -> None:
        self.folder, self.rng, self.tally = folder, random.Random(seed), Tally()
        self.cache = folder / "tables"
        self.edits = _edits(folder / "edits")
        self._inputs = {path: digest(path) for path in self.edits}
        self.right: dict[tuple[Path, str], str] = {}
        self.seconds = 0.0
        (place := folder / "right").mkdir()
        for paper in PAPERS:
            for edit in self.edits:
                out = place / self.name(edit, paper)
                ended = self.run("prepare", edit, "--paper", paper, *ROOM, "-o", out)
                if ended.status != 0:
                    raise SystemExit(f"a sound picture was not prepared: {ended.said}")
                self.right[edit, paper] = digest(out)
                self.seconds = ended.seconds  # of the last, for which all tables were kept but its own

    @staticmethod
    def name(edit: Path, paper: str) -> str:
        """What the command calls the result of an edit."""
        return f"{edit.stem}.{paper}.{ROOM[1]}.tif"

    def room(self) -> Path:
        """An empty folder for one case."""
        path = self.folder / "case"
        if path.exists():
            for each in path.iterdir():
                each.unlink()
        else:
            path.mkdir()
        return path

    def start(
        self, *words: str | Path, cache: Path | None = None, before: Callable[[], None] | None = None, **env: str
    ) -> subprocess.Popen[str]:
        """Start the command in a process of its own."""
        return subprocess.Popen(
            [sys.executable, "-m", "printprep", *words], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE, text=True, errors="replace", preexec_fn=before,
            env=os.environ | {"PRINTPREP_CACHE": str(cache or self.cache)} | env,
        )  # fmt: skip

    def run(self, *words: str | Path, cache: Path | None = None) -> Ended:
        """Run the command to its end."""
        begun = time.monotonic()
        return self.end(self.start(*words, cache=cache), begun)

    def end(self, process: subprocess.Popen[str], begun: float) -> Ended:
        """Wait for a process; one that hangs is a finding."""
        try:
            _, said = process.communicate(timeout=120)
        except subprocess.TimeoutExpired:
            process.kill()
            _, said = process.communicate()
            self.tally.hold(False, f"hung: {process.args!r}")
        return Ended(process.returncode, said, time.monotonic() - begun)

    def inputs_stand(self, case: str) -> None:
        """Hold all edits to what they were."""
        for path, was in self._inputs.items():
            self.tally.hold(path.exists() and digest(path) == was, f"{case}: {path.name} was changed")


def digest(path: Path) -> str:
    """Of a file's bytes."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def litter(folder: Path) -> list[Path]:
    """Temporary files of the command."""
    return [path for path in folder.iterdir() if path.name.startswith(PREFIX)]


def _edits(folder: Path) -> list[Path]:
    """Pictures that take the command some time at each of its stages: noise over a slope, stored in several ways."""
    folder.mkdir()
    rng, made = np.random.default_rng(1), []
    kinds = (("a", 900, 1400, "none"), ("b", 700, 900, "deflate"), ("c", 1500, 2000, "zstd"))
    for name, rows, columns, compress in kinds:
        slope = np.linspace(0, 50_000, columns)[None, :, None] * np.array([1.0, 0.4, 0.7])
        pixels = slope + rng.integers(0, 12_000, (rows, columns, 3))
        made.append(folder / f"{name}.tif")
        Photo.from_array(pixels.astype(np.uint16), "opRGB").write(made[-1], compress=compress)
    return made
