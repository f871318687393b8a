"""Find the numbers of gamut-fit's spatial part again, by descent over photographs and papers.

    pip install jax
    python -m benchmarks.gamut_train --papers FOLDER [--minutes 10] [--detail 14] [--structure 24] [--start]

FOLDER holds CGATS.17 measurements (see `benchmarks.gamut`). Half of the photographs on `LEARNT` of the papers are
learnt from; the others, and other papers, are left to judge by (`python -m benchmarks.gamut --unseen`). What is made
small, picture by picture: CIEDE2000 as a share of nearest colour's mean, gradients lost, structure lost (the figures
of `benchmarks.gamut_metrics`, in a form that has derivatives), and halos over 0.85 L* at step edges between random
colours of sRGB. Writes printprep/adjust/_gamut_detail.txt.

The numbers that are kept took 31 minutes of descent on one core in three runs, each from what the one before it found,
while bounds and weights were still being settled: weights 17 and 22, 13 and 28 (both with heavier halos and looser
bounds on chroma), then 14 and 24 with `MOST_TAKEN` 0.05 and `OVER` 0.65. A run from nothing, 6.5 minutes at 14 and 20
under earlier bounds, came to detail 0.934, structure 0.963 and 0.944 of CIEDE2000; the kept ones
have 0.932, 0.966, 0.922.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks._gamut_descent import UNIT, Numbers, figures, halos
from benchmarks.gamut_metrics import ciede2000
from benchmarks.gamut_pictures import LEARNT, Bench, learnt, papers, pictures, srgb
from printprep.adjust import _gamut_detail
from printprep.adjust._base import channels
from printprep.adjust._blocks import at_pixels, block_means
from printprep.adjust._gamut_plane import plane
from printprep.adjust.gamut_fit import GamutFit
from printprep.colour.blackpoint import compensate
from printprep.colour.icc import lab_from_device
from printprep.conditions.conditions import Conditions

Array = NDArray[np.float32]
Case = dict[str, Any]
"""Arrays of one picture on one paper: features, shares, bounds, what was asked and fitted, the gamut's grid."""

FRAME = (136, 220)
"""All pictures are cut or filled up to this many rows and columns, so that one compilation does for all."""

SUMS = 16

HALO, EDGES, FADING = 0.85, 0.1, 3.0
"""Halos that cost nothing, L*, the weight of each larger one, and the weight of texture that fades."""

HEAD = """# Found by benchmarks/gamut_train.py. A line for each sum: 19 weights of `features`, an offset, and
# the weights of the bent sum in the change of lightness, of chroma, and of both once more where it is
# textured. Last line: their offsets.
"""


def main() -> None:
    """Descend and write the numbers."""
    parse = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parse.add_argument("--papers", required=True, help="a folder of measurements")
    parse.add_argument("--minutes", type=float, default=10)
    parse.add_argument("--detail", type=float, default=14, help="weight of gradients lost")
    parse.add_argument("--structure", type=float, default=24, help="weight of structure lost")
    parse.add_argument("--out", default="", help="write elsewhere")
    parse.add_argument("--seed", type=int, default=0)
    parse.add_argument("--start", action="store_true", help="start from the numbers there are")
    options = parse.parse_args()
    sheets = {name: Bench(paper) for name, paper in papers(options.papers).items() if name in LEARNT}
    found = pictures(220)
    cases = [
        case
        for name, bench in sheets.items()
        for picture in found
        if learnt(picture.name, name) and (case := _case(picture.asked(bench.paper), bench.conditions[picture.space]))
    ]
    beside = [*sheets.values(), *map(Bench, papers().values())]  # nothing is learnt of the shipped papers but this
    edges = [edge for bench in beside for edge in _edges(bench.conditions["sRGB"])]
    sys.stderr.write(f"{len(cases)} pictures, {len(edges)} edges\n")
    size = np.mean([np.sqrt((case["seen"] ** 2).mean(axis=(1, 2))) for case in cases], axis=0)
    for case in (*cases, *edges):
        case["seen"] = case["seen"] / size[:, None, None]
    numbers = _kept(size) if options.start else _fresh(len(size))
    numbers = _descend(numbers, cases, edges, options.minutes, options.detail, options.structure, options.seed)
    _write(numbers, size, Path(options.out or Path(_gamut_detail.__file__).with_suffix(".txt")))


def _case(asked: Array, on: Conditions) -> Case | None:
    solid = on.paper.solid
    outside = ~solid.contains(asked, 1.0)
    if outside.sum() < 50:
        return None
    near = float(ciede2000(asked[outside], solid.nearest(asked[outside])).mean())
    case = _looked_at(asked, on) | {"outside": outside.astype(np.float32), "lab": asked}
    for key in ("asked", "fitted", "lab"):
        case[key] = _framed(case[key], 0)
    for key in ("seen", "textured", "share", "low", "high", "outside"):
        case[key] = _framed(case[key], case[key].ndim - 2)
    case["outside"][min(asked.shape[0], FRAME[0]) - 1 :] = 0
    case["outside"][:, min(asked.shape[1], FRAME[1]) - 1 :] = 0
    return case | {"near": np.float32(near)}


