"""The three terms that every figure is told in, each defined once; and how colours and tones are looked at for them.

- A colour is **outside the paper** where the print is asked for more chroma than the paper holds at that lightness
  and hue, by more than 1 C* (`outside`).
- A picture **asks for more** than the paper holds in the share of its area whose colours lie outside.
- A place **loses visibly** (`judged`) where its colour lies outside the paper and the print shows another that differs
  by more than 3 CIEDE2000; or where tones that the edit tells apart merge, with each other or with paper white.

What is asked for is one thing for every print of a picture: its colours, compensated to the paper's black, after the
steps of colour, tone and room. What those steps move is meant.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.check._tone import EDIT_LEVELS, Tones
from printprep.check.simulate import Shown, Simulation
from printprep.colour.difference import ciede2000
from printprep.colour.lab import Lab

VISIBLE = 3.0
"""CIEDE2000 from which a difference counts as seen in a picture (common practice, no source); patches that touch each
other show a third of that. From 3 on, counts of both prints agree with the colour-image difference of
``benchmarks.lively`` that the prepared print loses no more, on 94 % of its pictures; at 2 on 89 %, as each pixel by
itself speaks for the nearest colour, whatever that does to its neighbours."""

OVER = 1.0
"""C* by which a colour must exceed what the paper holds to count as outside."""

_SAME = 0.01
"""Lab units that rounding in the tables may make up."""


@dataclass(frozen=True, eq=False)
class Print:
    """One print of a sample, judged pixel by pixel; arrays are (rows, columns).

    `apart` is CIEDE2000 of what was asked for against what is shown (`got`), of colours outside the paper, 0 elsewhere;
    `colour`, `shadows` and `highlights` are where colour is lost visibly, where tones of the darker half merge, and
    where light ones melt into paper white.
    """

    got: Lab
    tones: Tones
    apart: NDArray[np.float32]
    colour: NDArray[np.bool_]
    shadows: NDArray[np.bool_]
    highlights: NDArray[np.bool_]


def judged(shown: Shown, got: Lab, over: NDArray[np.bool_], tones: Tones, edit: Tones) -> Print:
    """Judge a print: `over` is where colours lie outside the paper, `tones` and `edit` are the greys of both."""
    apart, L = np.zeros(over.shape, np.float32), shown.edit[..., 0]
    apart[over] = difference(shown.toned[over], got[over])
    merged, light = at_levels(tones.merged_shadows, L), at_levels(tones.merged_highlights(edit), L)
    return Print(got, tones, apart, apart > VISIBLE, merged, light)


def outside(asked: Lab, sim: Simulation) -> NDArray[np.bool_]:
    """Where colours that are asked for lie outside the paper; (...)."""
    most = sim.on.paper.solid.max_chroma(asked[..., 0], hue(asked))
    return np.asarray(chroma(asked) - most > OVER)


def difference(asked: Lab, shown: Lab) -> NDArray[np.float32]:
    """CIEDE2000 of what was asked and what is shown; exactly 0 where they are the same but for rounding."""
    apart = np.abs(asked - shown).max(axis=-1) > _SAME
    out = np.zeros(apart.shape, np.float32)
    out[apart] = ciede2000(asked[apart], shown[apart])
    return out


def chroma(lab: Lab) -> NDArray[np.float32]:
    """C* of Lab colours."""
    return np.asarray(np.hypot(lab[..., 1], lab[..., 2]), np.float32)


def hue(lab: Lab) -> NDArray[np.float32]:
    """Hue angle of Lab colours, degrees, -180..180."""
    return np.asarray(np.degrees(np.arctan2(lab[..., 2], lab[..., 1])), np.float32)


def kept_chroma(asked: Lab, shown: Lab) -> NDArray[np.float32]:
    """Share of its C* that each colour keeps, 0..1."""
    return np.clip(chroma(shown) / np.maximum(chroma(asked), 1), 0, 1)


def at_levels(flags: NDArray[np.bool_], lightness: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Look up what holds at the levels of the edit's L* for colours of the edit."""
    index = np.rint(np.clip(lightness, 0, 100) * ((len(EDIT_LEVELS) - 1) / 100)).astype(np.intp)
    return np.asarray(flags[index])


def detail_kept(asked: Lab, shown: Lab, where: NDArray[np.bool_]) -> float:
    """Share of the contrast between neighbours, dE*ab, that is left inside areas; 1 where there are none."""
    want = have = 0.0
    for axis in (0, 1):
        if asked.shape[axis] < 2:
            continue
        both = np.take(where, range(1, where.shape[axis]), axis) & np.take(where, range(where.shape[axis] - 1), axis)
        want += float(np.linalg.norm(np.diff(asked, axis=axis)[both], axis=-1).sum())
        have += float(np.linalg.norm(np.diff(shown, axis=axis)[both], axis=-1).sum())
    return min(have / want, 1.0) if want > 0 else 1.0
