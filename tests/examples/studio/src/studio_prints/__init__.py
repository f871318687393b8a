"""The studio's own step."""

from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

import printprep as pp


@dataclass(frozen=True)
class WarmHighlights(pp.Adjustment):
    """Give the lightest tones a little of the warmth of lamp light.

    Parameters
    ----------
    amount : float, b* units, 0 to 6
        Added at white; nothing at L* 50 and below.
    """

    stage: ClassVar[pp.Stage] = pp.Stage.COLOUR
    amount: Annotated[float, Meta(ge=0, le=6, description="b* units")] = 1.5

    def __call__(self, lab: NDArray[np.float32], on: pp.Conditions) -> NDArray[np.float32]:
        out = lab.copy()
        lightness = lab[..., 0]
        share = np.clip((lightness - 50) / 40, 0, 1) * np.clip((100 - lightness) / 5, 0, 1)  # paper white stays bare
        out[..., 2] += np.float32(self.amount) * share
        return out

    def idle(self, on: pp.Conditions) -> bool:
        return self.amount == 0
