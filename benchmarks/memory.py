"""Peak anonymous memory at any size and layout, and a gigapixel against the floor."""

from __future__ import annotations

import os
from pathlib import Path

from benchmarks import floor
from benchmarks._measure import POINTWISE, PREPARE, Bench, Line, Use, run

_LIMIT, _FURTHER = 250, 40
"""Megabytes on two cores, and for each further one."""

_EVERY_STEP = [
    "--paper", "cotton-rag", "--room", "evening-sitting-room",
    "--set", "highlight-hold.last_light=96", "--set", "room-colour.strength=1",
]  # fmt: skip
"""The steps of the presets, and those that presets leave out; gamut-fit looks around."""


def lines(bench: Bench) -> list[Line]:
    """Each layout with every step on, then pictures without content up to a gigapixel."""
    sizes, layouts = (6,) if bench.quick else (24, 100), ("strips", "one strip", "tiles", "planar")
    found = [_layout(bench, size, layout) for size in sizes for layout in layouts]
    found += [_layout(bench, sizes[0], "strips", "deflate")]
    for sheet in ("A4",) if bench.quick else ("A4", "A0"):
        found += [_layout(bench, size, "strips", sheet=sheet) for size in sizes]
    return [*found, *_gigapixel(bench)]


def _limit() -> int:
    return _LIMIT + _FURTHER * max(0, len(os.sched_getaffinity(0)) - 2)


def _prepare(bench: Bench, source: Path, *pipeline: str) -> Use:
    target = bench.folder / "memory.tif"
    used = run([*PREPARE, str(source), "-o", str(target), *pipeline], bench.environment(), memory=True)
    target.unlink()
    return used


def _layout(bench: Bench, size: float, layout: str, compress: str = "none", sheet: str = "") -> Line:
    source = bench.picture(size, layout=layout, compress=compress)
    sized = ["--size", sheet] if sheet else []
    if not bench.quick:
        _prepare(bench, source, *_EVERY_STEP, *sized)  # its table, which takes memory of its own
    used = _prepare(bench, source, *_EVERY_STEP, *sized)
    source.unlink()
    bench.forget(source)
    peak = used.anonymous / 2**20
    what = layout if compress == "none" else f"{layout}, {compress}"
    what += f", on {sheet}" if sheet else ""
    return Line(
        f"memory, {size:g} MP, {what}, every step", f"{peak:.0f} MB", f"picture {size * 6:.0f} MB", None,
        f"at most {_limit()} MB", peak <= _limit(),
    )  # fmt: skip


def _gigapixel(bench: Bench) -> list[Line]:
    """Empty pictures: their input is a hole in a file, made in a moment; the output is written in full."""
    small, large = (12, 50) if bench.quick else (100, 1000)
    uses, floors = {}, {}
    for size in (small, large):
        source = bench.picture(size, empty=True)
        _prepare(bench, source, *POINTWISE)
        runs = [
            (_prepare(bench, source, *POINTWISE), floor.measured(source, bench.folder / "floor.raw"))
            for _ in range(1 if bench.quick else 2)
        ]
        uses[size] = min((u for u, _ in runs), key=lambda u: u.wall)
        floors[size] = min((f for _, f in runs), key=lambda f: f.wall)
        uses[size] = Use(uses[size].wall, min(u.cpu for u, _ in runs), max(u.anonymous for u, _ in runs))
    big = uses[large]
    each = {size: used.cpu / size for size, used in uses.items()}
    ratio, growth = big.wall / floors[large].wall, each[large] / each[small]
    peak = big.anonymous / 2**20
    name = f"{large} MP BigTIFF" if large == 1000 else f"{large} MP"
    return [
        Line(
            f"prepare, empty {name}", f"{big.wall:.1f} s", f"floor {floors[large].wall:.1f} s", ratio,
            "at most 1.6", None if bench.quick else ratio <= 1.6,
        ),
        Line(
            f"CPU per megapixel, empty {large} MP", f"{1e3 * each[large]:.1f} ms",
            f"at {small} MP {1e3 * each[small]:.1f} ms", growth, "at most 1.25", growth <= 1.25,
        ),
        Line(f"memory, {large} MP", f"{peak:.0f} MB", "", None, f"at most {_limit()} MB", peak <= _limit()),
    ]  # fmt: skip
