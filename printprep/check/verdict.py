"""Two lines after a job: what was changed, and what this paper in this room still loses."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._tone import View, pane_lift
from printprep.adjust.shadow_lift import ShadowLift
from printprep.check._change import change
from printprep.check._judge import chroma
from printprep.check._words import Drawback, cause, costs, percent, steps_kept
from printprep.check.loss import SHADOWS, Loss, loss_of
from printprep.check.sampled import Sample
from printprep.colour.profile import Profile
from printprep.pipe import Pipeline

_TOLD = 0.3
"""L* of the pane's part from which it is told."""
_WORTH = {0.0: ("no shadow lift", "next to none"), 0.25: ("a quarter of the shadow lift", "little"),
          0.5: ("half of the shadow lift", "some"), 0.75: ("three quarters of the shadow lift", "much")}
"""Shares of the lift that pictures get, and how much of the picture is dark with texture in it."""


@dataclass(frozen=True)
class Verdict:
    """Figures of one job, and the two lines that say them.

    `change` is what was changed against black point compensation alone; `worth` the share of the shadows' lift, 0..1,
    that the picture got, as its dark parts are worth it; `pane` the mean part (L*) of the room's pane in that lift.
    """

    change: str
    loss: Loss
    worth: float = 1.0
    pane: float = 0.0

    @property
    def changed(self) -> str:
        """What was changed, in one line."""
        parts = [self.change]
        if self.pane >= _TOLD:
            parts.append(f"of the shadows' lift {self.pane:.1f} L* for the pane")
        if self.worth < 1:
            lift, much = _WORTH.get(self.worth, (f"{percent(self.worth)} of the shadow lift", ""))
            parts.append(f"{lift}: {much} of the picture is dark with texture in it" if much else lift)
        return "; ".join(parts)

    @property
    def loses(self) -> str:
        """What the print still loses, in one line, the loudest first."""
        found, ready = self.loss, self.loss.prepared
        steps = f"deep shadows ({percent(found.dark)} of the picture) keep {steps_kept(found)}"
        if found.evening_steps:
            steps += "; by evening {:.0f}, {:.0f} left alone".format(*found.evening_steps)
        colour = "the paper holds every colour"
        if found.outside >= 0.0005:
            colour = (
                f"{percent(found.outside)} of the picture asks for more than the paper holds "
                f"and keeps {percent(ready.kept_chroma)} of its colour"
            )
        rest = [steps, colour] if ready.flat >= ready.colour else [colour, steps]
        return "; ".join([cause(found).removeprefix("loses "), *rest])

    @property
    def costs(self) -> list[Drawback]:
        """What is worse than in the print left alone, with the settings that make it less."""
        return costs(self.loss)

    def __str__(self) -> str:
        return "\n".join(
            [f"changed: {self.changed}", f"still loses: {self.loses}", *(f"costs: {each}" for each in self.costs)]
        )


def verdict(before: NDArray[np.uint16], after: NDArray[np.uint16], profile: Profile, pipe: Pipeline) -> Verdict:
    """Judge a job by the same pixels, (rows, columns, 3), of the edit and of what was handed over."""
    taken = Sample(before, after, profile, pipe)
    edit, plan = taken.shown.edit[..., 0].ravel(), taken.sim.plan
    asked, toned, handed = (lab.reshape(-1, 3) for lab in (taken.shown.asked, taken.shown.toned, taken.handed))
    lifts = [step for step in plan.steps if isinstance(step, ShadowLift)]
    worth = [1.0 if step.worth is None else step.worth for step in lifts]
    strength = sum(step.strength * share for step, share in zip(lifts, worth, strict=True))
    dark = asked[edit < SHADOWS, 0]
    return Verdict(
        change=change(asked, handed, edit, chroma(toned) - chroma(handed)),
        loss=loss_of(taken),
        worth=worth[0] if worth else 1.0,
        pane=float(pane_lift(View.of(plan.on), strength).change(dark).mean()) if strength and dark.size else 0.0,
    )
