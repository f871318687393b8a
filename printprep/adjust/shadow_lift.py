"""Give dark tones that the paper would swallow their visible steps back."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from printprep.adjust import _tone
from printprep.adjust._base import Adjustment, Stage
from printprep.colour.blackpoint import uncompensate
from printprep.colour.lab import Lab
from printprep.conditions.conditions import Conditions


@dataclass(frozen=True)
class ShadowLift(Adjustment):
    """Lighten the shadows as far as this paper swallows them, and a little for its pane.

    Parameters
    ----------
    strength : float, 0 to 1.5
        What is added is in proportion to it; 0 does nothing. At 1.5 no tone keeps less than 0.8 of its slope.

    worth : float, 0 to 1, optional
        Share of the lift that the picture gets. Not given: what its dark, textured area is worth (see `worth`),
        and the whole for single colours.

    Raises
    ------
    ParameterError
        If a value is not a finite number in its range.

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

    Examples
    --------
    >>> import numpy as np
    >>> import printprep as pp
    >>> on = pp.Conditions(pp.paper("cotton-rag"), pp.room("office"))
    >>> print(pp.ShadowLift()(np.float32([[25, 0, 0], [90, 0, 0]]), on).round())
    [[29.  0.  0.]
     [90.  0.  0.]]
    """

    stage: ClassVar[Stage] = Stage.TONE
    strength: Annotated[float, Meta(ge=0, le=1.5)] = _tone.LIFT_STRENGTH
    worth: Annotated[float, Meta(ge=0, le=1)] | None = None

    def _curve(self, on: Conditions) -> _tone.Curve:
        return _tone.lift(_tone.View.of(on), self.strength * (1.0 if self.worth is None else self.worth))

    def idle(self, on: Conditions) -> bool:
        """Whether nothing is lost in the shadows (less than a fiftieth of an L*), or none is asked for."""
        return bool(np.abs(_tone.lift(_tone.View.of(on), self.strength).added).max() < 0.02)

    def suited(self, small: Lab, on: Conditions) -> ShadowLift:
        """The step with `worth` decided, unless it is given."""
        if self.worth is not None:
            return self
        return replace(self, worth=worth(uncompensate(small, 0, on.black)[..., 0]))

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Lift; see `Adjustment`."""
        return lab.copy() if self.idle(on) else _tone.apply(lab, self._curve(on))


_DARK, _TEXTURE, _ALL = 20.0, 0.5, 0.4
"""L* under which tones are dark; standard deviation of L* over 5 x 5 pixels from which they have texture; share of the
picture from which the whole lift is worth it."""


def worth(lightness: NDArray[np.floating]) -> float:
    """What a lift is worth to a picture, in quarters, from L* of the edit reduced to a few hundred pixels a side.

    A smooth step of the share of dark, textured area, so that a picture without darks neither pays nor gains. Common
    practice, no source; ``python -m benchmarks.tones`` shows what it leaves.
    """
    import cv2

    L = lightness.astype(np.float32)
    mean = np.asarray(cv2.blur(L, (5, 5))).reshape(L.shape)
    texture = np.sqrt(np.maximum(np.asarray(cv2.blur(L * L, (5, 5))).reshape(L.shape) - mean * mean, 0))
    share = min(float(((L < _DARK) & (texture > _TEXTURE)).mean()) / _ALL, 1.0)
    return round(4 * share * share * (3 - 2 * share)) / 4
