"""gamut-fit: pull colours that the paper cannot hold back to where it can, and leave the rest alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from printprep.adjust._base import Adjustment, Stage
from printprep.adjust._gamut_plane import AREA, PIXEL, Plane, plane
from printprep.colour.hue import lab_from_oklab, visible_oklab
from printprep.colour.lab import Lab, cube_root, polar
from printprep.colour.solid import HUES, Solid
from printprep.conditions.conditions import Conditions

Array = NDArray[np.float32]

_POWER = 3  # sharpness of the knee
_AT_ONCE = 16384  # colours that stay in the processor's cache

NEAR_WHITE = (75.0, 87.0)
"""L* from which colours give way less, and from which they are handed over as they are."""

STRONG = (0.3, 0.7)
"""C*/(L* + 16) from which colours take part in what areas do, and at which in full: greys and skin stay apart."""

DARK = (12.0, 20.0)
"""L* from which colours take part, and at which in full: below, noise counts as saturated."""

_EXPOSED = (0.7 ** (1 / 3), 1.4 ** (1 / 3))
"""Bounds of what areas do, as factors of Oklab lightness: light times 0.7 to 1.4."""


@dataclass(frozen=True)
class GamutFit(Adjustment):
    """Fit colours into what the paper and the edit's own space both hold.

    Parameters
    ----------
    strength : float, 0 to 1
        1 fits everything but what is next to white, so that nothing else is left for the printer's conversion to
        clip; less leaves a part of the work to it; 0 does nothing.
    knee : float, share of the paper's chroma, 0.5 to 0.99
        Colours below this share of what the paper holds stay; those above move a little, those outside
        move in.
    lightness : float, 0 to 1
        How far lightness, and hue a little, may move to save chroma: 0 not at all, 1 as far as observers find
        worth it.
    glow : float, 0 to 1
        How far areas of strong colour that belong together move as one, so that their glow keeps its order;
        0 moves each colour by itself, and so do single colours whatever `glow` is.

    Raises
    ------
    ParameterError
        For a value that is no finite number in its range.

    Notes
    -----
    Hue is that of Oklab; CIELAB's would turn blues to purple. Lightness moves first, at the price that observers
    set (`printprep.adjust._gamut_plane`): areas by exposure (`field`), then each pixel by a little more, and with
    it hue by a few degrees where that saves much. Next to white colours are handed over as they are, for the
    printer's conversion to clip: nothing can then be darker there than in a print left alone, no petal loses its
    colour and no dark rim lies round a blown sun.

    With C the chroma asked for and M the largest that the gamut holds there, ``q = C / M`` becomes ``k + (q - k) /
    (1 + ((q - k) / s)^3)^(1/3)`` above the knee k, with s such that the source's own reach lands on 1: ours, after
    a form common in tone curves. Where the source reaches no further than the paper, nothing moves.

    Examples
    --------
    >>> import numpy as np
    >>> import printprep as pp
    >>> vivid = np.float32([[[60, 90, 60]]])
    >>> on = pp.Conditions(pp.paper("cotton-rag"), pp.room("office"))
    >>> bool(np.hypot(*pp.GamutFit()(vivid, on)[0, 0, 1:]) < 90)
    True
    """

    stage: ClassVar[Stage] = Stage.GAMUT
    most_strength: ClassVar[float] = 1.0

    strength: Annotated[float, Meta(ge=0, le=1)] = 1.0
    knee: Annotated[float, Meta(ge=0.5, le=0.99, description="share of the paper's chroma")] = 0.96
    lightness: Annotated[float, Meta(ge=0, le=1)] = 1.0
    glow: Annotated[float, Meta(ge=0, le=1)] = 1.0

    def idle(self, on: Conditions) -> bool:
        """Whether strength is 0."""
        return self.strength == 0

    def flat(self, on: Conditions) -> GamutFit:
        """The same with `glow` 0: a single colour moves as an area of its own would."""
        return replace(self, glow=0.0)

    def field(self, small: Lab, on: Conditions) -> Array | None:
        """By how much light areas move; see `Adjustment`."""
        amount = self.strength * self.glow * 3  # light goes as the cube of Oklab's lightness
        if amount == 0 or self.lightness == 0:
            return None
        here = plane(on.gamut, on.source)
        small = np.asarray(small, np.float32)
        return _in_parts(lambda lab: np.power(self._exposed(_entered(lab), lab, here), amount, dtype=np.float64), small)

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """See `Adjustment`; the result lies in ``on.gamut`` where strength is 1, but next to white."""
        lab = np.asarray(lab, np.float32)
        here = plane(on.gamut, on.source)
        out = _in_parts(lambda colours: self._fitted(colours, here, on), lab)
        if self.strength < 1:
            out = lab + np.float32(self.strength) * (out - lab)
        return out

    def _exposed(self, asked: Array, lab: Lab, here: Plane) -> Array:
        """The factor of Oklab lightness by which areas of (n, 3) colours move."""
        L = np.clip(asked[:, 0], np.float32(here.low), np.float32(here.high))
        C, hue = _polar(asked)
        most, _ = here(L, hue)
        factor = np.ones_like(L)
        over = np.flatnonzero(most < C)
        if len(over) == 0:
            return factor
        at = L[over]
        moved = np.float32(self.lightness) * here.slide(AREA, at, hue[over], C[over] - most[over])[0]
        moved *= _smooth(lab[over, 0], *DARK) * (1 - _smooth(lab[over, 0], *NEAR_WHITE))
        moved *= _smooth(polar(lab[over])[0] / (np.maximum(lab[over, 0], 0) + 16), *STRONG)
        factor[over] = np.clip((at + moved) / np.maximum(at, 1), *_EXPOSED)
        return factor

    def _fitted(self, lab: Lab, here: Plane, on: Conditions) -> Lab:
        asked = _entered(lab)
        if self.glow < 1 and self.lightness > 0:
            asked = asked * (self._exposed(asked, lab, here) ** np.float32(1 - self.glow))[:, None]
        L = np.clip(asked[:, 0], np.float32(here.low), np.float32(here.high))
        C, hue = _polar(asked)
        most, reach = here(L, hue)
        over = np.flatnonzero(most < C)
        if self.lightness > 0 and len(over):
            moved, turn = np.float32(self.lightness) * here.slide(PIXEL, L[over], hue[over], C[over] - most[over])
            hue[over] += turn * np.float32(HUES / 360)
            turn = np.radians(turn)
            cos, sin, (a, b) = np.cos(turn), np.sin(turn), asked[over, 1:].T
            asked[over, 1:] = np.stack([a * cos - b * sin, a * sin + b * cos], axis=-1)
            L[over] = np.clip(L[over] + moved, np.float32(here.low), np.float32(here.high))
            most[over], reach[over] = here(L[over], hue[over])
        q = _knee(np.asarray(C / most, np.float32), np.float32(self.knee), reach)
        share = np.minimum(q * most / np.maximum(C, np.float32(1e-9)), 1)
        out = _inside(np.stack([L, asked[:, 1] * share, asked[:, 2] * share], axis=-1), on.gamut)
        return out + _smooth(lab[:, 0], *NEAR_WHITE)[:, None] * (lab - out)


def _entered(lab: Lab) -> Array:
    oklab = visible_oklab(lab.astype(np.float64)).astype(np.float32)
    oklab[..., 1:][(lab[..., 1] == 0) & (lab[..., 2] == 0)] = 0  # greys are grey, not nearly grey
    return oklab


def _in_parts(function: Callable[[Array], Array], colours: Array) -> Array:
    """A pointwise function of (n, 3) colours, of so many at once as stay in the processor's cache."""
    flat = colours.reshape(-1, 3)
    parts = [function(flat[start : start + _AT_ONCE]) for start in range(0, len(flat), _AT_ONCE)]
    whole = np.concatenate(parts) if parts else function(flat)
    return whole.reshape(*colours.shape[:-1], *whole.shape[1:])


