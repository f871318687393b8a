"""Give colours back some of the strength that they lose in a dim room."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, ClassVar

import numpy as np
from msgspec import Meta

from printprep.adjust._base import Adjustment, Stage
from printprep.adjust._tone import View
from printprep.colour.appearance import colourfulness
from printprep.colour.lab import Lab, polar, xyz_from_lab
from printprep.conditions.conditions import Conditions
from printprep.conditions.room import Surround

DEFAULT = 0.5
"""Strength in rooms where colours look weaker than in the reference, where none is given."""

_MOST = 0.8  # of added chroma, so that chroma never falls where it should rise, see the Notes


@dataclass(frozen=True)
class RoomColour(Adjustment):
    """Raise chroma for a dim room, up to where the paper's gamut ends; greys stay as they are.

    Parameters
    ----------
    strength : float, 0 to 1.5, optional
        1 gives colours in the middle of the gamut the colourfulness they had in the reference viewing.
        Not given: 0.5 where colours look weaker than there, 0 where they look stronger.

    Raises
    ------
    ParameterError
        If `strength` is not a finite number in its range.

    Notes
    -----
    The Hunt effect: colours look weaker in less light. CIECAM16 (CIE 248:2022) has it in colourfulness
    M, which at 50 lx is 0.82 of what it is at 500 (chroma C and lightness J hardly move). The factor on
    chroma that evens M out is found for twelve hues of middle lightness under both luminances and
    surrounds; it is nearly the same for all, and their mean is used. Only part is made up for by
    default: a viewer knows that a dim room is dim.

    A colour's chroma C becomes ``C (1 + g (1 - r**2)**2)``, where r is the share of the gamut's chroma at
    its lightness and hue that it takes up: near the middle the whole gain g, at the boundary and beyond
    none, and no corner between. This rises with C for all g up to 1.25; g is held to 0.8. The form is
    ours; no source. Hue angle and L* are untouched.

    The colour temperature of the light asks for nothing here: see `printprep.adjust._tone`.

    Examples
    --------
    >>> import numpy as np
    >>> import printprep as pp
    >>> on = pp.Conditions(pp.paper("gloss"), pp.room("lux=60"))
    >>> print(pp.RoomColour()(np.float32([[50, 20, 0]]), on).round())
    [[50. 22.  0.]]
    """

    stage: ClassVar[Stage] = Stage.ROOM
    strength: Annotated[float, Meta(ge=0, le=1.5)] | None = None

    def _full(self, on: Conditions) -> float:
        view = View.of(on)
        return full_gain(view.reference, on.room.reference.surround, view.white, on.room.surround)

    def gain(self, on: Conditions) -> float:
        """What is added to chroma in the middle of the gamut, as a share of it.

        Examples
        --------
        >>> import printprep as pp
        >>> on = pp.Conditions(pp.paper("gloss"), pp.room("lux=500"))
        >>> round(pp.RoomColour().gain(on), 3)
        0.0
        """
        strength = self.resolved(on).strength
        assert strength is not None
        return min(strength * self._full(on), _MOST)

    def resolved(self, on: Conditions) -> RoomColour:
        """The step with its default strength for this room as a number."""
        if self.strength is not None:
            return self
        return RoomColour(strength=DEFAULT if self._full(on) > 0 else 0.0)

    def idle(self, on: Conditions) -> bool:
        """Whether colours look as strong as in the reference (to 0.2 %), or no change is asked for."""
        return abs(self.gain(on)) < 0.002

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Strengthen; see `Adjustment`."""
        if self.idle(on):
            return lab.copy()
        a, b = lab[..., 1], lab[..., 2]
        most = on.gamut.max_chroma(lab[..., 0], np.degrees(polar(lab)[1]))
        room = np.maximum(1 - (a * a + b * b) / np.maximum(most * most, np.float32(1e-6)), 0)
        scale = 1 + np.float32(self.gain(on)) * room * room
        return np.stack([lab[..., 0], a * scale, b * scale], axis=-1)


@lru_cache(maxsize=64)
def full_gain(reference: float, reference_surround: Surround, white: float, surround: Surround) -> float:
    """Share to add to chroma so that colourfulness is as in the reference; luminances of white, cd/m2."""
    hue = np.radians(np.arange(0, 360, 30))
    lab = np.stack([np.full(12, 50.0), 25 * np.cos(hue), 25 * np.sin(hue)], axis=-1)
    wanted = colourfulness(xyz_from_lab(lab), 0.2 * reference, reference_surround)
    factor = np.ones(12)
    for _ in range(6):  # M rises nearly in proportion to chroma, so this converges at once
        now = xyz_from_lab(lab * np.stack([factor**0, factor, factor], -1))
        factor = factor * wanted / colourfulness(now, 0.2 * white, surround)
    return float(factor.mean() - 1)
