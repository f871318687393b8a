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
- Detail (`_gamut_look`, `_gamut_detail`; figures over 327 pictures on seven papers, and in brackets the 225 of them
  not learnt from): pointwise fitting keeps 0.886 of the gradients at 0.858 of CIEDE2000, structure 0.954; now 0.942,
  0.927, 0.966 (0.944, 0.902, 0.967). Forms before: 30 lines of sums over 9 x 9 pixels with ten constants found by
  descent, 0.917 at 0.896, 0.959; 16 sums of 19 numbers at every pixel, 0.933 at 0.921, 0.967, with 0.03 % of texture
  lost (now 0.005), in more than twice the time. Gains by cells see contrast and how it goes together, at a sixteenth
  of the cost. What gained nothing there: 32 sums instead of 24, hue and lightness among what is seen, surroundings of
  28 pixels, a gain for each of the three means at the pixel, squares of pixels instead of means of 2 x 2, heavier
  weights on detail (0.0001 for 0.001).
- A pixel takes part by what it lost itself, in full from 0.4: from 0.3 structure gains 0.001, but small losses then
  make large changes, and tables are off by a third more; from 1.0 structure loses 0.001.
- Texture is given back where the mean of a block lies outside the paper. Blocks of 4 x 4 pixels instead of 8 x 8 gave
  0.005 of detail for 0.014 of CIEDE2000, five times what heavier weights in the descent give for that; 2 x 2 gave 0.004
  more for 0.016, but leave little of what a base is. How far outside is told from the boundary alone: what fitting
  does to the mean tells no more, in three times the work.
- The knee at 0.96 instead of 0.93 saves 0.003 of CIEDE2000 and costs tables 5 % of their error.
- Cuts along Oklab's radius where giving back left the gamut hold hue; along CIELAB's they keep colours nearer by
  0.0003 of CIEDE2000 and turn hue by 0.02 degrees more: half of each.
- Halos: a penalty on step edges alone left 1.3 L* at some, and cost 0.015 of CIEDE2000 where it was heavy; bounds by
  the range nearby and by texture keep them small, and with those a penalty costs next to nothing. Lightness moved by
  four beside what is flat left 2.3 L* at some of 480 edges; by one, with more where there is texture, 0.9 at most, and
  costs 0.001 of detail.
- What more there is: minimising CIEDE2000, lost gradients and lost structure together, picture by picture (150 steps,
  18 pictures), finds 0.98 at less CIEDE2000, also within the bound that keeps halos away, but with structure 0.951:
  most of that is noise of the right size. Chroma in even steps (a logarithm) made tables coarse where the gamut ends,
  and gained nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from printprep.adjust._base import BLOCK, Adjustment, Box, Lab, Planes, Spread, Stage, channels
from printprep.adjust._blocks import at_pixels, block_means
from printprep.adjust._gamut_detail import mend, weigh
from printprep.adjust._gamut_look import AROUND
from printprep.adjust._gamut_plane import Plane, plane
from printprep.colour.hue import lab_from_oklab, visible_oklab
from printprep.colour.solid import HUES, Solid
from printprep.conditions.conditions import Conditions

Array = NDArray[np.float32]

