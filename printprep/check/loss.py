"""What a print loses of an edit, in figures: colour, shadows, highlights; of a sample of real pixels."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._registry import step_name
from printprep.check._figures import SHADOWS as SHADOWS
from printprep.check._figures import Figures as Figures
from printprep.check._figures import Lost
from printprep.check._judge import Print, at_levels, detail_kept, difference, hue, kept_chroma, outside
from printprep.check._regions import regions
from printprep.check._tone import LEVELS, lights, print_tones
from printprep.check._words import headline, verdict_lines
from printprep.check.sampled import Sample, sample
from printprep.conditions.viewing import contrast
from printprep.parameters import checked_call
from printprep.photo.photo import Photo
from printprep.pipe import Pipeline

_FLATTER = 0.92
"""Share of the visible steps left alone at which tones count as flatter (our choice)."""


@dataclass(frozen=True)
class Loss(Lost):
    """What a picture loses on a paper in a room, prepared and left alone.

    Parameters
    ----------
    prepared : Figures
        As the pipeline says.
    left_alone : Figures
        Relative colorimetric with black point compensation.
    outside : float, share of the picture, 0..1
        That asks for more than the paper holds, see `printprep.check._judge`.
    dark : float, share of the picture, 0..1
        That lies in the shadows: the edit's L* under 20.
    steps_edit : float, JND
        Steps between L* 0 and 20 in the edit, as it was viewed.
    evening_steps : tuple of float, JND, optional
        Steps of the prepared print and of the one left alone under the room's second light.
    black : float, L*
        Of the darkest neutral that the paper holds, relative to its white: where the edit's black goes.
    contrast : float
        Luminance of paper white over that of this black, as they hang in the room.
    pushed_out : float, share of the picture, 0..1
        That asks for more than the paper holds only because of the steps of tone and room.
    flatter : float, share of the picture, 0..1
        In tones between which the prepared print shows at most 0.92 times the visible steps of the one left alone.
    flatter_by : float, 0..1
        How many fewer, on average, there.
    flatter_tones : (float, float), L*
        From which to which tone of the edit; 0 and 0 where none are.
    done : tuple of str
        The steps that were done, by name.
    regions : tuple of Region
        The nine parts of the picture, row by row.
    sample : (rows, columns)
        Size of the sample that all shares are of.

    Examples
    --------
    >>> import printprep as pp
    >>> lost = pp.loss(pp.read("edit.tif"), pp.pipeline(paper="gloss", room="office"))
    >>> lost.prepared.kept_chroma > 0.8, lost.sample
    (True, (64, 96))
    """

    def __str__(self) -> str:
        return "\n".join([headline(self), *verdict_lines(self)])


@checked_call
def loss(
    photo: Photo,
    pipe: Pipeline,
    *,
    progress: Callable[[int, int], None] | None = None,
) -> Loss:
    """Count what a print loses.

    Parameters
    ----------
    photo : Photo
        The edit.
    pipe : Pipeline
        Paper, room and what is done.
    progress : callable, optional
        Told of pixels done, and of all there are; may raise to stop.

    Returns
    -------
    Loss

    Raises
    ------
    ParameterError
        For an argument of another kind.
    InputError
        If the picture cannot be read.

    Notes
    -----
    Judged are at most 160 rows and columns of pixels, evenly spread, of the edit and of the very job that
    `printprep.prepare` does. Of as many drawn at random, a share of 1 % would be true to within 0.06 %, one of
    50 % to within 0.3 % (binomial, one standard deviation).

    Examples
    --------
    >>> import printprep as pp
    >>> lost = pp.loss(pp.read("edit.tif"), pp.pipeline(paper="plain-uncoated", room="office"))
    >>> 0 < lost.score < 1
    True
    """
    return loss_of(sample(photo, pipe, progress))


def loss_of(taken: Sample) -> Loss:
    """The loss of a picture by its sample."""
    sim, shown, room = taken.sim, taken.shown, taken.pipe.room
    day, night = lights(room)
    by_day, by_night = (print_tones(sim, light) if night and light else None for light in (day, night))
    counted = [tone.between(0, SHADOWS) for tone in by_day or (each.tones for each in taken.prints)]
    left_alone, prepared = (_figures(taken, each, steps) for each, steps in zip(taken.prints, counted, strict=True))
    evening = [tone.between(0, SHADOWS) for tone in by_night] if by_night else None
    return Loss(
        prepared=prepared,
        left_alone=left_alone,
        outside=float(taken.over.mean()),
        dark=float((shown.edit[..., 0] < SHADOWS).mean()),
        steps_edit=taken.edit.between(0, SHADOWS),
        evening_steps=(evening[1], evening[0]) if evening else None,
        black=sim.on.black,
        contrast=contrast(sim.on.paper, room),
        pushed_out=float((taken.over & ~outside(shown.asked, sim)).mean()),
        **_flatter(taken),
        done=tuple(step_name(step) for step in sim.plan.steps),
        regions=regions(taken),
        sample=taken.size,
    )


def _figures(taken: Sample, print_: Print, steps: float) -> Figures:
    over, L, edit = taken.over, taken.shown.edit[..., 0], taken.edit.between(0, SHADOWS)
    asked, got = taken.shown.toned, print_.got
    dark = np.where(L < SHADOWS, max(0.0, 1 - steps / edit), 0.0)
    levels = LEVELS[print_.tones.merged_shadows]
    turned = np.abs((hue(got[over]) - hue(asked[over]) + 180) % 360 - 180)
    return Figures(
        visible=float(np.maximum(print_.colour | print_.shadows | print_.highlights, dark).mean()),
        colour=float(print_.colour.mean()),
        flat=float(np.maximum(print_.shadows, dark).mean()),
        shadows=float(print_.shadows.mean()),
        highlights=float(print_.highlights.mean()),
        difference=_mean(print_.apart[over]),
        from_edit=float(difference(taken.shown.edit, got).mean()),
        kept_chroma=_mean(kept_chroma(asked[over], got[over]), 1.0),
        hue_shift=_mean(turned),
        detail=detail_kept(asked, got, over),
        steps=steps,
        merged_below=float(levels.max()) if len(levels) else 0.0,
    )


def _flatter(taken: Sample) -> dict[str, Any]:
    """Who pays for lifted shadows: where tones lie closer together than left alone."""
    alone, prepared = (each.tones.per_step for each in taken.prints)
    lightness = taken.shown.edit[..., 0]
    kept = prepared / np.maximum(alone, 1e-6)
    at = (kept <= _FLATTER) & (LEVELS >= SHADOWS / 2) & (LEVELS < 75)
    where = at_levels(at, lightness)
    if not where.any():
        return {"flatter": 0.0, "flatter_by": 0.0, "flatter_tones": (0.0, 0.0)}
    by = 1 - np.interp(lightness[where], LEVELS, kept)
    ends = float(LEVELS[at].min()), float(LEVELS[at].max())
    return {"flatter": float(where.mean()), "flatter_by": float(by.mean()), "flatter_tones": ends}


def _mean(values: NDArray[np.floating], none: float = 0.0) -> float:
    return float(values.mean()) if len(values) else none
