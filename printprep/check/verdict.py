"""Two lines after a job: what was changed, and what this paper in this room still loses."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Lab, Stage, Steps
from printprep.adjust._tone import View, pane_lift
from printprep.adjust.shadow_lift import ShadowLift
from printprep.check._change import SEEN, Change, change, share
from printprep.colour.blackpoint import compensate, uncompensate
from printprep.colour.icc import lab_from_device
from printprep.colour.lab import luminance_from_lightness
from printprep.colour.profile import Profile
from printprep.colour.visibility import jnd_index
from printprep.conditions.conditions import Conditions
from printprep.conditions.room import Room
from printprep.conditions.viewing import luminance
from printprep.pipe import Pipeline

_DARK = 20.0
"""L* of the edit at which the shadows end."""
_TOLD = 0.3
"""L* of the pane's part from which it is told."""
_WORTH = {0.0: "shadows not lifted: hardly any are there", 0.25: "a quarter of the lift: few parts are dark",
          0.5: "half of the lift: some parts are dark", 0.75: "three quarters of the lift: not all is dark"}
_ENDS = np.array([[0, 0, 0], [_DARK, 0, 0]], np.float32)
"""The ends of the shadows in the edit, Lab."""


@dataclass(frozen=True)
class Verdict:
    """Figures of one job, and the two lines that say them.

    Parameters
    ----------
    change : Change
        What was changed against black point compensation alone.
    outside : float, 0..1
        Share of the picture that asks for colours the paper cannot hold (by more than 1 dE*ab).
    kept_chroma : float, 0..1
        Share of their chroma that those colours keep.
    steps, steps_without : float, JND
        Steps that the eye can tell apart between the edit's L* 0 and 20, as the print hangs in the room
        (DICOM PS3.14), prepared and with black point compensation alone.
    steps_edit : float, JND
        The same in the edit, as it was viewed.
    evening : tuple of float, optional
        `steps` and `steps_without` under the room's second light.
    worth : float, 0..1
        Share of the shadows' lift that the picture got, as its dark parts are worth it.
    pane : float, L*
        Mean part that the room's pane has in the lift of the shadows.
    """

    change: Change
    outside: float
    kept_chroma: float
    steps: float
    steps_without: float
    steps_edit: float
    evening: tuple[float, float] | None = None
    worth: float = 1.0
    pane: float = 0.0

    @property
    def changed(self) -> str:
        """What was changed, in one line."""
        parts = [str(self.change)]
        if self.pane >= _TOLD:
            parts.append(f"of the shadows' lift {self.pane:.1f} L* for the pane")
        if self.worth < 1:
            parts.append(_WORTH.get(self.worth, f"{self.worth:.0%} of the lift"))
        return "; ".join(parts)

    @property
    def loses(self) -> str:
        """What the print still loses, in one line."""
        if self.outside >= 0.0005:
            colour = (
                f"colours: {share(self.outside)} of the picture asks for more than the paper holds "
                f"and keeps {self.kept_chroma:.0%} of its chroma"
            )
        else:
            colour = "colours: none"
        tone = (
            f"shadows: {self.steps:.0f} visible steps of the edit's {self.steps_edit:.0f} "
            f"({self.steps_without:.0f} without preparation)"
        )
        if self.evening:
            tone += f", by evening {self.evening[0]:.0f} ({self.evening[1]:.0f})"
        return f"{colour}; {tone}"

    def __str__(self) -> str:
        return f"changed: {self.changed}\nstill loses: {self.loses}"


def verdict(before: NDArray[np.uint16], after: NDArray[np.uint16], profile: Profile, pipe: Pipeline) -> Verdict:
    """Judge a job by a sample of the picture.

    Parameters
    ----------
    before, after : (..., 3) ndarray of uint16
        The same pixels of the edit and of what was handed over.
    profile : Profile
        Of the edit.
    pipe : Pipeline
        What was done.
    """
    plan = pipe.plan(profile)
    on, chain = plan.on, plan.chain
    asked = chain.to_print(_values(before))
    if pipe.hand_over == "paper" and not plan.idle:
        printed = lab_from_device(_values(after), chain.out_profile).astype(np.float32)
    else:
        printed = chain.to_print(_values(after))
    toned = Steps(tuple(s for s in plan.steps if s.stage < Stage.GAMUT and not s.reach(on)))(asked, on)
    edit = uncompensate(asked, chain.black, on.black)[:, 0]
    wanted, got = np.hypot(toned[:, 1], toned[:, 2]), np.hypot(printed[:, 1], printed[:, 2])
    most = on.paper.solid.max_chroma(toned[:, 0], np.degrees(np.arctan2(toned[:, 2], toned[:, 1])))
    outside = wanted > most + SEEN
    kept = got[outside] / np.maximum(wanted[outside], SEEN)
    day, night = lights(pipe.room)
    return Verdict(
        change=change(asked, printed, edit, wanted - got),
        outside=float(outside.mean()),
        kept_chroma=float(np.clip(kept, 0, 1).mean()) if outside.any() else 1.0,
        steps=visible_steps(on, plan.steps, day),
        steps_without=visible_steps(on, Steps(), day),
        steps_edit=edit_steps(on),
        evening=(visible_steps(on, plan.steps, night), visible_steps(on, Steps(), night)) if night else None,
        worth=_worth(plan.steps),
        pane=_pane(plan.steps, on, asked[edit < _DARK, 0]),
    )


def _lifts(steps: Steps) -> list[ShadowLift]:
    return [step for step in steps if isinstance(step, ShadowLift)]


def _worth(steps: Steps) -> float:
    return next((1.0 if step.worth is None else step.worth for step in _lifts(steps)), 1.0)


def _pane(steps: Steps, on: Conditions, dark: NDArray[np.float32]) -> float:
    """Mean part of the pane in the lift of these tones, L*."""
    strength = sum(step.strength * (1.0 if step.worth is None else step.worth) for step in _lifts(steps))
    if strength == 0 or dark.size == 0:
        return 0.0
    return float(pane_lift(View.of(on), strength).change(dark).mean())


def visible_steps(on: Conditions, steps: Steps, room: Room) -> float:
    """Steps that the eye can tell apart in a print's shadows, hung in a room.

    Parameters
    ----------
    on : Conditions
        What the steps look at.
    steps : Steps
        Those done; none for black point compensation alone.
    room : Room
        The light they are judged in.

    Returns
    -------
    float
        JNDs between the edit's L* 0 and 20 (DICOM PS3.14, clause 7.1).
    """
    greys: Lab = compensate(_ENDS, 0, on.black).astype(np.float32)
    done = Steps(tuple(s for s in steps if s.stage < Stage.GAMUT and not s.reach(on)))(greys, on)
    return float(np.ptp(jnd_index(luminance(done[:, 0], on.paper, room))))


def edit_steps(on: Conditions) -> float:
    """The same count in the edit as it was viewed: on the reference's white, with its flare."""
    reference = on.room.reference
    white = reference.white_luminance(on.paper.white_reflectance)
    light = luminance_from_lightness(_ENDS[:, 0])
    return float(np.ptp(jnd_index(white * (reference.flare + (1 - reference.flare) * light))))


def lights(room: Room) -> tuple[Room, Room | None]:
    """The room by day, and by evening where it has two lights."""
    if room.evening_illuminance_lux is None:
        return room, None
    by_day = replace(room, evening_illuminance_lux=None)
    return by_day, replace(by_day, illuminance_lux=room.evening_illuminance_lux)


def _values(codes: NDArray[np.uint16]) -> NDArray[np.float32]:
    return codes.reshape(-1, 3).astype(np.float32) / np.float32(65535)
