"""Keep the lightest tones of the picture apart from paper white."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np
from msgspec import Meta

from printprep.adjust import _tone
from printprep.adjust._base import Adjustment, Stage
from printprep.colour.lab import Lab
from printprep.conditions.conditions import Conditions


@dataclass(frozen=True)
class HighlightHold(Adjustment):
    """Darken the lightest tones so that those a print loses in paper white stay visible.

    Parameters
    ----------
    last_light : float, L*, 90 to 100
        The lightest tone that the print shows apart from paper white, as read from a printed target;
        100 where nothing is lost, and then the step does nothing.
    strength : float, 0 to 1.5
        At 1, the tone two fifths of the way from white to `last_light` is printed at `last_light`.

    Raises
    ------
    ParameterError
        If a value is not a finite number in its range.

    Notes
    -----
    The eye itself loses nothing here: with the step count of DICOM PS3.14, one L* near paper white is
    between 1.4 (20 lx) and 4 (2000 lx) visible steps, whatever the glazing (``benchmarks/tones.py`` prints
    them). What is lost is lost by the press: the first faint dots. So this step acts on what was seen on
    a print, not on the room.

    With ``u = 100 - L*`` and ``w = 100 - last_light`` a tone is printed ``1.5 s u exp(0.4 - u / w)`` darker,
    faded out linearly to paper black. White itself stays; next to it the slope is 1 + 2.2 s, and the
    tones around u = 2 w pay with a slope of 1 - 0.3 s. Of the tones that were lost, those darker than 0.4 w come
    back at strength 1 (three fifths of them; 0.37 at 0.5, 0.71 at 1.5), and none moves by more than 0.8 w. White that
    holds nothing stays white. The form is ours; no source.

    Examples
    --------
    >>> import numpy as np
    >>> import printprep as pp
    >>> on = pp.Conditions(pp.paper("gloss"), pp.room("office"))
    >>> print(pp.HighlightHold(last_light=97)(np.float32([[98, 0, 0], [100, 0, 0]]), on).round(1))
    [[ 95.8   0.    0. ]
     [100.    0.    0. ]]
    """

    stage: ClassVar[Stage] = Stage.TONE
    last_light: Annotated[float, Meta(ge=90, le=100, description="L*")] = 100.0
    strength: Annotated[float, Meta(ge=0, le=1.5)] = 1.0

    def idle(self, on: Conditions) -> bool:
        """Whether nothing is lost, or no change is asked for."""
        return self.last_light > 99.98 or self.strength < 0.005

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Hold; see `Adjustment`."""
        if self.idle(on):
            return lab.copy()
        L = np.linspace(on.black, 100.0, _tone.CURVE_NODES)
        u, w = 100 - L, 100 - self.last_light
        darker = 1.5 * self.strength * u * np.exp(0.4 - u / w) * (L - on.black) / (100 - on.black)
        return _tone.apply(lab, _tone.Curve(on.black, -darker))