def _polar(colours: Array) -> tuple[Array, Array]:
    """Chroma, and hue in columns of a degree, of (n, 3) Oklab colours."""
    chroma, turn = polar(colours)
    return chroma, turn * np.float32(HUES / (2 * np.pi))


def _smooth(value: Array, start: float, end: float) -> Array:
    """0 up to `start`, 1 from `end` on, smooth between."""
    part = np.clip((value - np.float32(start)) / np.float32(end - start), 0, 1)
    return np.asarray(part * part * (3 - 2 * part), np.float32)


def _knee(q: Array, k: np.float32, reach: Array) -> Array:
    """Soft knee: identity to `k`, then bending so that `reach` lands on 1; never above 1."""
    top = np.maximum(reach, np.float32(1.0005)) - k
    room = 1 - k
    # over / (1 + (over / s)^3)^(1/3) passes through (top, room) with this s^3
    scale = (room * top) ** _POWER / (top**_POWER - room**_POWER)
    over = np.maximum(q - k, 0)
    return np.asarray(np.minimum(np.minimum(q, k) + over / cube_root(1 + over**_POWER / scale), 1), np.float32)


def _inside(fitted: Array, gamut: Solid) -> Lab:
    """Lab of Oklab colours, in the gamut; greys exactly grey. What rounding and grids left outside is cut, radially."""
    lab = np.asarray(lab_from_oklab(fitted.astype(np.float64)), np.float32)
    lab[(fitted[:, 1] == 0) & (fitted[:, 2] == 0), 1:] = 0
    lab[:, 0] = np.clip(lab[:, 0], np.float32(gamut.black_L), np.float32(gamut.white_L))
    chroma, turn = polar(lab)
    most = gamut.max_chroma(lab[:, 0], np.degrees(turn))
    lab[:, 1:] *= np.minimum(1, most / np.maximum(chroma, np.float32(1e-9)))[:, None].astype(np.float32)
    return lab
