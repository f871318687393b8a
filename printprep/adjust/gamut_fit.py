"""gamut-fit: pull colours that the paper cannot hold back to where it can, and leave the rest alone.

How it works, and what was tried and lost (figures: CIEDE2000 asked against printed as a share of nearest colour's,
gradient kept, structure; `python -m benchmarks.gamut`, tuned on two papers and ten photographs, judged on others):

- Hue is held in Oklab. CIELAB turns blues to purple; IPT, in which hue is judged too, moves by 0.3 degree.
- Lightness gives way where that saves chroma (`_gamut_plane`). The best shift jumps between sides of a ridge and has
  corners; a soft minimum over all shifts took the jumps out and raised detail by 0.007. Gauss-Newton steps found
  worse shifts (detail 0.879 against 0.916). A slow onset of the shift saved no table error and cost CIEDE2000.
- Most of what was rough lies in the paper: near white the boundary falls by 3 to 8 C* for each L*, and over hue
  yellow's ridge there falls by a quarter in a degree. Rounding that ridge halved the largest second difference and
  the error of tables, and changed none of the figures by more than 0.005.
- Weights that fall with chroma keep texture, but left pure primaries pale (sRGB green at C* 24 of 111): the weight
  now rises with the excess. Constant weights kept them too, at 0.02 of detail.
- Imaginary colours: Oklab turns the blue of ROMM RGB to green, because cone signals there are negative. Mixing with
  grey along the dominant wavelength left it green; easing chroma along CIELAB's lines does not.
- Detail (`_gamut_detail`): moving each neighbourhood as one before fitting its pixels gained most when lightness
  moved with it (shrinking chroma alone lost 0.09 of CIEDE2000 and gained nothing). Adding lost chroma back as
  lightness lost structure. A full vector in CIELAB gained 0.01 more but turned hue by 0.6 degree. A guided filter
  kept halos of 4 L* and half the gain; fading to the pointwise result where neighbours disagree leaves under 1 L*.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from printprep.adjust._base import BLOCK, Adjustment, Lab, Spread, Stage
from printprep.adjust._gamut_detail import AROUND, blocks, moved_along, moves, spread
from printprep.adjust._gamut_plane import Plane, plane
from printprep.colour.hue import lab_from_oklab, visible_oklab
from printprep.colour.solid import HUES, Solid
from printprep.conditions.conditions import Conditions

Array = NDArray[np.float32]

_POWER = 3  # sharpness of the knee
_AT_ONCE = 16384  # colours that stay in the processor's cache


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
        move in. The default loses 0.01 of CIEDE2000 against 0.99 and is smoother.
    lightness : float, 0 to 1
        How far lightness may move to save chroma: 0 not at all, 1 as far as the visible error falls.
    detail : float, 0 to 1
        How much of the fine detail that fitting flattens is given back, by moving neighbourhoods as
        one. 0 is pointwise, and so are single colours whatever `detail` is.

    Raises
    ------
    ParameterError
        For a value that is no finite number in its range.

    Notes
    -----
    In Oklab, with C the chroma asked for and M the largest that the gamut holds at that lightness and
    hue: lightness moves first (`Plane.slide`), then ``q = C / M`` becomes ``k + (q - k) / (1 + ((q - k)
    / s)^3)^(1/3)`` above the knee k, with s such that the source's own reach lands on 1. Ours, after a
    form common in tone curves. Where the source reaches no further than the paper, nothing moves.
    """

    stage: ClassVar[Stage] = Stage.GAMUT

    strength: Annotated[float, Meta(ge=0, le=1)] = 1.0
    knee: Annotated[float, Meta(ge=0.5, le=0.99, description="share of the paper's chroma")] = 0.93
    lightness: Annotated[float, Meta(ge=0, le=1)] = 1.0
    detail: Annotated[float, Meta(ge=0, le=1)] = 1.0

    def idle(self, on: Conditions) -> bool:
        """Whether strength is 0."""
        return self.strength == 0

    def reach(self, on: Conditions) -> int:
        """Four blocks, unless `detail` is 0."""
        return AROUND * BLOCK if self.detail > 0 else 0

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """See `Adjustment`; the result lies in ``on.gamut`` where strength is 1.

        Colours that are no picture, of any other shape than (height, width, 3), are fitted pointwise.
        """
        lab = np.asarray(lab, np.float32)
        parts = _Parts(self, plane(on.gamut, on.source), on.gamut)
        asked = parts.enter(lab).reshape(-1, 3)
        out = np.empty_like(asked)
        for start in range(0, len(asked), _AT_ONCE):
            part = slice(start, start + _AT_ONCE)
            out[part] = parts.rest(asked[part])
        if self.detail > 0 and lab.ndim == 3 and lab.size:
            field = parts.field(blocks(asked.reshape(lab.shape)))
            field = spread(field, *lab.shape[:2]).reshape(-1, 4)
            moving = np.flatnonzero(field[:, 3])
            if len(moving):
                mixed = out[moving]
                together = parts.rest(parts.move(asked[moving], field[moving]))
                mixed += field[moving, 3:] * (together - mixed)
                out[moving] = _inside(mixed, asked[moving], on.gamut)  # mixtures may bulge out
        if self.strength < 1:
            out = lab.reshape(-1, 3) + np.float32(self.strength) * (out - lab.reshape(-1, 3))
        return out.reshape(lab.shape)

    def flat(self, on: Conditions) -> GamutFit:
        """The same with `detail` 0."""
        return replace(self, detail=0.0)

    def spread(self, on: Conditions) -> Spread | None:
        """The fast form, where `detail` is not 0 and `strength` is 1."""
        if self.detail == 0 or self.strength < 1:
            return None
        return _Parts(self, plane(on.gamut, on.source), on.gamut)


