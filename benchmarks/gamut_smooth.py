"""How smooth gamut mapping is: second differences of ramps through a gamut."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

import printprep as pp
from printprep.adjust.gamut_fit import GamutFit
from printprep.colour.lab import lab_from_lch
from printprep.conditions.conditions import Conditions
from tests.support.gamut_methods import METHODS, Method

Array = NDArray[np.float32]


def smoothness(sheets: dict[str, pp.Paper]) -> str:
    """Largest, 99 % and mean of the largest second difference of each ramp, dE*ab, on every paper."""
    lines = []
    for name, paper in sheets.items():
        on = pp.Pipeline([pp.GamutFit()], paper=paper, room=pp.Room()).conditions("ROMM RGB")
        for method in ("nearest", "HPMINDE", "ours, pointwise"):
            bends = bend(METHODS.get(method), on)
            lines.append(f"{name:14}{method:16} {bends.max():6.2f} {np.quantile(bends, 0.99):6.2f} {bends.mean():6.2f}")
    return "\n".join(lines)


def bend(method: Method | None, on: Conditions) -> Array:
    """Largest second difference of each of many ramps through a gamut; ours where no method is given."""
    found = []
    for ramp in ramps(on.black):
        if method is None:
            out = GamutFit()(ramp, on)  # a list of colours is no picture: pointwise
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
