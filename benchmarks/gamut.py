"""The table of gamut mapping: published methods and ours, over open photographs and measured papers.

    python -m benchmarks.gamut [--papers FOLDER] [--size 220] [--every 1] [--only bundled|system] [--unseen]
                              [--save FILE]

FOLDER holds further CGATS.17 measurements: papers that nothing was tuned on. Debian's package icc-profiles-free
brings nine (/usr/share/color/icc), its packages of desktop backgrounds bring photographs.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmarks.gamut_methods import METHODS, Method
from benchmarks.gamut_metrics import BETTER, NAMES, judge
from benchmarks.gamut_pictures import Bench, papers, pictures, unseen
from printprep.adjust.gamut_fit import GamutFit
from printprep.colour.lab import lab_from_lch
from printprep.colour.solid import Solid
from printprep.conditions.conditions import Conditions

Array = NDArray[np.float32]


def main() -> None:
    """Print the table."""
    parse = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parse.add_argument("--papers", default="", help="a folder of further measurements; then only those are used")
    parse.add_argument("--size", type=int, default=220, help="longer side of the pictures, pixels")
    parse.add_argument("--every", type=int, default=1, help="use every n-th picture of each paper")
    parse.add_argument("--only", default="", choices=("", "bundled", "system"))
    parse.add_argument("--unseen", action="store_true", help="only pictures and papers that nothing was learnt from")
    parse.add_argument("--save", default="", help="write all figures as JSON")
    parse.add_argument("--ramps", action="store_true", help="smoothness only")
    options = parse.parse_args()
    sheets = papers(options.papers)
    if options.papers:
        sheets = {name: paper for name, paper in sheets.items() if name not in papers()}
    found = [] if options.ramps else pictures(options.size, options.only)
    figures: dict[str, list[NDArray[np.float64]]] = {}
    for number, (name, paper) in enumerate(sheets.items()):
        bench = Bench(paper)
        for picture in found[number % options.every :: options.every]:
            if options.unseen and not unseen(picture.name, name):
                continue
            on = bench.conditions[picture.space]
            asked = picture.asked(paper)
            outside = ~paper.solid.contains(asked, 1.0)
            if outside.sum() < 50:
                continue
            for method, printed in _all(asked, picture.lab, on):
                figures.setdefault(method, []).append(judge(asked, printed, paper.solid, outside))
        sys.stderr.write(f"{name}\n")
    if figures:
        _report(figures)
    print("\nsecond difference on ramps of one unit, dE*ab: largest, 99 %, mean")
    for name, paper in sheets.items():
        on = Bench(paper).conditions["ROMM RGB"]
        for method in ("nearest", "HPMINDE", "ours, pointwise"):
            bends = bend(METHODS.get(method), on)
            print(f"{name:10} {method:16} {bends.max():6.2f} {np.quantile(bends, 0.99):6.2f} {bends.mean():6.2f}")
    if options.save:
        rows = {m: [None if np.isnan(x) else float(x) for x in np.ravel(v)] for m, v in figures.items()}
        Path(options.save).write_text(json.dumps({"names": NAMES, "figures": rows}))


def _all(asked: Array, before: Array, on: Conditions) -> Iterator[tuple[str, Array]]:
    source = on.source
    assert isinstance(source, Solid)
    for name, method in METHODS.items():
        yield name, method(asked, before, on.paper.solid, source)
    yield "ours, pointwise", GamutFit(detail=0.0)(asked, on)
    yield "ours", GamutFit()(asked, on)


def _report(figures: dict[str, list[NDArray[np.float64]]]) -> None:
    count = len(figures["ours"])
    near = np.nanmean(np.array(figures["nearest"])[:, 2])
    print(f"means over {count} pictures on papers; dE00 also as a share of nearest colour's")
    print(f"{'':16}" + "".join(f"{name:>11}" for name in NAMES) + f"{'of nearest':>12}")
    for method, rows in figures.items():
        mean = np.nanmean(np.array(rows), axis=0)
        print(f"{method:16}" + "".join(f"{x:11.3f}" for x in mean) + f"{mean[2] / near:12.3f}")
    ours = np.array(figures["ours"]) * BETTER
    others = np.array([figures[m] for m in METHODS]) * BETTER
    best = np.nanmax(others, axis=0)
    tolerance = np.array([0.1, 0.35, 0, 0.02, 0, 0, 0.02, 0.1])
    good = (ours >= best - tolerance) | np.isnan(ours)
    share = good.all(axis=1).mean()
    print(f"at least as good as the best of the others on every figure (goals allowed for): {share:.0%}")


def bend(method: Method | None, on: Conditions) -> Array:
    """Largest second difference of each of many ramps through a gamut; ours where no method is given."""
    found = []
    for ramp in ramps(on.black):
        if method is None:
            out = GamutFit(detail=0.0)(ramp, on)
        else:
            assert on.source is not None
            out = method(ramp, ramp, on.paper.solid, on.source)
        found.append(np.linalg.norm(np.diff(out, 2, axis=0), axis=-1).max())
    return np.array(found, np.float32)


def ramps(black: float) -> Iterator[Array]:
    """Ramps of one unit in chroma, in lightness, and round the hues, (n, 3) Lab."""
    rows = []
    for h in range(0, 360, 6):
        rows += [np.stack(np.broadcast_arrays(L, np.arange(121.0), h), -1) for L in range(int(black) + 4, 99, 8)]
        rows += [np.stack(np.broadcast_arrays(np.arange(np.ceil(black), 100), C, h), -1) for C in (20, 45, 70, 95)]
    for L in (30, 45, 60, 75, 88):
        for C in (30, 60, 90):
            rows.append(np.stack(np.broadcast_arrays(L, C, np.arange(0, 360, 360 / (2 * np.pi * C))), -1))
    for row in rows:
        yield np.asarray(lab_from_lch(row), np.float32)


if __name__ == "__main__":
    main()
