"""One file, the whole process, against the floor: the first time, and again with the same paper, room and profile."""

from __future__ import annotations

import shutil
from dataclasses import replace

from benchmarks import floor
from benchmarks._measure import POINTWISE, PREPARE, SHIPPED, Bench, Line, Use, paired, run, versus


def lines(bench: Bench) -> list[Line]:
    """Cold and warm, pointwise; then with every step of the paper's and the room's presets."""
    size = bench.large
    source, target = bench.picture(size), bench.folder / "prepared.tif"

    def prepare(*pipeline: str, cold: bool = False) -> Use:
        if cold:
            shutil.rmtree(bench.folder / "tables", ignore_errors=True)
        used = run([*PREPARE, str(source), "-o", str(target), *pipeline], bench.environment())
        target.unlink()
        return used

    def least() -> Use:
        return floor.measured(source, bench.folder / "floor.raw")

    run([*PREPARE, str(source), "-o", str(target), *POINTWISE], bench.environment())
    target.unlink()
    cold = versus(
        f"prepare, {size} MP, first time",
        *paired(lambda: prepare(*POINTWISE, cold=True), least, bench.runs),
        1.8,
    )
    warm = versus(f"prepare, {size} MP, again", *paired(lambda: prepare(*POINTWISE), least, bench.runs), 1.3)
    prepare(*SHIPPED)
    ours, others = paired(lambda: prepare(*SHIPPED), least, 1 if bench.quick else 3)
    full = versus(f"prepare, {size} MP, again, presets as shipped", ours, others, float("inf"))
    if bench.quick:  # start-up weighs more on a small picture: nothing is promised for it
        cold, warm = (replace(line, met=None) for line in (cold, warm))
    return [cold, warm, Line(full.what, full.ours, full.other, full.ratio, note=full.note)]