def _framed(values: Array, first: int) -> Array:
    """Cut or filled up to `FRAME`; axes `first` and the next are rows and columns."""
    rows, columns = FRAME
    cut = values[:, :rows, :columns] if first else values[:rows, :columns]
    fill = [(0, 0)] * values.ndim
    fill[first], fill[first + 1] = (0, rows - cut.shape[first]), (0, columns - cut.shape[first + 1])
    return np.pad(cut, fill, mode="edge")


def _looked_at(asked: Array, on: Conditions) -> Case:
    """What `mend` looks at, of a picture of print-referred Lab."""
    parts = GamutFit().spread(on)
    assert parts is not None
    colours = parts.enter(asked)
    fitted = parts.fit(colours)
    weight = at_pixels(parts.weigh(block_means(colours)), 0, asked.shape[0], 0, asked.shape[1])
    whole = slice(0, asked.shape[0]), slice(0, asked.shape[1])
    seen, share, low, high = _gamut_detail.features(channels(colours), channels(fitted), whole)
    here = plane(on.gamut, on.source)
    return {
        "seen": seen[:-1],
        "textured": seen[-2],
        "share": share * weight,
        "low": low,
        "high": high,
        "asked": colours,
        "fitted": fitted,
        "grid": here.chroma,
        "ends": np.array([here.low, here.high], np.float32),
    }


def _edges(on: Conditions) -> Iterator[Case]:
    """Step edges between random colours of sRGB, half of them primaries."""
    random = np.random.default_rng(0)
    for trial in range(128):
        rgb = random.random((2, 3))
        if trial % 2:
            rgb = np.round(rgb) * random.uniform(0.3, 1, (2, 1))
        picture = np.empty((8, 64, 3), np.float32)
        picture[:, :32], picture[:, 32:] = compensate(lab_from_device(rgb, srgb()), 0.0, on.black)
        yield _looked_at(picture, on)


def _fresh(seen: int) -> Numbers:
    random = np.random.default_rng(0)
    into = random.normal(0, np.sqrt(2 / seen), (SUMS, seen)).astype(np.float32)
    out = random.normal(0, 0.003, (4, SUMS)).astype(np.float32)
    return into, np.zeros((SUMS, 1), np.float32), out, np.zeros((4, 1), np.float32)


def _kept(size: Array) -> Numbers:
    into, bias, out, offset = _gamut_detail.kept()
    return into * size, bias, out / UNIT, offset / UNIT


def _descend(
    numbers: Numbers, cases: list[Case], edges: list[Case], minutes: float, detail: float, structure: float, seed: int
) -> Numbers:
    """Adam (Kingma and Ba 2014), one picture a step."""
    import jax
    import jax.numpy as jnp

    mean_near = float(np.mean([case["near"] for case in cases]))
    beside = {key: jnp.array(np.stack([edge[key] for edge in edges])) for key in edges[0]}

    def cost(numbers: Numbers, case: Case, edges: Case) -> Any:
        error, gradients, texture, faded = figures(numbers, case)
        over = jnp.maximum(halos(numbers, edges) - HALO, 0).sum()
        return error / mean_near + detail * gradients + structure * texture + FADING * faded + EDGES * over

    slope = jax.jit(jax.grad(cost))
    random, began, step = np.random.default_rng(seed), time.monotonic(), 0
    now: Any = tuple(map(jnp.array, numbers))
    mean = square = [jnp.zeros_like(part) for part in now]
    while (done := (time.monotonic() - began) / (60 * minutes)) < 1:
        step += 1
        some = {key: value[random.integers(0, len(edges), 48)] for key, value in beside.items()}
        gradient = slope(now, cases[random.integers(len(cases))], some)
        now, mean, square = _adam(now, mean, square, gradient, 0.004 * (1 - 0.95 * done), step)
        if step % 100 == 0:
            sys.stderr.write(f"\r{step} steps, {100 * done:.0f} %")
    halo = float(jax.jit(halos)(now, beside).max())
    sys.stderr.write(f"\r{step} steps; largest halo of {len(edges)} edges {halo:.2f} L*\n")
    into, bias, out, offset = (np.array(part, np.float32) for part in now)
    return into, bias, out, offset


def _adam(now: Any, mean: Any, square: Any, gradient: Any, rate: float, step: int) -> tuple[Any, Any, Any]:
    import jax.numpy as jnp

    gradient = [jnp.nan_to_num(part) for part in gradient]
    size = sum(float((part**2).sum()) for part in gradient) ** 0.5
    gradient = [part * min(1.0, 3 / (size + 1e-9)) for part in gradient]
    mean = [0.95 * m + 0.05 * g for m, g in zip(mean, gradient, strict=True)]
    square = [0.99 * s + 0.01 * g * g for s, g in zip(square, gradient, strict=True)]
    moved = tuple(
        part - rate * (m / (1 - 0.95**step)) / (jnp.sqrt(s / (1 - 0.99**step)) + 1e-8)
        for part, m, s in zip(now, mean, square, strict=True)
    )
    return moved, mean, square


def _write(numbers: Numbers, size: Array, file: Path) -> None:
    into, bias, out, offset = numbers
    rows = np.concatenate([into / size, bias, (out * UNIT).T], axis=1)
    last = np.zeros((1, rows.shape[1]))
    last[0, -4:] = (offset * UNIT)[:, 0]
    lines = [" ".join(f"{value:.4g}" for value in row) for row in np.concatenate([rows, last])]
    file.write_text(HEAD + "\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
