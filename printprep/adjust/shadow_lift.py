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
    """Lighten the shadows as far as this paper, in this room, loses them.

    Parameters
    ----------
    strength : float, 0 to 1.5
        1 gives back what the budget allows; 0 does nothing.

    Raises
    ------
    ParameterError
        If `strength` is not a finite number in its range.
    """

    stage: ClassVar[Stage] = Stage.TONE
    strength: Annotated[float, Meta(ge=0, le=1.5)] = _tone.LIFT_STRENGTH

    def idle(self, on: Conditions) -> bool:
        """Whether nothing is lost in the shadows (less than a fiftieth of an L*), or none is asked for."""
        return bool(np.abs(_tone.lift(_tone.View.of(on), self.strength).added).max() < 0.02)

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Lift; see `Adjustment`."""
        return lab.copy() if self.idle(on) else _tone.apply(lab, _tone.lift(_tone.View.of(on), self.strength))