_POWER = 3  # sharpness of the knee
_ROWS = 32  # rows that are looked around in at once
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
        move in. The default costs 0.001 of CIEDE2000 against 0.99 and is smoother.
    lightness : float, 0 to 1
        How far lightness may move to save chroma: 0 not at all, 1 as far as the visible error falls.
    detail : float, 0 to 1
        How much of the fine detail that fitting flattens is given back, in view of each pixel's
        neighbours. 0 is pointwise, and so are single colours whatever `detail` is.

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
    knee: Annotated[float, Meta(ge=0.5, le=0.99, description="share of the paper's chroma")] = 0.96
    lightness: Annotated[float, Meta(ge=0, le=1)] = 1.0
    detail: Annotated[float, Meta(ge=0, le=1)] = 1.0

    def idle(self, on: Conditions) -> bool:
        """Whether strength is 0."""
        return self.strength == 0

    def reach(self, on: Conditions) -> int:
        """Three blocks, unless `detail` is 0."""
        return AROUND * BLOCK if self.detail > 0 else 0

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """See `Adjustment`; the result lies in ``on.gamut`` where strength is 1.

        Colours that are no picture, of any other shape than (height, width, 3), are fitted pointwise.
        """
        lab = np.asarray(lab, np.float32)
        parts = _Parts(self, plane(on.gamut, on.source), on.gamut)
        asked = parts.enter(lab)
        fitted = parts.fit(asked)
        if self.detail > 0 and lab.ndim == 3 and lab.size:
            weight = parts.weigh(block_means(asked))
            if weight.any():
                fitted = _mended(parts, asked, fitted, at_pixels(weight, 0, lab.shape[0], 0, lab.shape[1]))
        out = parts.leave(fitted)
        if self.strength < 1:
            out = lab + np.float32(self.strength) * (out - lab)
        return out

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

    @property
    def around(self) -> int:
        return AROUND

    def enter(self, lab: Lab) -> Array:
        oklab = visible_oklab(lab).astype(np.float32, copy=False)
        oklab[..., 1:][(lab[..., 1:] == 0).all(axis=-1)] = 0  # greys are grey, not nearly grey
        return oklab

    def fit(self, asked: Array) -> Array:
        return _in_parts(self._fit, asked)

    def weigh(self, means: Array) -> Array:
        return np.float32(self.step.detail) * _in_parts(self._weigh, means)

    def mend(self, asked: Planes, fitted: Planes, weight: Array, inner: Box) -> Planes:
        return mend(asked, fitted, weight, inner)

    def leave(self, mended: Array) -> Array:
        return _in_parts(self._leave, mended)

    def _fit(self, asked: Array) -> Array:
        L, share = _fitted(asked, self.here, self.step)
        return np.stack([L, asked[:, 1] * share, asked[:, 2] * share], axis=-1)

    def _weigh(self, means: Array) -> Array:
        L = np.clip(means[:, 0], np.float32(self.here.low), np.float32(self.here.high))
        C, hue = _polar(means)
        most, _ = self.here(L, hue)
        return weigh(np.abs(means[:, 0] - L), C, most)

    def _leave(self, mended: Array) -> Array:
        lab = lab_from_oklab(mended)
        share = _share(lab, self.gamut)
        over = np.flatnonzero(share < 1)
        if len(over):  # half of the way along Oklab's radius, which holds hue; CIELAB's keeps colours nearer
            cut = mended[over]
            cut[:, 1:] *= np.sqrt(share[over])[:, None]
            lab[over] = lab_from_oklab(cut)
        return _inside(lab, mended, self.gamut)


def _mended(parts: _Parts, asked: Array, fitted: Array, weight: Array) -> Array:
    """`mend` of a whole picture, some rows at a time: it holds many planes at once."""
    height, width, _ = asked.shape
    margin = parts.around * BLOCK
    out = np.empty_like(fitted)
    for top in range(0, height, _ROWS):
        end, first = min(height, top + _ROWS), max(0, top - margin)
        near = slice(first, end + margin)
        inner = slice(top - first, end - first), slice(0, width)
        mended = parts.mend(channels(asked[near]), channels(fitted[near]), weight[top:end], inner)
        out[top:end] = np.stack(mended, axis=-1)
    return out


def _in_parts(function: Callable[[Array], Array], colours: Array) -> Array:
    """A pointwise function of (n, 3) colours, of so many at once as stay in the processor's cache."""
    flat = colours.reshape(-1, 3)
    parts = [function(flat[start : start + _AT_ONCE]) for start in range(0, len(flat), _AT_ONCE)]
    whole = np.concatenate(parts) if parts else function(flat)
    return whole.reshape(*colours.shape[:-1], *whole.shape[1:])


def _polar(colours: Array) -> tuple[Array, Array]:
    """Chroma, and hue in columns of a degree, of (n, 3) Oklab colours."""
    hue = np.arctan2(colours[:, 2], colours[:, 1]) * np.float32(HUES / (2 * np.pi))
    return np.hypot(colours[:, 1], colours[:, 2]), hue


def _fitted(asked: Array, here: Plane, step: GamutFit) -> tuple[Array, Array]:
    """Fitted lightness, and the factor of chroma, of (n, 3) Oklab colours (times 100)."""
    L = np.clip(asked[:, 0], np.float32(here.low), np.float32(here.high))
    C, hue = _polar(asked)
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


def _share(lab: Array, gamut: Solid) -> Array:
    """What share of their chroma the gamut holds."""
    L = np.clip(lab[:, 0], np.float32(gamut.black_L), np.float32(gamut.white_L))
    most = gamut.max_chroma(L, np.degrees(np.arctan2(lab[:, 2], lab[:, 1])))
    return np.asarray(np.minimum(1, most / np.maximum(np.hypot(lab[:, 1], lab[:, 2]), np.float32(1e-9))), np.float32)


def _inside(out: Array, asked: Array, gamut: Solid) -> Array:
    """What rounding and the grids left outside, along the radius; greys exactly grey."""
    out[:, 0] = np.clip(out[:, 0], np.float32(gamut.black_L), np.float32(gamut.white_L))
    share = _share(out, gamut)
    share[(asked[:, 1] == 0) & (asked[:, 2] == 0)] = 0
    out[:, 1:] *= share[:, None]
    return out
