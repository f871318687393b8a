"""Carry the picture's tones over from the light it was edited for to the light it will hang in."""

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
class RoomBrightness(Adjustment):
    """Lighten the print for a dim room so that its tones keep their relations.

    Parameters
    ----------
    strength : float, 0 to 1.5, optional
        1 gives every tone the share of the visible range that it has in the reference viewing; less
        carries it part of the way, by ratio of light. Not given: 0.45 in rooms dimmer than the reference,
        and 0 in brighter ones, since nobody wants a darker print unasked.

    Raises
    ------
    ParameterError
        If `strength` is not a finite number in its range.

    Notes
    -----
    Equal shares of the range of visible steps (DICOM PS3.14) for the same print under the reference light and
    under the room's. What a pane takes of the light counts in full; its veil does not count. A room of less
    than 0.07 of the reference's light (500 lx: 35) counts as one of 0.07: more would crowd the highlights.
    White and black of the paper stay; chromaticity stays, and strong colours move less, as in shadow-lift.

    Examples
    --------
    >>> import numpy as np
    >>> import printprep as pp
    >>> on = pp.Conditions(pp.paper("gloss"), pp.room("lux=60"))
    >>> print(pp.RoomBrightness()(np.float32([[50, 0, 0]]), on).round())
    [[53.  0.  0.]]
    """

    stage: ClassVar[Stage] = Stage.ROOM
    strength: Annotated[float, Meta(ge=0, le=1.5)] | None = None

    def idle(self, on: Conditions) -> bool:
        """Whether the light is the reference (to a fiftieth of an L*), or no change is asked for."""
        return bool(np.abs(_tone.room(_tone.View.of(on), self.strength).added).max() < 0.02)

    def resolved(self, on: Conditions) -> RoomBrightness:
        """The step with its default strength for this paper and room as a number."""
        if self.strength is not None:
            return self
        return RoomBrightness(strength=round(_tone.room_strength(_tone.View.of(on)), 4))

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Brighten; see `Adjustment`."""
        return lab.copy() if self.idle(on) else _tone.apply(lab, _tone.room(_tone.View.of(on), self.strength))
