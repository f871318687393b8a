"""Many files in one command against the floor, and compressed files on all cores against one."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

from benchmarks import floor
from benchmarks._measure import POINTWISE, PREPARE, SHIPPED, Bench, Line, Use, best, paired, run

_CODECS = ("deflate", "lzw", "zstd")


def lines(bench: Bench) -> list[Line]:
    """A batch, then each codec in and out."""
    return [_batch(bench, POINTWISE, ""), _batch(bench, SHIPPED, ", presets as shipped"),
            *(_codec(bench, name) for name in _CODECS)]  # fmt: skip


def _batch(bench: Bench, pipeline: list[str], named: str) -> Line:
    """Files of 24 megapixels, links to one picture; the floor is paid once for each."""
    files, size = (3, 12) if bench.quick else (20, 24)
    source, folder, out = bench.picture(size), bench.folder / "batch", bench.folder / "out"
    folder.mkdir(exist_ok=True)
    edits = [folder / f"{k:02}.tif" for k in range(files)]
    for edit in edits:
        if not edit.exists():
            os.link(source, edit)

    def ours() -> Use:
        shutil.rmtree(out, ignore_errors=True)
        out.mkdir()
        return run([*PREPARE, *map(str, edits), *pipeline, "-o", str(out)], bench.environment())

    def theirs() -> Use:
        uses = [floor.measured(source, bench.folder / "floor.raw") for _ in range(4)]
        return Use(files * sum(u.wall for u in uses) / 4, files * sum(u.cpu for u in uses) / 4)

    ours()
    runs = paired(ours, theirs, 1 if bench.quick else 3)
    a, b = best(runs[0]), best(runs[1])
    shutil.rmtree(out)
    share = b.wall / a.wall
    speed, most = files * size / a.wall, files * size / b.wall
    note = f"CPU {a.cpu / b.cpu:.2f} times the floor's; start-up and compile counted"
    return Line(
        f"batch, {files} files of {size} MP{named}", f"{speed:.0f} MP/s", f"floor {most:.0f} MP/s", share,
        "" if named else "at least 0.75", None if bench.quick or named else share >= 0.75, note,
    )  # fmt: skip


def _codec(bench: Bench, name: str) -> Line:
    """Files kept in memory where the system can: the line is about processors, and a disk takes time of theirs."""
    files, size = (1, 3) if bench.quick else (6, 24)
    source, memory = bench.picture(size, compress=name), Path("/dev/shm")
    room = memory.is_dir() and shutil.disk_usage(memory).free > 2 * files * size * 6e6
    with tempfile.TemporaryDirectory(dir=memory if room else bench.folder) as folder:
        near = Path(shutil.copy(source, folder))
        a, b = _each(bench, near, files, 1 if bench.quick else 3)
    gain, note = b.wall / a.wall, f"CPU {a.cpu / b.cpu:.2f} times"
    total = files * size
    if room and not bench.quick:
        many, one = _each(bench, source, files, 2)
        note += f"; from disk to disk {one.wall / many.wall:.2f}, {total / many.wall:.0f} MP/s"
    wanted = 0.9 * len(os.sched_getaffinity(0))
    met = None if bench.quick else gain >= wanted
    return Line(
        f"{name} in and out, {files} of {size} MP", f"{total / a.wall:.0f} MP/s on all cores",
        f"{total / b.wall:.0f} MP/s on one", gain, f"at least {wanted:.1f}", met, note,
    )  # fmt: skip


def _each(bench: Bench, source: Path, files: int, runs: int) -> tuple[Use, Use]:
    """The best run on all cores, and the best on one."""
    folder, out = source.parent / f"{source.stem}-edits", source.parent / f"{source.stem}-out"
    folder.mkdir()
    edits = [folder / f"{k:02}.tif" for k in range(files)]
    for edit in edits:
        os.link(source, edit)

    cores = os.sched_getaffinity(0)

    def on(some: set[int]) -> Use:
        """With one thread, flushing and the verdict would still go on beside it: one core is one that it may run on."""
        out.mkdir()
        os.sched_setaffinity(0, some)  # what is started from here inherits it
        try:
            used = run([*PREPARE, *map(str, edits), *POINTWISE, "-o", str(out)], bench.environment())
        finally:
            os.sched_setaffinity(0, cores)
        shutil.rmtree(out)
        return used

    on(cores)
    many, one = paired(lambda: on(cores), lambda: on({min(cores)}), runs)
    shutil.rmtree(folder)
    return best(many), best(one)
