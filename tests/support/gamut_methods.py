"""Published gamut mapping methods, to compare ours with."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from printprep.colour.icc import device_from_lab, lab_from_device
from printprep.colour.lab import lab_from_lch
from printprep.colour.solid import LEVELS, Solid
from tests.support.eye import lch_from_lab
from tests.support.gamut_profile import paper_profile

Array = NDArray[np.float32]
Method = Callable[[Array, Array, Solid, Solid], Array]
"""Asked print-referred Lab, Lab before compensation, the paper's and the source's solid, to printed Lab."""


def nearest_colour(asked: Array, before: Array, paper: Solid, source: Solid) -> Array:
    """Clipping to the nearest colour by dE*ab, after black point compensation (ISO 18619)."""
    return paper.nearest(asked)


def relative_bpc(asked: Array, before: Array, paper: Solid, source: Solid) -> Array:
    """LittleCMS, relative colorimetric with compensation, through a table profile of the paper."""
    profile = paper_profile(paper)
    device = np.clip(device_from_lab(asked, profile), 0, 1)
    return np.asarray(lab_from_device(device, profile), np.float32)


def hpminde(asked: Array, before: Array, paper: Solid, source: Solid) -> Array:
    """CIE 156:2004 HPMINDE: the nearest point of the boundary in the plane of the same CIELAB hue angle."""
    out = asked.copy()
    outside = ~paper.contains(asked)
    L, C, h = (lch_from_lab(asked[outside])[:, k] for k in range(3))
    stored = np.linspace(paper.floor_L, paper.white_L, LEVELS, dtype=np.float32)  # straight between these
    level = np.concatenate([[np.float32(paper.black_L)], stored[stored > paper.black_L]])
    got = np.empty((len(L), 2), np.float32)
    for start in range(0, len(L), 20_000):
        part = slice(start, start + 20_000)
        C_edge = paper.max_chroma(level[None], h[part, None])
        x0, y0 = level[None, :-1], C_edge[:, :-1]
        dx, dy = level[None, 1:] - x0, C_edge[:, 1:] - y0
        t = np.clip(((L[part, None] - x0) * dx + (C[part, None] - y0) * dy) / (dx * dx + dy * dy), 0, 1)
        x, y = x0 + t * dx, y0 + t * dy
        best = ((x - L[part, None]) ** 2 + (y - C[part, None]) ** 2).argmin(axis=1)[:, None]
        got[part, 0] = np.take_along_axis(x, best, 1)[:, 0]
        got[part, 1] = np.take_along_axis(y, best, 1)[:, 0]
    out[outside] = lab_from_lch(np.stack([got[:, 0], got[:, 1], h], axis=-1))
    return out


_SIGMOID = np.array([[5, 53.7, 43.0], [10, 56.8, 40.0], [15, 58.2, 35.0], [20, 60.6, 34.5]])
"""L*min, x0, sigma of Braun and Fairchild 1999, from memory."""


def sgck(asked: Array, before: Array, paper: Solid, source: Solid) -> Array:
    """CIE 156:2004 SGCK, chroma-dependent sigmoidal lightness and cusp knee scaling; equations from memory."""
    L, C, h = (lch_from_lab(before)[..., k] for k in range(3))
    black = paper.black_L
    p = 1 - np.sqrt(C**3 / (C**3 + 5e5))
    L = ((1 - p) * L + p * sigmoid(L, black)).astype(np.float32)
    L = np.clip(L, black, 100)
    anchor, _ = paper.cusp(h)
    d_o = np.hypot(L - anchor, C)
    length = np.maximum(d_o, 1e-6)
    ray = (((L - anchor) / length).astype(np.float32), (C / length).astype(np.float32))
    d_gr, d_go = _along(paper, anchor, ray, h), _along(source, anchor, ray, h)
    d_go = np.maximum(np.maximum(d_go, d_gr), d_o)
    knee = 0.9 * d_gr
    d_r = np.where(d_o <= knee, d_o, knee + (d_o - knee) * 0.1 * d_gr / np.maximum(d_go - knee, 1e-6))
    lch = np.stack([anchor + ray[0] * d_r, ray[1] * d_r, h], axis=-1).astype(np.float32)
    return np.asarray(lab_from_lch(lch))


def sigmoid(L: Array, black: float) -> Array:
    """Sigmoidal lightness rescaling (Braun and Fairchild 1999): 0..100 to `black`..100."""
    x0, sigma = (np.interp(black, _SIGMOID[:, 0], _SIGMOID[:, k]) for k in (1, 2))
    steps = np.arange(101)
    curve = np.cumsum(np.exp(-((steps - x0) ** 2) / (2 * sigma**2)))
    curve = black + (curve - curve[0]) / (curve[-1] - curve[0]) * (100 - black)
    return np.asarray(np.interp(L, steps, curve), np.float32)


def _along(solid: Solid, anchor: Array, ray: tuple[Array, Array], h: Array) -> Array:
    """Distance from (anchor, 0) along a ray of the hue plane to the boundary, by halving."""
    low, high = np.zeros_like(anchor), np.full_like(anchor, 220)
    for _ in range(18):
        mid = (low + high) / 2
        L = anchor + ray[0] * mid
        inside = (solid.max_chroma(L, h) >= ray[1] * mid) & (solid.black_L <= L) & (solid.white_L >= L)
        low, high = np.where(inside, mid, low), np.where(inside, high, mid)
    return low


METHODS: dict[str, Method] = {
    "nearest": nearest_colour,
    "relcol+BPC": relative_bpc,
    "HPMINDE": hpminde,
    "SGCK": sgck,
}
