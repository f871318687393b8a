"""gamut-fit: pull colours that the paper cannot hold back to where it can, and leave the rest alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from printprep.adjust._base import Adjustment, Lab, Stage
from printprep.adjust._gamut_plane import Plane, plane
from printprep.colour.hue import lab_from_oklab, oklab_from_lab
from printprep.colour.solid import HUES, Solid
from printprep.conditions.conditions import Conditions

Array = NDArray[np.float32]

_REACH = (1.0, 2.5)  # how many times the paper's chroma the source may ask for before it is taken as less
_PULL = 3.2  # weight of chroma against lightness near grey
_FADE = 0.144  # and how it falls with Oklab chroma


@dataclass(frozen=True)
class GamutFit(Adjustment):
    """Fit colours into what the paper and the edit's own space both hold.

    Parameters
    ----------
    strength : float, 0 to 1
        1 fits everything, so that nothing is left for the printer's conversion to clip; less leaves a
        part of the work to it; 0 does nothing.
    knee : float, share of the paper's chroma, 0.5 to 0.99
        Colours below this share of what the paper holds stay; those above move a little, those outside
        move in.
    lightness : float, 0 to 1
        How far lightness may move to save chroma: 0 not at all, 1 as far as the visible error falls.
    detail : float, 0 to 1
        How much of the fine detail that fitting flattens is given back. 0 is pointwise.
    """

    stage: ClassVar[Stage] = Stage.GAMUT

    strength: Annotated[float, Meta(ge=0, le=1)] = 1.0
    knee: Annotated[float, Meta(ge=0.5, le=0.99, description="share of the paper's chroma")] = 0.9
    lightness: Annotated[float, Meta(ge=0, le=1)] = 1.0
    detail: Annotated[float, Meta(ge=0, le=1)] = 0.0

    def idle(self, on: Conditions) -> bool:
        """Whether strength is 0."""
        return self.strength == 0

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """See `Adjustment`; the result lies in ``on.gamut`` where strength is 1."""
        fitted = self._fit(np.asarray(lab, np.float32), on.gamut, on.source)
        if self.strength < 1:
            fitted = lab + np.float32(self.strength) * (fitted - lab)
        return fitted.astype(np.float32, copy=False)

    def _fit(self, lab: Array, gamut: Solid, source: Solid | None) -> Array:
        here = plane(gamut)
        asked = oklab_from_lab(lab)
        L = np.clip(asked[..., 0], here.low, here.high)
        C = np.hypot(asked[..., 1], asked[..., 2])
        hue = np.arctan2(asked[..., 2], asked[..., 1]) * np.float32(HUES / (2 * np.pi))
        if self.lightness > 0:
            L = L + np.float32(self.lightness) * _shift(here, L, C, hue)
        most = here(L, hue)
        reach = plane(source)(L, hue) / most if source is not None else np.full_like(most, 2.0)
        q = _knee(C / most, np.float32(self.knee), np.clip(reach, *_REACH))
        share = np.where(C > 0, q * most / np.maximum(C, 1e-9), 0).astype(np.float32)
        out = lab_from_oklab(np.stack([L, asked[..., 1] * share, asked[..., 2] * share], axis=-1))
        return _inside(out, lab, gamut)


def _shift(here: Plane, L: Array, C: Array, hue: Array) -> Array:
    """The change of lightness d that minimises ``d^2 + (w max(C - most(L + d), 0))^2``, by Gauss-Newton."""
    weight = np.square(np.float32(_PULL) / (1 + np.float32(_FADE) * C))
    d = np.zeros_like(L)
    for _ in range(3):
        at = np.clip(L + d, here.low, here.high)
        low, high = here(at - 1, hue), here(at + 1, hue)
        slope = (high - low) / 2
        lost = np.maximum(C - here(at, hue), 0)
        d = d - (d - weight * lost * slope) / (1 + weight * slope * slope)
    return np.clip(L + d, here.low, here.high) - L


def _knee(q: Array, k: np.float32, reach: Array) -> Array:
    """Soft knee: identity to `k`, then bending so that `reach` lands on 1."""
    p = 2.0
    over = np.maximum(q - k, 0)
    room = (1 - k)
    top = np.maximum(reach, 1.0 + 1e-3) - k
    # top / (1 + (top / s)^p)^(1/p) = room
    s = room * top / np.power(top**p - room**p, 1 / p)
    y = np.minimum(q, k) + over / np.power(1 + (over / s) ** p, 1 / p)
    return np.minimum(y, 1).astype(np.float32)


def _inside(out: Array, asked: Array, gamut: Solid) -> Array:
    """What rounding and the grids left outside, along the radius; greys exactly grey."""
    out[..., 0] = np.clip(out[..., 0], gamut.black_L, gamut.white_L)
    chroma = np.hypot(out[..., 1], out[..., 2])
    most = gamut.max_chroma(out[..., 0], np.degrees(np.arctan2(out[..., 2], out[..., 1])))
    share = np.minimum(1, most / np.maximum(chroma, np.float32(1e-9)))
    grey = (asked[..., 1] == 0) & (asked[..., 2] == 0)
    out[..., 1:] *= np.where(grey, 0, share)[..., None]
    return out
