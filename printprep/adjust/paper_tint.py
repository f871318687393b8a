"""Keep greys neutral on a tinted paper, as far down from paper white as that can be done."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from printprep.adjust._base import Adjustment, Stage
from printprep.colour.lab import D50, Lab, lab_from_xyz, luminance_from_lightness, xyz_from_lab
from printprep.conditions.conditions import Conditions

_FADE = (0.6, 0.98)
"""Share of the way from black to white from which greys begin to take the paper's tint, and where they have all of it:
paper white itself cannot be printed on a tinted paper."""


@dataclass(frozen=True)
class PaperTint(Adjustment):
    """Print greys as neutral, and not as tinted as the paper is.

    Parameters
    ----------
    strength : float, 0 to 1
        0 leaves all to the paper; 1 makes darker and middle greys neutral (a* = b* = 0 absolute, under D50).

    Raises
    ------
    ParameterError
        If `strength` is not a finite number in its range.

    Notes
    -----
    Colours are otherwise relative to the paper's white, to which the eye adapts where nothing whiter is near; this is
    for a print that hangs beside whiter ones, or in a white mat. What is added to a* and b* depends on L* alone: full
    up to 0.6 of the way from black to white, less above, and none from 0.98 on.

    Examples
    --------
    >>> import numpy as np
    >>> import printprep as pp
    >>> on = pp.Conditions(pp.paper("cotton-rag"), pp.room("office"))
    >>> print(pp.PaperTint()(np.float32([[50, 0, 0]]), on).round(1))
    [[50.  -0.1 -1.3]]
    """

    stage: ClassVar[Stage] = Stage.TINT
    most_strength: ClassVar[float] = 1.0
    strength: Annotated[float, Meta(ge=0, le=1)] = 1.0

    def idle(self, on: Conditions) -> bool:
        """Whether the paper has no tint to speak of, or no change is asked for."""
        return self.strength < 0.005 or float(np.abs(self._added(np.array([on.black, 50.0, 70.0]), on)).max()) < 0.02

    def _added(self, L: NDArray[np.floating], on: Conditions) -> NDArray[np.float64]:
        """What is added to a* and b* at these L*, (..., 2)."""
        white = xyz_from_lab(np.asarray(on.paper.white, np.float64))
        lightness = np.clip(np.asarray(L, np.float64), 0, 100)
        # relative XYZ of what is absolutely neutral, and has the same luminance
        neutral = luminance_from_lightness(lightness)[..., None] * np.array(D50) * (np.array(D50) * white[1] / white)
        start, end = _FADE
        t = np.clip(((lightness - on.black) / (100 - on.black) - start) / (end - start), 0, 1)
        return np.asarray(lab_from_xyz(neutral)[..., 1:] * (self.strength * (1 - t * t * (3 - 2 * t)))[..., None])

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Take the tint off; see `Adjustment`."""
        out = lab.copy()
        if not self.idle(on):
            out[..., 1:] += self._added(lab[..., 0], on).astype(np.float32)
        return out
