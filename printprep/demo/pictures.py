"""Pictures that show what a preparation does: the edit, the print left alone, the print prepared."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from printprep.check.proof import caption
from printprep.check.seen import View
from printprep.check.simulate import Simulation, simulation
from printprep.check.verdict import Verdict
from printprep.colour.profile import Profile
from printprep.page.pictures import fitted
from printprep.page.sheet import GROUND, Captioned, sheet
from printprep.pipe import Pipeline

Bytes = NDArray[np.uint8]
Codes = NDArray[np.uint16]

DETAILS = ((0.735, 0.36), (0.40, 0.215))
"""Left and top edge of what is shown at full size, as shares of the picture: deep shadows, strong colours."""

_WIDE, _GAP = 760, 18
"""Pixels across one picture on a page, and between two."""


def views(edit: Codes, ready: Codes, sim: Simulation) -> tuple[Bytes, Bytes, Bytes]:
    """A picture three times, in sRGB: the edit on its screen, the print left alone, the print prepared.

    `ready` are device values as handed over: what they print as is the same question as for the edit.
    """
    view = View(sim, light=True)
    return view.edit(edit), view.left_alone(edit), view.left_alone(ready)


def whole(edit: Codes, profile: Profile, pipe: Pipeline, longest: int = 2400) -> Bytes:
    """The whole edit in sRGB, its long side at most `longest` pixels; any job on it will do."""
    return View(simulation(profile.data, pipe)).edit(fitted(edit, longest))


def side_by_side(edit: Codes, ready: Codes, profile: Profile, pipe: Pipeline, found: Verdict) -> Bytes:
    """A page in sRGB: the whole picture and two details, each as edit, as print left alone, as print prepared."""
    sim = simulation(profile.data, pipe)
    height, width = edit.shape[:2]
    wide = min(width, _WIDE)
    high = max(1, round(wide * height / width))
    rows = [views(fitted(edit, _WIDE), fitted(ready, _WIDE), sim)]
    for left, up in DETAILS:
        y, x = min(round(up * height), height - high), min(round(left * width), width - wide)
        part = np.s_[y : y + high, x : x + wide]
        rows.append(views(edit[part], ready[part], sim))
    gap = np.full((_GAP, wide, 3), GROUND, np.uint8)
    columns = [np.concatenate([a, gap, b, gap, c]) for a, b, c in zip(*rows, strict=True)]
    words = (
        ("The edit", "as on the screen it was made on; below, two parts of it pixel for pixel"),
        ("Left alone", "the print, as it will look on the wall"),
        ("Prepared", f"the print, as it will look on the wall; changed: {found.changed}"),
    )
    panels = [Captioned(column, *said) for column, said in zip(columns, words, strict=True)]
    foot = f"{caption(pipe, light=True)}  ·  still loses: {found.loses}"
    return sheet(panels, foot=foot, across=3)
