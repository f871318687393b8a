"""What a paper in a room does to every picture, said once for them: the light, the pane, the black, the steps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from printprep.adjust.room_brightness import RoomBrightness
from printprep.check._tone import edit_tones, print_tones
from printprep.check.loss import SHADOWS
from printprep.check.simulate import simulation
from printprep.colour.profile import Profile
from printprep.conditions.viewing import contrast, effective_black, hung
from printprep.pipe import Pipeline


def place_lines(pipe: Pipeline, profile: Profile | None = None) -> list[str]:
    """A few sentences on a paper in a room.

    Parameters
    ----------
    pipe : Pipeline
        Paper, room and what is done.
    profile : Profile, optional
        Of the edit; sRGB if not given.
    """
    sim = simulation((profile or Profile.named("sRGB")).data, pipe)
    edit = edit_tones(sim.on).between(0, SHADOWS)
    alone, prepared = (tones.between(0, SHADOWS) for tones in print_tones(sim, pipe.room))
    steps = f"Steps: the edit's shadows have {edit:.0f} that the eye can tell apart; on this paper in this room "
    steps += f"{alone:.0f} are left"
    if len(sim.plan.steps):
        steps += f", {'up to ' if _decides(pipe) else ''}{prepared:.0f} once prepared"
    return [f"{steps}.", _black(pipe), _light(pipe), *_pane(pipe)]


def _decides(pipe: Pipeline) -> bool:
    return any(getattr(step, "worth", 1) is None for step in pipe.steps)


def _black(pipe: Pipeline) -> str:
    paper = pipe.paper
    neutral, darkest = paper.neutral_black, paper.black[0] if paper.black else 0.0
    text = f"Black: L* {neutral:.0f}, the darkest neutral against paper white"
    if abs(neutral - darkest) >= 1:
        text += f" (its darkest patch is L* {darkest:.0f})"
    return f"{text}; white is {contrast(paper, pipe.room):.0f} times as light as black there."


def _light(pipe: Pipeline) -> str:
    room, rho = hung(pipe.paper, pipe.room), pipe.paper.white_reflectance
    reference = room.reference
    text = f"Light: understood as {room.illuminance_lux:g} lx on the print"
    if room.evening_illuminance_lux is not None:
        text += f" by day and {room.evening_illuminance_lux:g} lx by evening, prepared for {room.prepared_lux:.0f} lx"
    white = reference.white_luminance(rho)
    equal = white * np.pi / rho
    text += f"; the edit was judged in {equal:.0f} lx" if reference.screen_white_cd_m2 is None else (
        f"; the edit was judged on a screen as bright as paper in {equal:.0f} lx"
    )
    on = pipe.conditions("sRGB")
    grey = np.array([[50, 0, 0]], np.float32)
    asked = float(RoomBrightness(strength=1.0)(grey, on)[0, 0] - grey[0, 0])
    live = [step for step in pipe.steps.live(on, pipe.strength) if isinstance(step, RoomBrightness)]
    if abs(asked) < 0.5:
        return f"{text}."
    given = float(live[0](grey, on)[0, 0] - grey[0, 0]) if live else 0.0
    printed = f"printed {given:+.0f}" if abs(given) >= 0.5 else "left as it is"
    return f"{text}, so a middle grey would have to be printed {asked:+.0f} L* to look the same; it is {printed}."


def _pane(pipe: Pipeline) -> list[str]:
    if hung(pipe.paper, pipe.room).glazing == "none":
        return []
    bare = replace(pipe.room, glazing="none")
    up = effective_black(pipe.paper, pipe.room) - effective_black(pipe.paper, bare)
    return [f"Pane: what it mirrors lifts black by {up:.0f} L* to the eye."] if up >= 0.5 else []
