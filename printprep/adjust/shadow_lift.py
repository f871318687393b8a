"""Give dark tones that the paper would swallow their visible steps back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np
from msgspec import Meta

from printprep.adjust import _tone
from printprep.adjust._base import Adjustment, Lab, Stage
from printprep.conditions.conditions import Conditions


@dataclass(frozen=True)
class ShadowLift(Adjustment):
    """Lighten the shadows as far as this paper, behind its pane, swallows them.

    Parameters
    ----------
    strength : float, 0 to 1.5
        1 gives each dark tone the share of visible steps that it had in the original, as far as the budget
        that lift and room-brightness share allows; 0 does nothing.

    Raises
    ------
    ParameterError
        If `strength` is not a finite number in its range.

    Notes
    -----
    Equal shares of the range of visible steps (DICOM PS3.14) on the original and on the print. The
    original's black has the flare of the reference viewing: 0.5 % of white unless a screen's black is
    given, and never more than the print's own, so that a paper deeper than the original is left alone.
    The print's black is the one that the eye gets, a pane's veil included. The whole difference up to L* 3
    of the edit is faded out to none at L* 52 on the print; the paper's black stays where it is.

    What is lifted keeps its chromaticity: a* and b* grow by ``(L' + 16) / (L + 16)``, as by more light on
    the same colour (see `printprep.adjust._tone.apply`). The default of 0.9 and the budget are explained
    in `printprep.adjust._tone`.
    """

    stage: ClassVar[Stage] = Stage.TONE
    strength: Annotated[float, Meta(ge=0, le=1.5)] = _tone.LIFT_STRENGTH

    def idle(self, on: Conditions) -> bool:
        """Whether nothing is lost in the shadows (less than a fiftieth of an L*), or none is asked for."""
        return bool(np.abs(_tone.lift(_tone.View.of(on), self.strength).added).max() < 0.02)

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Lift; see `Adjustment`."""
        return lab.copy() if self.idle(on) else _tone.apply(lab, _tone.lift(_tone.View.of(on), self.strength))
