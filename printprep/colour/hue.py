"""A space in which lines of constant hue are straight: Oklab, from Lab under D50 and back."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from printprep.colour.grid import Ring
from printprep.colour.lab import D50, Floats, lab_from_xyz, polar, xyz_from_lab

# Ottosson, "A perceptual color space for image processing", 2020: XYZ (D65) to cone-like signals,
# and their cube roots to Oklab.
_M1 = np.array([
    [0.8189330101, 0.3618667424, -0.1288597137],
    [0.0329845436, 0.9293118715, 0.0361456387],
    [0.0482003018, 0.2643662691, 0.6338517070],
])
_M2 = np.array([
    [0.2104542553, 0.7936177850, -0.0040720468],
    [1.9779984951, -2.4285922050, 0.4505937099],
    [0.0259040371, 0.7827717662, -0.8086757660],
])
# Bradford, D50 to D65: the inverse of ICC.1's adaptation matrix
_D65_TO_D50 = np.array([
    [1.0478400, 0.0228979, -0.0501808],
    [0.0295537, 0.9904924, -0.0170663],
    [-0.0092459, 0.0150633, 0.7518389],
])
_CONES = _M1 @ np.linalg.inv(_D65_TO_D50)
_CONES /= (_CONES @ np.array(D50))[:, None]  # greys exactly grey: white gives 1, 1, 1
_OPPONENT = _M2.copy()
_OPPONENT[0] /= _OPPONENT[0].sum()
_OPPONENT[1:] -= _OPPONENT[1:].sum(axis=1, keepdims=True) / 3
_CONES_INVERSE, _OPPONENT_INVERSE = np.linalg.inv(_CONES), np.linalg.inv(_OPPONENT)


def oklab_from_lab(lab: ArrayLike) -> Floats:
    """Oklab times 100, (..., 3), of CIELAB colours under D50: L 0..100 as there; greys have a = b = 0.

    Colours beyond the spectrum keep a finite value: cube roots keep their sign.
    """
    xyz = xyz_from_lab(lab)
    return _through(np.cbrt(_through(xyz, _CONES)), 100 * _OPPONENT)


_LEAST_CONE, _MOST_TURN = 0.03, 46.0
"""Where Oklab stops telling hues: a cone signal below this share of luminance, or a CIELAB hue that has
turned by more than this many degrees on its way out from grey."""

_EASE = 0.85
"""Share of that chroma from which colours are eased back."""

_LIGHTS, _TURNS = 65, 120


def visible_oklab(lab: ArrayLike) -> Floats:
    """Oklab as by `oklab_from_lab`, of colours eased back first to where Oklab tells their hue.

    Oklab takes cube roots of cone signals; near and beyond the spectrum one of them falls to zero and below, and the
    hue turns round: imaginary blues, as of ROMM RGB, become green. So chroma beyond what Oklab can tell is first
    compressed along CIELAB lines, smoothly and in order. All of sRGB stays.
    """
    lab = np.asarray(lab)
    C, turn = polar(lab)
    row = np.sqrt(np.clip(lab[..., 0], 1, 100) / 100) * (_LIGHTS - 1)
    column = turn * (_TURNS / (2 * np.pi))
    most = _limit()(row.astype(np.float32), column.astype(np.float32))[0]
    most *= np.clip(lab[..., 0], 1e-6, 1).astype(np.float32)  # below L* 1 CIELAB is linear in light
    over = np.maximum(C - _EASE * most, 0)
    room = (1 - _EASE) * most
    share = np.where(over > 0, (_EASE * most + room * over / (room + over)) / np.maximum(C, 1e-6), 1).astype(lab.dtype)
    return oklab_from_lab(np.stack([lab[..., 0], lab[..., 1] * share, lab[..., 2] * share], axis=-1))


@cache
def _limit() -> Ring:
    """Largest CIELAB chroma at which Oklab tells the hue, over lightness (in square roots) and hue."""
    L = 100 * np.square(np.linspace(0, 1, _LIGHTS))[:, None]
    h = np.arange(_TURNS) * (2 * np.pi / _TURNS)
    cos, sin = np.cos(h), np.sin(h)

    def oklab(C: Floats) -> tuple[Floats, Floats]:
        lab = np.stack(np.broadcast_arrays(np.maximum(L, 1.0), C * cos, C * sin), axis=-1)
        cones = _through(xyz_from_lab(lab), _CONES)
        ok = _through(np.cbrt(cones), _OPPONENT)
        return np.arctan2(ok[..., 2], ok[..., 1]), cones.min(axis=-1) / xyz_from_lab(lab)[..., 1]

    start, _ = oklab(np.full((_LIGHTS, _TURNS), 2.0))
    low, high = np.full((_LIGHTS, _TURNS), 2.0), np.full((_LIGHTS, _TURNS), 250.0)
    for _ in range(10):
        middle = (low + high) / 2
        hue, least = oklab(middle)
        turned = np.degrees(np.abs((hue - start + np.pi) % (2 * np.pi) - np.pi))
        good = (least > _LEAST_CONE) & (turned < _MOST_TURN)
        low, high = np.where(good, middle, low), np.where(good, high, middle)
    return Ring(low.astype(np.float32))


def lab_from_oklab(oklab: ArrayLike) -> Floats:
    """Undo `oklab_from_lab`."""
    root = _through(np.asarray(oklab), np.asarray(_OPPONENT_INVERSE / 100))
    return lab_from_xyz(_through(root * root * root, _CONES_INVERSE))


def _through(colours: Floats, matrix: Floats) -> Floats:
    """Three-vectors through a matrix, in their own precision; einsum would be three times as slow."""
    out = np.empty_like(colours)
    one, two, three = colours[..., 0], colours[..., 1], colours[..., 2]
    for k, (a, b, c) in enumerate(matrix.astype(colours.dtype)):
        np.multiply(one, a, out=out[..., k])
        out[..., k] += two * b
        out[..., k] += three * c
    return out
