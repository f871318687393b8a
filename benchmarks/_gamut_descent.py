"""The figures of gamut mapping in a form that has derivatives (JAX), of what gamut-fit's spatial part does."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.gamut_metrics import FLOOR, VISIBLE
from printprep.adjust._gamut_detail import BENT, MOST_GIVEN
from printprep.adjust._gamut_look import CELL
from printprep.colour import hue
from printprep.colour.lab import D50

Numbers = list[tuple[NDArray[np.float32], NDArray[np.float32]]]
"""Weights and offsets of each layer, as `_gamut_detail.kept` has them, the last in `UNIT`."""

FADED = 0.45
"""Share of contrast below which texture is on its way to be lost (`judge` counts from 0.3)."""

UNIT = np.repeat(np.array([[1.0], [0.1]], np.float32), 13, axis=0)
"""Lightness of Oklab times 100, share of chroma: so that one size of step suits both."""


def mended(numbers: Numbers, case: Any) -> Any:
    """What `mend` gives, Oklab times 100, cut where the gamut ends."""
    import jax.numpy as jnp

    cells = case["features"]
    for weights, offsets in numbers[:-1]:
        cells = jnp.einsum("oc,chw->ohw", weights, cells) + offsets[..., None]
        cells = jnp.maximum(cells, BENT * cells)
    weights, offsets = numbers[-1]
    cells = (jnp.einsum("oc,chw->ohw", weights, cells) + offsets[..., None]) * UNIT[..., None]
    down, across = (jnp.array(_spread(size)) for size in case["share"].shape)

    def at_pixels(cells: Any) -> Any:
        return down @ cells @ across.T

    def change(cells: Any) -> Any:
        gains = cells[:-1].reshape(case["means"].shape)
        level = cells[-1] - (gains * case["means"]).sum(axis=(0, 1))
        return at_pixels(level) + (at_pixels(gains.sum(axis=0)) * case["planes"]).sum(axis=0)

    lift, part = change(cells[: len(cells) // 2]), change(cells[len(cells) // 2 :])
    share, grid, (low, high) = case["share"], case["grid"], case["ends"]
    new_L, new_C = case["fitted"]
    far = at_pixels(case["most"])
    L = new_L + share * jnp.clip(lift, -far, far)
    L = jnp.clip(jnp.clip(L, at_pixels(case["low"]), at_pixels(case["high"])), low, high)
    C = new_C * (1 + share * jnp.clip(part, at_pixels(case["least"]), MOST_GIVEN))
    turn, (rows, hues) = case["turn"], grid.shape
    row, column = jnp.clip((L - low) * (rows - 1) / (high - low), 0, rows - 1.001), turn * (hues / (2 * jnp.pi))
    i, j = row.astype(int), jnp.floor(column).astype(int)
    u, v = row - i, column - j
    j, after = j % hues, (j + 1) % hues
    most = (1 - u) * ((1 - v) * grid[i, j] + v * grid[i, after])
    most += u * ((1 - v) * grid[i + 1, j] + v * grid[i + 1, after])
    C = jnp.minimum(C, most)
    return jnp.stack([L, C * jnp.cos(turn), C * jnp.sin(turn)], axis=-1)


@cache
def _spread(size: int) -> NDArray[np.float32]:
    """Weights of cells at pixels along one side."""
    import cv2

    count = size // CELL
    alone = np.eye(count, dtype=np.float32)
    return np.hstack([cv2.resize(cell[:, None], (1, size), interpolation=cv2.INTER_LINEAR) for cell in alone])


def figures(numbers: Numbers, case: Any) -> tuple[Any, Any, Any, Any]:
    """CIEDE2000, share of gradients lost, structure lost, texture faded; see `benchmarks.gamut_metrics.judge`."""
    asked, printed, outside = case["lab"], _lab(mended(numbers, case)), case["outside"]
    x, y = _compressed(asked), _compressed(printed)
    error = (_ciede2000(asked, printed) * outside).sum() / outside.sum()
    structure, faded = _texture(x, y, outside)
    return error, 1 - _gradients(x, y, outside), 1 - structure, faded


def halos(numbers: Numbers, edges: Any) -> Any:
    """How far L* leaves the two sides of each step edge."""
    import jax
    import jax.numpy as jnp

    def one(edge: Any) -> Any:
        L = _lab(mended(numbers, edge))[4, :, 0]
        low, high = jnp.minimum(L[3], L[-4]), jnp.maximum(L[3], L[-4])
        return jnp.maximum((L - high).max(), (low - L).max())

    return jax.vmap(one)(edges)


def _length(pair: Any) -> Any:
    import jax.numpy as jnp

    return jnp.sqrt((pair**2).sum(axis=-1) + 1e-6)


def _lab(oklab: Any) -> Any:
    import jax.numpy as jnp

    cones = (oklab @ jnp.array(hue._OPPONENT_INVERSE / 100, jnp.float32).T) ** 3
    xyz = cones @ jnp.array(hue._CONES_INVERSE, jnp.float32).T / jnp.array(D50, jnp.float32)
    e, k = 216 / 24389, 24389 / 27  # CIE 15:2018
    f = jnp.where(xyz > e, jnp.cbrt(jnp.maximum(xyz, e)), (k * xyz + 16) / 116)
    return jnp.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1)


def _compressed(lab: Any) -> Any:
    import jax.numpy as jnp

    C = _length(lab[..., 1:])
    share = jnp.log1p(0.045 * C) / (0.045 * C)
    return jnp.stack([lab[..., 0], lab[..., 1] * share, lab[..., 2] * share], axis=-1)


def _gradients(x: Any, y: Any, outside: Any) -> Any:
    import jax.numpy as jnp

    kept = wanted = 0.0
    for axis in (0, 1):
        gx, gy = (jnp.sqrt((jnp.diff(z, axis=axis) ** 2).sum(axis=-1) + 1e-8) for z in (x, y))
        here = outside[:-1] if axis == 0 else outside[:, :-1]
        wanted += (gx * here).sum()
        kept += (jnp.minimum(gx, gy) * here).sum()
    return kept / wanted


def _texture(x: Any, y: Any, outside: Any) -> tuple[Any, Any]:
    """Structure kept, and how far visible texture has less than `FADED` of its contrast."""
    import jax.numpy as jnp

    mean = x.mean(axis=(0, 1))
    x, y = x - mean, y - mean
    mx, my = _window(x), _window(y)
    var_x = (_window(x * x) - mx * mx).sum(axis=-1)
    var_y = (_window(y * y) - my * my).sum(axis=-1)
    cov = (_window(x * y) - mx * my).sum(axis=-1)
    structure = ((2 * cov + FLOOR) / (var_x + var_y + FLOOR) * outside).sum() / outside.sum()
    seen = outside * (var_x > VISIBLE**2)
    kept = jnp.sqrt(jnp.maximum(var_y, 1e-4) / jnp.maximum(var_x, 1e-4))
    return structure, (seen * jnp.maximum(FADED - kept, 0)).sum() / jnp.maximum(seen.sum(), 1)


def _window(z: Any) -> Any:
    """Means over 7 x 7."""
    import jax.numpy as jnp

    rows, columns = z.shape[:2]
    z = jnp.pad(z, ((3, 3), (3, 3), (0, 0)), mode="symmetric")
    z = sum(z[k : k + rows] for k in range(7))
    return sum(z[:, k : k + columns] for k in range(7)) / 49


def _ciede2000(one: Any, two: Any) -> Any:
    """CIE 142:2001, with square roots kept off zero so that there are derivatives."""
    import jax.numpy as jnp

    def root(z: Any) -> Any:
        return jnp.sqrt(jnp.maximum(z, 1e-6))

    C1, C2 = _length(one[..., 1:]), _length(two[..., 1:])
    mean = (C1 + C2) / 2
    grown = 1 + 0.5 * (1 - root(mean**7 / (mean**7 + 25.0**7)))
    a1, b1, a2, b2 = one[..., 1] * grown, one[..., 2], two[..., 1] * grown, two[..., 2]
    C1, C2 = jnp.sqrt(a1**2 + b1**2 + 1e-6), jnp.sqrt(a2**2 + b2**2 + 1e-6)
    dL, dC = two[..., 0] - one[..., 0], C2 - C1
    dH = (a1 * b2 - a2 * b1) * jnp.sqrt(2 / (C1 * C2 + a1 * a2 + b1 * b2 + 1e-6))
    L, C = (one[..., 0] + two[..., 0]) / 2, (C1 + C2) / 2
    h = jnp.arctan2(b1 / C1 + b2 / C2, a1 / C1 + a2 / C2 + 1e-9)
    T = 1 - 0.17 * jnp.cos(h - jnp.pi / 6) + 0.24 * jnp.cos(2 * h)
    T += 0.32 * jnp.cos(3 * h + np.radians(6)) - 0.2 * jnp.cos(4 * h - np.radians(63))
    turn = 30 * jnp.exp(-(((jnp.degrees(h) % 360 - 275) / 25) ** 2))
    R = -jnp.sin(2 * jnp.radians(turn)) * 2 * root(C**7 / (C**7 + 25.0**7))
    SL = 1 + 0.015 * (L - 50) ** 2 / jnp.sqrt(20 + (L - 50) ** 2)
    SC, SH = 1 + 0.045 * C, 1 + 0.015 * C * T
    parts = (dL / SL) ** 2 + (dC / SC) ** 2 + (dH / SH) ** 2 + R * dC / SC * dH / SH
    return jnp.sqrt(jnp.maximum(parts, 1e-4))
