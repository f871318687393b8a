"""Find the numbers of gamut-fit's spatial part again, by descent over photographs and papers.

    pip install jax
    python -m benchmarks.gamut_train --papers FOLDER [--minutes 12] [--detail 14] [--structure 24] [--start]

FOLDER holds CGATS.17 measurements (see `benchmarks.gamut`). Half of the photographs on `LEARNT` of the papers are
learnt from, whole and as parts of the same at twice the size; the others, and other papers, are left to judge by
(`python -m benchmarks.gamut --unseen`). What is made small, picture by picture: CIEDE2000 as a share of nearest
colour's mean, gradients lost, structure lost (the figures of `benchmarks.gamut_metrics`, in a form that has
derivatives), and halos over 0.85 L* at step edges between random colours of sRGB. Writes
printprep/adjust/_gamut_detail.txt.

The numbers that are kept took six runs of 6 to 14 minutes on one core each: the first from nothing at 14 and 28, then
with --start at 18 and 32, 20 and 34 (blocks were of 8 x 8 pixels until here), 13 and 34, 15 and 22, 13 and 25, the
rate falling from 0.004 to 0.002; the last two runs' numbers are mixed two to one.
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
from printprep.adjust._base import Box, channels
from printprep.adjust._blocks import at_pixels, block_means
from printprep.adjust._gamut_look import CELL, look, weight_of_chroma
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

SUMS = (24, 24)
"""Sums of each layer."""

HALO, EDGES, FADING = 0.85, 0.3, 3.0
"""Halos that cost nothing, L*, the weight of each larger one, and the weight of texture that fades."""

HEAD = "# Found by benchmarks/gamut_train.py: see `kept` in _gamut_detail.py.\n"


def main() -> None:
    """Descend and write the numbers."""
    parse = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parse.add_argument("--papers", required=True, help="a folder of measurements")
    parse.add_argument("--minutes", type=float, default=10)
    parse.add_argument("--detail", type=float, default=14, help="weight of gradients lost")
    parse.add_argument("--structure", type=float, default=24, help="weight of structure lost")
    parse.add_argument("--out", default="", help="write elsewhere")
    parse.add_argument("--seed", type=int, default=0)
    parse.add_argument("--rate", type=float, default=0.004, help="size of the first steps")
    parse.add_argument("--start", action="store_true", help="start from the numbers there are")
    options = parse.parse_args()
    sheets = {name: Bench(paper) for name, paper in papers(options.papers).items() if name in LEARNT}
    found = [(picture, size > max(FRAME)) for size in (220, 440) for picture in pictures(size)]
    cases = [
        case
        for name, bench in sheets.items()
        for picture, large in found
        if learnt(picture.name, name)
        and (case := _case(picture.asked(bench.paper), bench.conditions[picture.space], cut=large))
    ]
    beside = [*sheets.values(), *map(Bench, papers().values())]  # nothing is learnt of the shipped papers but this
    edges = [edge for seed, bench in enumerate(beside) for edge in _edges(bench.conditions["sRGB"], seed)]
    sys.stderr.write(f"{len(cases)} pictures, {len(edges)} edges\n")
    size = np.mean([np.sqrt((case["features"] ** 2).mean(axis=(1, 2))) for case in cases], axis=0)
    for case in (*cases, *edges):
        case["features"] = case["features"] / size[:, None, None]
    numbers = _kept(size) if options.start else _fresh(len(size))
    numbers = _descend(numbers, cases, edges, options)
    _write(numbers, size, Path(options.out or Path(_gamut_detail.__file__).with_suffix(".txt")))


def _case(asked: Array, on: Conditions, *, cut: bool) -> Case | None:
    solid = on.paper.solid
    outside = ~solid.contains(asked, 1.0)
    if cut:
        part = _most(outside)
        asked, outside = np.ascontiguousarray(asked[part]), outside[part]
    if outside.sum() < 50:
        return None
    near = float(ciede2000(asked[outside], solid.nearest(asked[outside])).mean())
    judged = np.zeros_like(outside, np.float32)
    rows, columns = (min(sizes) - 1 for sizes in zip(FRAME, outside.shape, strict=True))  # the last have no gradient
    judged[:rows, :columns] = outside[:rows, :columns]
    case = _looked_at(asked, on) | {"lab": np.moveaxis(asked, -1, 0), "outside": judged}
    for key in case.keys() - {"grid", "ends"}:
        case[key] = _framed(case[key], on_cells=key in CELLS)
    return case | {"lab": np.moveaxis(case["lab"], 0, -1), "near": np.float32(near)}


def _most(outside: NDArray[np.bool_]) -> Box:
    """The part of a frame's size, of 25, that most is outside in."""
    height, width = outside.shape
    rows, columns = min(FRAME[0], height), min(FRAME[1], width)
    tops, lefts = (np.linspace(0, room, 5).astype(int) for room in (height - rows, width - columns))
    parts = [(slice(top, top + rows), slice(left, left + columns)) for top in tops for left in lefts]
    return max(parts, key=lambda part: outside[part].sum())


CELLS = ("features", "means", "low", "high", "most", "least")
"""What a case has of cells, not of pixels."""


