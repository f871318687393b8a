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
    """Lighten the shadows as far as this paper swallows them, and a little for its pane.

    Parameters
    ----------
    strength : float, 0 to 1.5
        What is added is in proportion to it; 0 does nothing. At 1.5 no tone keeps less than 0.8 of its slope.

    Raises
    ------
    ParameterError
        If `strength` is not a finite number in its range.

    Notes
    -----
    Equal shares of the range of visible steps (DICOM PS3.14) on the original and on the print. The
    original's black has the flare of the reference viewing: 0.5 % of white unless a screen's black is
    given, and never more than the print's own, so that a paper deeper than the original is left alone.

    The lift follows that model in the shadows, up to where a line of slope -0.13 meets it from above, and then
    the line, which eases out around L* 63 on the print and is over at 83: all lighter tones pay alike. Next to
    black it adds a slope of at most 0.75. The paper's black stays where it is.

    A pane's veil makes black lighter, and the lift for it is held to 2 L* (common practice, no source);
    canvas hangs without a pane.

    What is lifted keeps its chromaticity, and strong colours are lifted less: see `printprep.adjust._tone.apply`.
    """

    stage: ClassVar[Stage] = Stage.TONE
    strength: Annotated[float, Meta(ge=0, le=1.5)] = _tone.LIFT_STRENGTH

    def idle(self, on: Conditions) -> bool:
        """Whether nothing is lost in the shadows (less than a fiftieth of an L*), or none is asked for."""
        return bool(np.abs(_tone.lift(_tone.View.of(on), self.strength).added).max() < 0.02)

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Lift; see `Adjustment`."""
        return lab.copy() if self.idle(on) else _tone.apply(lab, _tone.lift(_tone.View.of(on), self.strength))
