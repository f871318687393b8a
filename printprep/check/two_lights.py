"""One print in two lights: what each asks of it, and whether one print can serve both."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from printprep.adjust.room_brightness import RoomBrightness
from printprep.check._tone import lights
from printprep.colour.profile import Profile
from printprep.pipe import Pipeline

APART = 6.0
"""L* of a mid grey between what two lights ask from which two prints are advised (common practice, no source)."""


@dataclass(frozen=True)
class TwoLights:
    """What two lights ask of a mid grey.

    Parameters
    ----------
    day, evening : float, L*
        How much lighter than the edit's own L* 50 a mid grey would have to be printed to look there as it did in the
        reference light; negative where darker.
    printed : float, L*
        How much lighter it is printed.
    day_lux, evening_lux : float, lux
        The lights.
    """

    day: float
    evening: float
    printed: float
    day_lux: float
    evening_lux: float

    @property
    def apart(self) -> float:
        """L* between both."""
        return abs(self.day - self.evening)

    def __str__(self) -> str:
        text = (
            f"two lights: {self.day_lux:g} lx asks for a mid grey {_signed(self.day)} L*, {self.evening_lux:g} lx for "
            f"{_signed(self.evening)}; it is printed {_signed(self.printed)}"
        )
        if self.apart <= APART:
            return text
        return f"{text}: {self.apart:.0f} L* apart is more than one print can serve; make one for each light"


def two_lights(pipe: Pipeline, profile: str | bytes | Profile = "sRGB") -> TwoLights | None:
    """What both lights of a room ask for; None where it has one.

    Parameters
    ----------
    pipe : Pipeline
        What is done.
    profile : str, bytes or Profile
        Of the edit; a mid grey is the same in all.

    Notes
    -----
    What a light asks for is `RoomBrightness` in full: equal shares of the visible range (DICOM PS3.14).
    """
    day, evening = lights(pipe.room)
    if evening is None:
        return None
    grey = np.array([[50.0, 0.0, 0.0]], np.float32)
    asked = []
    for room in (day, evening):
        on = replace(pipe, room=room).conditions(profile)
        asked.append(float(RoomBrightness(strength=1.0)(grey, on)[0, 0]) - 50)
    on = pipe.conditions(profile)
    rooms = [step for step in pipe.steps.live(on, pipe.strength) if isinstance(step, RoomBrightness)]
    printed = float(rooms[0](grey, on)[0, 0]) - 50 if rooms else 0.0
    return TwoLights(asked[0], asked[1], printed, day.illuminance_lux, evening.illuminance_lux)


def _signed(value: float) -> str:
    return f"{value:+.1f}" if abs(value) >= 0.05 else "as it is, 0"