def _framed(values: Array, *, on_cells: bool) -> Array:
    """Cut or filled up to `FRAME`; rows and columns are the last two axes."""
    rows, columns = (size // CELL if on_cells else size for size in FRAME)
    cut = values[..., :rows, :columns]
    fill = [(0, 0)] * (values.ndim - 2) + [(0, rows - cut.shape[-2]), (0, columns - cut.shape[-1])]
    return np.pad(cut, fill, mode="edge")


def _looked_at(asked: Array, on: Conditions) -> Case:
    """What `mend` looks at, of a picture of print-referred Lab."""
    parts = GamutFit().spread(on)
    assert parts is not None
    colours = parts.enter(asked)
    fitted = parts.fit(colours)
    weight = at_pixels(parts.weigh(block_means(colours)), 0, asked.shape[0], 0, asked.shape[1])
    (L, x, y), (new_L, new_x, new_y) = channels(colours), channels(fitted)
    C, new_C = np.hypot(x, y), np.hypot(new_x, new_y)
    sight = look(L, C, new_L, new_C)
    low, high, most, least = _gamut_detail.bounds(sight)
    share = _gamut_detail.share_of(new_L - L, new_C - C, weight_of_chroma(new_C))
    here = plane(on.gamut, on.source)
    return {
        "features": sight.features,
        "means": sight.means,
        "low": low,
        "high": high,
        "most": most,
        "least": least,
        "planes": np.stack([L, C, new_L - L, new_C - C]),
        "fitted": np.stack([new_L, new_C]),
        "share": share * weight,
        "turn": np.arctan2(y, x),
        "grid": here.chroma,
        "ends": np.array([here.low, here.high], np.float32),
    }


def _edges(on: Conditions, seed: int) -> Iterator[Case]:
    """Step edges between random colours of sRGB, half of them primaries, anywhere in a cell."""
    random = np.random.default_rng(seed)
    for trial in range(128):
        rgb = random.random((2, 3))
        if trial % 2:
            rgb = np.round(rgb) * random.uniform(0.3, 1, (2, 1))
        picture, edge = np.empty((8, 64, 3), np.float32), 30 + random.integers(0, 2 * CELL)
        picture[:, :edge], picture[:, edge:] = compensate(lab_from_device(rgb, srgb()), 0.0, on.black)
        yield _looked_at(picture, on)


def _fresh(seen: int) -> Numbers:
    random, sizes = np.random.default_rng(0), (seen, *SUMS, len(UNIT))
    large = [np.sqrt(2 / size) for size in sizes[:-2]] + [0.01]
    return [
        (random.normal(0, scale, (after, before)).astype(np.float32), np.zeros((after, 1), np.float32))
        for scale, before, after in zip(large, sizes, sizes[1:], strict=False)
    ]


def _kept(size: Array) -> Numbers:
    (weights, offsets), *middle, (last, last_offsets) = _gamut_detail.kept()
    return [(weights * size, offsets), *middle, (last / UNIT, last_offsets / UNIT)]


def _descend(numbers: Numbers, cases: list[Case], edges: list[Case], how: argparse.Namespace) -> Numbers:
    """Adam (Kingma and Ba 2014), one picture a step."""
    import jax
    import jax.numpy as jnp

    mean_near = float(np.mean([case["near"] for case in cases]))
    beside = {key: jnp.array(np.stack([edge[key] for edge in edges])) for key in edges[0]}

    def cost(numbers: Numbers, case: Case, edges: Case) -> Any:
        error, gradients, texture, faded = figures(numbers, case)
        over = jnp.maximum(halos(numbers, edges) - HALO, 0).sum()
        return error / mean_near + how.detail * gradients + how.structure * texture + FADING * faded + EDGES * over

    slope = jax.jit(jax.grad(cost))
    random, began, step = np.random.default_rng(how.seed), time.monotonic(), 0
    now, shape = jax.tree.flatten([tuple(map(jnp.array, layer)) for layer in numbers])
    mean = square = [jnp.zeros_like(part) for part in now]
    usual = 0.0
    while (done := (time.monotonic() - began) / (60 * how.minutes)) < 1:
        step += 1
        which = random.integers(0, len(edges), 48)
        some = {key: value[which] for key, value in beside.items()}
        found = slope(jax.tree.unflatten(shape, now), cases[random.integers(len(cases))], some)
        gradient = [jnp.nan_to_num(part) for part in jax.tree.leaves(found)]
        size = sum(float((part**2).sum()) for part in gradient) ** 0.5
        usual += (size - usual) * max(0.01, 1 / step)
        gradient = [part * min(1.0, 3 * usual / (size + 1e-9)) for part in gradient]
        now, mean, square = _adam(now, mean, square, gradient, how.rate * (1 - 0.97 * done), step)
        if step % 100 == 0:
            sys.stderr.write(f"\r{step} steps, {100 * done:.0f} %")
    numbers = jax.tree.unflatten(shape, now)
    halo = float(jax.jit(halos)(numbers, beside).max())
    sys.stderr.write(f"\r{step} steps; largest halo of {len(edges)} edges {halo:.2f} L*\n")
    return [(np.array(weights), np.array(offsets)) for weights, offsets in numbers]


def _adam(now: Any, mean: Any, square: Any, gradient: Any, rate: float, step: int) -> tuple[Any, Any, Any]:
    import jax.numpy as jnp

    mean = [0.95 * m + 0.05 * g for m, g in zip(mean, gradient, strict=True)]
    square = [0.99 * s + 0.01 * g * g for s, g in zip(square, gradient, strict=True)]
    moved = [
        part - rate * (m / (1 - 0.95**step)) / (jnp.sqrt(s / (1 - 0.99**step)) + 1e-8)
        for part, m, s in zip(now, mean, square, strict=True)
    ]
    return moved, mean, square


def _write(numbers: Numbers, size: Array, file: Path) -> None:
    (weights, offsets), *middle, (last, last_offsets) = numbers
    layers = [(weights / size, offsets), *middle, (last * UNIT, last_offsets * UNIT)]
    blocks = ("\n".join(" ".join(f"{value:.4g}" for value in row) for row in np.hstack(layer)) for layer in layers)
    file.write_text(HEAD + "\n\n".join(blocks) + "\n")


if __name__ == "__main__":
    main()