@dataclass(frozen=True)
class _Parts:
    """A fit under given conditions, as the parts of `Spread`."""

    step: GamutFit
    here: Plane
    gamut: Solid

    def enter(self, lab: Lab) -> Array:
        oklab = visible_oklab(lab).astype(np.float32, copy=False)
        oklab[..., 1:][(lab[..., 1:] == 0).all(axis=-1)] = 0  # greys are grey, not nearly grey
        return oklab

    @property
    def around(self) -> int:
        return AROUND

    def field(self, base: Array) -> Array:
        return moves(base, self.here, self.step.lightness)

    def move(self, asked: Array, field: Array) -> Array:
        return moved_along(asked, field, self.step.detail)

    def rest(self, oklab: Array) -> Array:
        L, share = _fitted(oklab, self.here, self.step)
        out = lab_from_oklab(np.stack([L, oklab[:, 1] * share, oklab[:, 2] * share], axis=-1))
        return _inside(out, oklab, self.gamut)


def _fitted(asked: Array, here: Plane, step: GamutFit) -> tuple[Array, Array]:
    """Fitted lightness, and the factor of chroma, of (n, 3) Oklab colours (times 100)."""
    L = np.clip(asked[:, 0], np.float32(here.low), np.float32(here.high))
    C = np.hypot(asked[:, 1], asked[:, 2])
    hue = np.arctan2(asked[:, 2], asked[:, 1]) * np.float32(HUES / (2 * np.pi))
    most, reach = here(L, hue)
    over = np.flatnonzero(most < C)
    if step.lightness > 0 and len(over):
        moved = np.float32(step.lightness) * here.slide(L[over], hue[over], C[over] - most[over])
        L[over] = np.clip(L[over] + moved, np.float32(here.low), np.float32(here.high))
        most[over], reach[over] = here(L[over], hue[over])
    q = _knee(np.asarray(C / most, np.float32), np.float32(step.knee), reach)
    return L, np.minimum(q * most / np.maximum(C, np.float32(1e-9)), 1)


def _knee(q: Array, k: np.float32, reach: Array) -> Array:
    """Soft knee: identity to `k`, then bending so that `reach` lands on 1; never above 1."""
    top = np.maximum(reach, np.float32(1.0005)) - k
    room = 1 - k
    # over / (1 + (over / s)^3)^(1/3) passes through (top, room) with this s^3
    scale = (room * top) ** _POWER / (top**_POWER - room**_POWER)
    over = np.maximum(q - k, 0)
    return np.asarray(np.minimum(np.minimum(q, k) + over / np.cbrt(1 + over**_POWER / scale), 1), np.float32)


def _inside(out: Array, asked: Array, gamut: Solid) -> Array:
    """What rounding and the grids left outside, along the radius; greys exactly grey."""
    out[:, 0] = np.clip(out[:, 0], np.float32(gamut.black_L), np.float32(gamut.white_L))
    chroma = np.hypot(out[:, 1], out[:, 2])
    most = gamut.max_chroma(out[:, 0], np.degrees(np.arctan2(out[:, 2], out[:, 1])))
    share = np.minimum(1, most / np.maximum(chroma, np.float32(1e-9)))
    share[(asked[:, 1] == 0) & (asked[:, 2] == 0)] = 0
    out[:, 1:] *= share[:, None]
    return out
