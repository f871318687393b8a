"""How benchmarks measure: whole processes, their time and memory, side by side; and what they print."""

from __future__ import annotations

import contextlib
import os
import resource
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

PREPARE = [sys.executable, "-m", "printprep.cli.main", "prepare"]
POINTWISE = ["--paper", "cotton-rag", "--room", "hallway", "--set", "gamut-fit.glow=0"]
"""A pipeline of which every step is pointwise."""

SHIPPED = ["--paper", "cotton-rag", "--room", "hallway"]
"""The same as its presets are."""

_POLL = 0.002


@dataclass(frozen=True)
class Line:
    """One row of the table.

    Parameters
    ----------
    what : str
        What is measured.
    ours, other : str
        The two sides, with their units; `other` may be empty.
    ratio : float, optional
        The figure that the target is about.
    wanted : str
        The target in words.
    met : bool, optional
        Whether it is reached; None where nothing is promised.
    note : str
        What explains the figure.
    """

    what: str
    ours: str
    other: str = ""
    ratio: float | None = None
    wanted: str = ""
    met: bool | None = None
    note: str = ""


@dataclass(frozen=True)
class Use:
    """What one run took."""

    wall: float
    cpu: float
    anonymous: int = 0
    """Peak anonymous memory, bytes."""


@dataclass
class Bench:
    """Where benchmarks run, and how thoroughly.

    Parameters
    ----------
    folder : Path
        For pictures and results; some gigabytes.
    quick : bool
        Smaller pictures, fewer runs.
    """

    folder: Path
    quick: bool = False
    _pictures: dict[str, Path] = field(default_factory=dict)

    @property
    def runs(self) -> int:
        """How often each side runs."""
        return 1 if self.quick else 5

    @property
    def large(self) -> int:
        """Megapixels of the picture that most targets are about."""
        return 12 if self.quick else 100

    def environment(self, tables: str = "tables") -> dict[str, str]:
        """The environment of a run, with a folder for compiled tables of its own."""
        return {**os.environ, "PRINTPREP_CACHE": str(self.folder / tables), "XDG_CONFIG_HOME": str(self.folder)}

    def picture(self, megapixels: float, **layout: object) -> Path:
        """A photo-like edit of this size, made once; see `benchmarks.picture`."""
        from benchmarks.picture import make

        name = f"{megapixels:g}-{'-'.join(map(str, layout.values()))}.tif".replace("/", "")
        if name not in self._pictures:
            self._pictures[name] = make(self.folder / name, megapixels, **layout)  # type: ignore[arg-type]
        return self._pictures[name]

    def forget(self, picture: Path) -> None:
        """Drop a picture that was deleted."""
        self._pictures = {name: path for name, path in self._pictures.items() if path != picture}


def run(command: Sequence[str], environment: dict[str, str] | None = None, *, memory: bool = False) -> Use:
    """Run a command to its end; its time by the system's own accounting."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.perf_counter()
    process = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    peak = [0]
    watch = threading.Thread(target=_watch, args=(process, peak))
    if memory:
        watch.start()
    _, errors = process.communicate()
    wall = time.perf_counter() - start
    if memory:
        watch.join()
    if process.returncode:
        raise RuntimeError(f"{' '.join(command)}: {errors.decode(errors='replace')}")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return Use(wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, peak[0])


def _watch(process: subprocess.Popen[bytes], peak: list[int]) -> None:
    """Follow the anonymous memory of a process and its workers, every 2 ms (Linux)."""
    while process.poll() is None:
        with contextlib.suppress(OSError, ValueError, StopIteration):  # one of them has just ended
            peak[0] = max(peak[0], _anonymous(process.pid))
        time.sleep(_POLL)


def _anonymous(process: int) -> int:
    """Bytes; what workers share is counted once."""
    workers = Path(f"/proc/{process}/task/{process}/children").read_text().split()
    if not workers:
        return _said(str(process), "status", "RssAnon:")
    return sum(_said(each, "smaps_rollup", "Pss_Anon:") for each in [str(process), *workers])


def _said(process: str, file: str, key: str) -> int:
    lines = Path(f"/proc/{process}/{file}").read_text().splitlines()
    return next(int(line.split()[1]) << 10 for line in lines if line.startswith(key))


def here(work: Callable[[], object]) -> Use:
    """Time a call in this process, all its threads counted."""
    cpu, start = time.process_time(), time.perf_counter()
    work()
    return Use(time.perf_counter() - start, time.process_time() - cpu)


def paired(one: Callable[[], Use], other: Callable[[], Use], runs: int) -> tuple[list[Use], list[Use]]:
    """Both sides in turn, so that a machine whose speed drifts is fair to both."""
    pairs = [(one(), other()) for _ in range(runs)]
    return [a for a, _ in pairs], [b for _, b in pairs]


def best(uses: Sequence[Use]) -> Use:
    """The least of each: what disturbs a run only ever adds to it."""
    return Use(min(u.wall for u in uses), min(u.cpu for u in uses), max(u.anonymous for u in uses))


def versus(
    what: str, ours: Sequence[Use], other: Sequence[Use], most: float, *, name: str = "floor", note: str = ""
) -> Line:
    """A row for two sides of which ours may take so many times as long as the other."""
    a, b = best(ours), best(other)
    middle = median(x.wall / y.wall for x, y in zip(ours, other, strict=True))
    ratio = a.wall / b.wall
    said = f"CPU {a.cpu / b.cpu:.2f}; median of pairs {middle:.2f}"
    return Line(
        what, f"{a.wall:.2f} s", f"{name} {b.wall:.2f} s", ratio, f"at most {most:g}", ratio <= most,
        f"{said}; {note}" if note else said,
    )  # fmt: skip


def machine() -> str:
    """What this runs on."""
    import platform

    model = platform.processor() or platform.machine()
    try:
        info = Path("/proc/cpuinfo").read_text()
        model = next(line.split(":")[1].strip() for line in info.splitlines() if line.startswith("model name"))
        memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    except (OSError, StopIteration, ValueError):
        return model
    load = os.getloadavg()[0]
    return f"{model}, {len(os.sched_getaffinity(0))} cores, {memory:.0f} GB, {platform.system()}; load {load:.1f}"


def versions() -> str:
    """What took part, in its versions."""
    from importlib.metadata import PackageNotFoundError, version

    names = (
        "numpy", "opencolorio", "imagecodecs", "tifffile", "opencv-python-headless", "scipy", "scikit-image",
        "colour-science", "pillow", "pyvips",
    )  # fmt: skip
    parts = [f"Python {sys.version.split()[0]}", f"printprep {version('printprep')}"]
    for name in names:
        try:
            parts.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            parts.append(f"{name} none")
    return ", ".join(parts)
