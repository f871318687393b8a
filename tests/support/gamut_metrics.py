"""The figures by which gamut mapping is judged: asked against printed, picture by picture."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from printprep.colour.hue import oklab_from_lab
from printprep.colour.lab import xyz_from_lab
from printprep.colour.solid import Solid
from tests.support.solids import within

Array = NDArray[np.float32]

NAMES = (
    "hue Oklab", "hue IPT", "dE00", "moved", "detail", "structure", "lost %", "outside %",
)
BETTER = (-1, -1, -1, -1, 1, 1, -1, -1)
"""Whether more is better."""

FLOOR = 0.3
"""Variance, in compressed Lab, below which contrast and structure are not told from noise (our choice)."""

VISIBLE = 2.0
"""Texture counts as visible where its local standard deviation is over this (compressed Lab)."""


def judge(asked: Array, printed: Array, paper: Solid, outside: NDArray[np.bool_] | None = None) -> NDArray[np.float64]:
    """The figures of one picture, in the order of `NAMES`; NaN where there is nothing to judge.

    Parameters
    ----------
    asked, printed : (h, w, 3) ndarray
        Print-referred Lab, before and after.
    paper : Solid
        What the paper holds.
    outside : (h, w) ndarray of bool, optional
        Pixels more than 1 dE*ab outside, if known.
    """
    if outside is None:
        outside = ~within(paper, asked, 1.0)
    out = np.full(len(NAMES), np.nan)
    inner = np.hypot(asked[..., 1], asked[..., 2]) < 0.7 * paper.max_chroma(
        asked[..., 0], np.degrees(np.arctan2(asked[..., 2], asked[..., 1]))
    )
    if inner.any():
        out[3] = ciede2000(asked[inner], printed[inner]).mean()
    out[7] = 100 * (~within(paper, printed, 1.0)).mean()
    if outside.sum() < 50:
        return out
    a, p = asked[outside], printed[outside]
    out[0] = hue_shift(oklab_from_lab(a), oklab_from_lab(p))
    out[1] = hue_shift(ipt(a), ipt(p))
    out[2] = ciede2000(a, p).mean()
    x, y = compressed(asked), compressed(printed)
    wanted = kept = 0.0
    for axis in (0, 1):
        gx = np.linalg.norm(np.diff(x, axis=axis), axis=-1)
        gy = np.linalg.norm(np.diff(y, axis=axis), axis=-1)
        here = np.take(outside, range(gx.shape[axis]), axis)
        wanted += gx[here].sum()
        kept += np.minimum(gx, gy)[here].sum()
    out[4] = kept / max(wanted, 1e-9)
    var_x, var_y, cov = _moments(x, y)
    out[5] = ((2 * cov + FLOOR) / (var_x + var_y + FLOOR))[outside].mean()
    sx, sy = np.sqrt(var_x), np.sqrt(var_y)
    seen = outside & (sx > VISIBLE)
    if seen.any():
        out[6] = 100 * (sy < 0.3 * sx)[seen].mean()
    return out


STRONG = 30.0
"""C* from which a colour counts as strong."""

NEAR_WHITE = 88.0
"""L* above which tones count as near white."""


def chroma_kept(asked: Array, printed: Array, paper: Solid) -> float:
    """Share of their C* that strong colours keep which the paper cannot hold, on average; NaN where there are none.

    Strong: C* over 30, and over what the paper holds at that lightness and hue by more than 1.

    Parameters
    ----------
    asked, printed : (h, w, 3) ndarray
        Print-referred Lab.
    paper : Solid
        What the paper holds.
    """
    C = np.hypot(asked[..., 1], asked[..., 2])
    most = paper.max_chroma(asked[..., 0], np.degrees(np.arctan2(asked[..., 2], asked[..., 1])))
    strong = np.maximum(STRONG, most + 1) < C
    if not strong.any():
        return float("nan")
    return float(np.clip(np.hypot(printed[..., 1], printed[..., 2])[strong] / C[strong], 0, 1).mean())


def near_white(asked: Array, left_alone: Array, printed: Array) -> tuple[float, float]:
    """By how many L* near white is darker than in the print left alone: 99.9 % and the most; NaN under 200 pixels.

    Parameters
    ----------
    asked, left_alone, printed : (h, w, 3) ndarray
        Print-referred Lab; near white is where `asked` has L* over 88.
    """
    light = asked[..., 0] > NEAR_WHITE
    if light.sum() < 200:
        return float("nan"), float("nan")
    darker = (left_alone[..., 0] - printed[..., 0])[light]
    return float(max(np.quantile(darker, 0.999), 0)), float(max(darker.max(), 0))


def local_contrast(asked: Array, printed: Array, outside: NDArray[np.bool_]) -> float:
    """Share of local contrast that is left outside the gamut: standard deviations in windows of 5 x 5.

    With 1024 pixels along the short side of A4 those are 1 mm, a pixel 0.2 mm. What is added does not make up for
    what is lost elsewhere. NaN where nothing lies outside.
    """
    if not outside.any():
        return float("nan")
    var_x, var_y, _ = _moments(compressed(asked), compressed(printed), 5)
    sx, sy = np.sqrt(var_x)[outside], np.sqrt(var_y)[outside]
    return float(np.minimum(sx, sy).sum() / max(sx.sum(), 1e-9))


def halos(printed: Array, areas: NDArray[np.integer]) -> float:
    """By how many L* flat areas vary in print, at most: what a step edge lays beside itself.

    Parameters
    ----------
    printed : (h, w, 3) ndarray
        Lab.
    areas : (h, w) ndarray of int
        Which area a pixel belongs to, each of one asked colour; those of 0 are not judged.
    """
    most = 0.0
    for area in np.unique(areas[areas > 0]):
        L = printed[..., 0][areas == area]
        most = max(most, float(np.abs(L - np.median(L)).max()))
    return most


def order_of_glow(printed: Array, bands: NDArray[np.integer], pairs: int = 100_000) -> float:
    """Share of pairs, one band apart, of which the inner is printed lighter than the outer.

    Parameters
    ----------
    printed : (h, w, 3) ndarray
        Lab.
    bands : (h, w) ndarray of int
        Counted from the lamp's core outwards from 1, each asked darker than the one before; 0 is not judged.
    pairs : int
        How many are drawn, by a fixed seed, for each two bands.
    """
    random = np.random.default_rng(0)
    right = []
    for band in range(1, int(bands.max())):
        inner, outer = (random.choice(printed[..., 0][bands == k], pairs) for k in (band, band + 1))
        right.append((inner > outer).mean())
    return float(np.mean(right))


def ciede2000(one: Array, two: Array) -> Array:
    """CIEDE2000 of two arrays of Lab."""
    from skimage.color import deltaE_ciede2000

    return np.asarray(deltaE_ciede2000(one, two))


def ipt(lab: Array) -> Array:
    """IPT (Ebner and Fairchild 1998) of Lab under D50: XYZ adapted to D65 by Bradford, exponent 0.43."""
    adapt = np.linalg.inv(np.array([
        [1.0478400, 0.0228979, -0.0501808], [0.0295537, 0.9904924, -0.0170663], [-0.0092459, 0.0150633, 0.7518389],
    ]))
    lms = np.array([[0.4002, 0.7075, -0.0807], [-0.2280, 1.1500, 0.0612], [0.0, 0.0, 0.9184]])
    opponent = np.array([[0.4, 0.4, 0.2], [4.455, -4.851, 0.396], [0.8056, 0.3572, -1.1628]])
    cone = xyz_from_lab(np.asarray(lab, np.float64)) @ adapt.T @ lms.T
    return np.asarray((np.sign(cone) * np.abs(cone) ** 0.43) @ opponent.T)


def hue_shift(one: Array, two: Array) -> float:
    """Mean size of the change of hue angle, degrees."""
    turn = np.arctan2(one[..., 2], one[..., 1]) - np.arctan2(two[..., 2], two[..., 1])
    return float(np.degrees(np.abs((turn + np.pi) % (2 * np.pi) - np.pi)).mean())


def compressed(lab: Array) -> Array:
    """Lab with chroma in even steps: ln(1 + 0.045 C*) / 0.045."""
    C = np.hypot(lab[..., 1], lab[..., 2])
    share = np.where(C > 1e-6, np.log1p(0.045 * C) / (0.045 * np.maximum(C, 1e-6)), 1)
    return np.stack([lab[..., 0], lab[..., 1] * share, lab[..., 2] * share], axis=-1)


def _moments(x: Array, y: Array, side: int = 7) -> tuple[Array, Array, Array]:
    """Variances and covariance in windows of so many pixels a side, the three channels added up."""
    import cv2

    def mean(z: Array) -> Array:
        return np.asarray(cv2.blur(z.astype(np.float64), (side, side), borderType=cv2.BORDER_REFLECT))

    mx, my = mean(x), mean(y)
    parts = (mean(x * x) - mx * mx, mean(y * y) - my * my, mean(x * y) - mx * my)
    var_x, var_y, cov = (p.sum(axis=-1) for p in parts)
    return np.maximum(var_x, 0), np.maximum(var_y, 0), cov
