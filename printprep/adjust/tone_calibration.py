"""Undo what a paper does to tones, as it was read by eye from a printed target."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, ClassVar

import numpy as np
from msgspec import Meta

from printprep.adjust import _tone
from printprep.adjust._base import Adjustment, Stage
from printprep.colour.lab import Lab
from printprep.conditions.conditions import Conditions
from printprep.conditions.viewing import in_edit, on_print

MIDDLE = 50.0
"""L* of the tone that `mid` is read against."""

_READY = 0.8
"""L* of the edit at which the toe's offset is there in full: below the first step that a target has, L* 1."""

_END = 75.0
"""L* on the print from which the toe leaves tones alone."""


@dataclass(frozen=True)
class ToneCalibration(Adjustment):
    """Ask the paper for other tones, so that it shows those that were meant.

    Parameters
    ----------
    first_dark : float, L*, 1 to 24
        The darkest tone of an edit that this print shows apart from its black, in good light; 1 where nothing is
        lost.
    mid : float, L*, 35 to 65
        The tone of an edit that prints as light as 50 should; 50 where it is right.
    strength : float, 0 to 1
        0 does nothing, 1 undoes it all.

    Raises
    ------
    ParameterError
        If a value is not a finite number in its range.

    Notes
    -----
    What a paper (or its profile, or its ink) swallows next to black is one black. So black stays, the tone of L* 1
    is asked for where `first_dark` was meant, tones between black and it rise steeply to there, unseen since the
    paper prints them black, and all lighter tones move by what is left of that offset, which falls to nothing
    at L* 75 on the print (a parabola). The middle moves along ``16 u**2 (1 - u)**2``, u the edit's L* / 100,
    which leaves black and white alone. Both rise everywhere, and one step more or less in a reading moves no
    tone by over 1 L*. The forms are ours; no source.

    The step comes after all others of tone, and proofs and reports leave it out: what it adds the paper takes.

    Examples
    --------
    >>> import numpy as np
    >>> import printprep as pp
    >>> on = pp.Conditions(pp.paper("gloss"), pp.room("office"))
    >>> print(pp.ToneCalibration(mid=48)(np.float32([[50, 0, 0]]), on).round())
    [[48.  0.  0.]]
    """

    stage: ClassVar[Stage] = Stage.ROOM
    most_strength: ClassVar[float] = 1.0
    undoes_paper: ClassVar[bool] = True
    first_dark: Annotated[float, Meta(ge=1, le=24, description="L*")] = 1.0
    mid: Annotated[float, Meta(ge=35, le=65, description="L*")] = MIDDLE
    strength: Annotated[float, Meta(ge=0, le=1)] = 1.0

    def idle(self, on: Conditions) -> bool:
        """Whether the paper is right, or no change is asked for."""
        return bool(np.abs(self._curve(on).added).max() < 0.02)

    def _curve(self, on: Conditions) -> _tone.Curve:
        return _curve(on.black, self.first_dark, self.mid, self.strength)

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Calibrate; see `Adjustment`."""
        return lab.copy() if self.idle(on) else _tone.apply(lab, self._curve(on))


@lru_cache(maxsize=64)
def _curve(black: float, first_dark: float, mid: float, strength: float) -> _tone.Curve:
    L = np.linspace(black, 100.0, _tone.CURVE_NODES)
    u = np.clip(in_edit(L, black) / 100, 0, 1)
    middle = on_print(100 * (u + (mid - MIDDLE) / 100 * 16 * u**2 * (1 - u) ** 2), black)
    start, first, wanted = on_print([_READY, 1.0, first_dark], black)
    along = np.clip((middle - start) / (_END - start), 0, 1)
    rise = np.clip((middle - black) / (start - black), 0, 1)
    out = middle + (wanted - first) * rise * (1 - along) ** 2
    out[0], out[-1] = black, 100.0
    return _tone.Curve(black, strength * (out - L))
