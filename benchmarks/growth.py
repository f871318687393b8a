"""How cost grows: one picture of 1 to 1000 megapixels, and 1 to 100 files in one command."""

from __future__ import annotations

import os
import shutil

from benchmarks import floor
from benchmarks._measure import POINTWISE, PREPARE, SHIPPED, Bench, Line, Use, best, paired, run

_FILE = 24
"""Megapixels of each of many files."""


def lines(bench: Bench) -> list[Line]:
    """Pointwise and as shipped, each size beside its floor; then many files, beside one."""
    sizes = (1, 12) if bench.quick else (1, 10, 100, 1000)
    counts = (1, 3) if bench.quick else (1, 10, 100)
    ways = {"as shipped": SHIPPED} if bench.quick else {"pointwise": POINTWISE, "as shipped": SHIPPED}
    found = [_size(bench, size, name, way) for size in sizes for name, way in ways.items()]
    for name, way in ways.items():
        found += _files(bench, counts, name, way)
    return found


def _size(bench: Bench, size: int, name: str, way: list[str]) -> Line:
    """One picture; the largest is empty, a hole in a file."""
    source = bench.picture(size, empty=size > 100)
    target = bench.folder / "grown.tif"

    def ours() -> Use:
        used = run([*PREPARE, str(source), "-o", str(target), *way], bench.environment(), memory=True)
        target.unlink()
        return used

    ours()  # its table
    runs = 1 if bench.quick or size > 100 else 3
    a, b = map(best, paired(ours, lambda: floor.measured(source, bench.folder / "floor.raw"), runs))
    note = f"{a.cpu / size * 1e3:.0f} ms of CPU a megapixel, {a.anonymous >> 20} MB"
    empty = ", empty" if size > 100 else ""
    return Line(f"{size} MP{empty}, {name}", f"{a.wall:.2f} s", f"floor {b.wall:.2f} s", a.wall / b.wall, note=note)


def _files(bench: Bench, counts: tuple[int, ...], name: str, way: list[str]) -> list[Line]:
    """So many links to one picture; their outputs go as soon as they are counted."""
    size = 3 if bench.quick else _FILE
    source, folder, out = bench.picture(size), bench.folder / "grown", bench.folder / "grown-out"
    found, one = list[Line](), 0.0
    for count in counts:
        folder.mkdir()
        for k in range(count):
            os.link(source, folder / f"{k:03}.tif")
        out.mkdir()
        edits = sorted(map(str, folder.iterdir()))
        used = run([*PREPARE, *edits, *way, "-o", str(out)], bench.environment(), memory=True)
        shutil.rmtree(folder)
        shutil.rmtree(out)
        each = used.wall / count
        one = one or each
        what = f"{count} file{'s' * (count > 1)} of {size} MP, {name}"
        note = f"{count * size / used.wall:.0f} MP/s, {used.anonymous >> 20} MB"
        found.append(Line(what, f"{each:.2f} s each", f"one {one:.2f} s", each / one, note=note))
    return found
