"""What a paper in a room does to every picture, said once for them: the light, the pane, the black, the steps."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from printprep.adjust.room_brightness import RoomBrightness
from printprep.check._tone import edit_tones, lights, print_tones
from printprep.check.loss import SHADOWS
from printprep.check.simulate import simulation
from printprep.colour.profile import Profile
from printprep.conditions.viewing import contrast, effective_black, hung
from printprep.pipe import Pipeline

APART = 6.0
"""L* of a mid grey between what two lights ask from which two prints are advised (common practice, no source)."""

_WORTH = 0.5
"""L* of a mid grey from which what light asks for is worth a word (our choice)."""


@dataclass(frozen=True)
class TwoLights:
    """What the two lights of a room ask of one print.

    `day` and `evening` are how much lighter than the edit's own L* 50 a mid grey would have to be printed to look there
    as it did in the reference light, negative where darker; `printed` is how much lighter it is printed.
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
            f"two lights: {self.day_lux:g} lx asks for a mid grey {_by(self.day)}, {self.evening_lux:g} lx for one "
            f"{_by(self.evening)}; it is printed {_by(self.printed)}"
        )
        if self.apart <= APART:
            return text
        return f"{text}: {self.apart:.0f} L* apart is more than one print can serve; make one for each light"


def two_lights(pipe: Pipeline) -> TwoLights | None:
    """What both lights of a room ask for; None where it has one."""
    rooms = lights(pipe.room)
    if len(rooms) == 1:
        return None
    by_day, by_evening = (_asked(replace(pipe, room=room)) for room in rooms)
    return TwoLights(by_day, by_evening, _given(pipe), *(room.illuminance_lux for room in rooms))


def _asked(pipe: Pipeline) -> float:
    """L* that a room asks of a mid grey: `RoomBrightness` in full, equal shares of the visible range (PS3.14)."""
    return _lighter(RoomBrightness(strength=1.0), pipe)


def _given(pipe: Pipeline) -> float:
    """L* by which a mid grey is printed lighter for the room."""
    live = pipe.steps.live(pipe.conditions("sRGB"), pipe.strength)
    return next((_lighter(step, pipe) for step in live if isinstance(step, RoomBrightness)), 0.0)


def _lighter(step: RoomBrightness, pipe: Pipeline) -> float:
    return float(step(np.array([[50, 0, 0]], np.float32), pipe.conditions("sRGB"))[0, 0]) - 50


def place_lines(pipe: Pipeline) -> list[str]:
    """A few sentences on a paper in a room: what shows of the edit's deep shadows, then `room_lines`."""
    sim = simulation(Profile.named("sRGB").data, pipe)
    edit = edit_tones(sim.on).between(0, SHADOWS)
    alone, prepared = (tones.between(0, SHADOWS) for tones in print_tones(sim, pipe.room))
    steps = f"Shadows: of the {edit:.0f} steps that the eye can tell apart in the edit's deep shadows, this paper in "
    steps += f"this room shows {alone:.0f}"
    if len(sim.plan.steps):
        undecided = any(getattr(step, "worth", 1) is None for step in pipe.steps)
        steps += f", {'up to ' if undecided else ''}{prepared:.0f} once prepared"
    return [f"{steps}.", *room_lines(pipe)]


def room_lines(pipe: Pipeline) -> list[str]:
    """Of a paper in a room: its black, the light and what it asks for, the pane."""
    return [_black(pipe), _light(pipe), *_pane(pipe)]


def _black(pipe: Pipeline) -> str:
    paper = pipe.paper
    neutral, darkest = paper.neutral_black, paper.black[0] if paper.black else 0.0
    text = f"Black: the darkest grey on this paper is L* {neutral:.0f}"
    if abs(neutral - darkest) >= 1:
        text += f" (its darkest patch L* {darkest:.0f})"
    return f"{text}; in this room its white is {contrast(paper, pipe.room):.0f} times as bright as its black."


def _light(pipe: Pipeline) -> str:
    room, rho = hung(pipe.paper, pipe.room), pipe.paper.white_reflectance
    reference = room.reference
    metered = pipe.asked.get("metered")
    text = f"Light: {f'{metered} is ' if metered else ''}{room.illuminance_lux:.3g} lx on the print"
    if room.evening_illuminance_lux is not None:
        text += f" by day and {room.evening_illuminance_lux:.3g} lx by evening, prepared for {room.prepared_lux:.0f} lx"
    equal = reference.white_luminance(rho) * np.pi / rho
    screen = "" if reference.screen_white_cd_m2 is None else "on a screen as bright as paper "
    text += f"; the edit was judged {screen}in {equal:.0f} lx."
    if (both := two_lights(pipe)) is not None:
        return f"{text} T{str(both)[1:]}."
    asked, given = _asked(pipe), _given(pipe)
    if abs(asked) < _WORTH:
        return text
    return f"{text} To look the same, a middle grey would have to be printed {_by(asked)}; it is printed {_by(given)}."


def _by(change: float) -> str:
    if abs(change) < 0.05:
        return "as it is"
    return f"{abs(change):.1f}\u00a0L* {'lighter' if change > 0 else 'darker'}"


def _pane(pipe: Pipeline) -> list[str]:
    if hung(pipe.paper, pipe.room).glazing == "none":
        return []
    bare = replace(pipe.room, glazing="none")
    up = effective_black(pipe.paper, pipe.room) - effective_black(pipe.paper, bare)
    return [f"Pane: what it mirrors lifts black by {up:.0f} L* to the eye."] if up >= 0.5 else []
