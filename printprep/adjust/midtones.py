"""Lighten or darken the middle tones, for taste."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

import numpy as np
from msgspec import Meta

from printprep.adjust import _tone
from printprep.adjust._base import Adjustment, Stage
from printprep.colour.lab import Lab
from printprep.conditions.conditions import Conditions

_MOST = 10.0


@dataclass(frozen=True)
class Midtones(Adjustment):
    """Lighten the middle of the scale by one number; paper white and black stay.

    Parameters
    ----------
    lighter : float, L*, -10 to 10
        What the tone half way between paper black and white is lightened by; less than 0 darkens.

    Raises
    ------
    ParameterError
        If the value is not a finite number in its range.

    Notes
    -----
    A tone at the share ``t`` of the way from paper black to white is lightened by ``lighter * sin(pi t)^2``: the slope
    at both ends stays 1, and on a paper with black at L* 17 no tone keeps less than 0.62 of its slope, or gets more
    than 1.38. Colours keep their chromaticity, see `printprep.adjust._tone.apply`. The form is ours; no source.

    Examples
    --------
    >>> import printprep as pp
    >>> pipe = pp.pipeline(paper="gloss", settings={"midtones.lighter": 3})
    >>> pipe["midtones"]
    Midtones(lighter=3.0)
    """

    stage: ClassVar[Stage] = Stage.TONE
    lighter: Annotated[float, Meta(ge=-_MOST, le=_MOST, description="L*")] = 0.0

    def idle(self, on: Conditions) -> bool:
        """Whether no change is asked for."""
        return abs(self.lighter) < 0.02

    def scaled(self, amount: float) -> Midtones:
        """The same step with its one number multiplied."""
        return replace(self, lighter=float(np.clip(self.lighter * amount, -_MOST, _MOST)))

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Lighten; see `Adjustment`."""
        if self.idle(on):
            return lab.copy()
        t = np.linspace(0, 1, _tone.CURVE_NODES)
        added = self.lighter * np.square(np.sin(np.pi * t))
        added[-1] = 0.0
        return _tone.apply(lab, _tone.Curve(on.black, added))
