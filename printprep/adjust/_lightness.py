"""Steps that look around at lightness alone, so that they can run fast on what the table has made."""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Adjustment, Stage
from printprep.colour.lab import Lab
from printprep.conditions.conditions import Conditions

UNITS = 600
"""Steps to an L* in which lightness is counted: 16 bits hold L* 0 to 109, and whole numbers are the same everywhere."""

AT_ONCE = 1 << 17
"""Pixels worked on at once where several arrays of them are needed: they stay in the processor's cache."""


@dataclass(frozen=True)
class LightnessStep(Adjustment):
    """A step of the detail stage that changes L* by the L* around, and leaves a* and b* alone."""

    stage: ClassVar[Stage] = Stage.DETAIL

    @abstractmethod
    def lightness(self, light: NDArray[np.uint16], on: Conditions) -> NDArray[np.uint16]:
        """The lightness after the step, a new (height, width) array; both are print-referred L* times `UNITS`."""

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """The step in Lab; see `Adjustment`."""
        out = lab.copy()
        if lab.ndim != 3 or self.reach(on) == 0:  # colours in a list have nothing around them
            return out
        light = np.rint(np.clip(lab[..., 0], 0, 65535 / UNITS) * UNITS).astype(np.uint16)
        change = self.lightness(light, on).astype(np.int32) - light
        out[..., 0] += change.astype(np.float32) / np.float32(UNITS)
        return out
