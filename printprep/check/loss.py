"""What a print loses of an edit, counted: colour, shadows, highlights; of a sample of real pixels."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._registry import step_name
from printprep.check._judge import Print, at_levels, detail_kept, difference, hue, kept_chroma, outside
from printprep.check._tone import EDIT_LEVELS, lights, print_tones
from printprep.check._words import SHADOWS as SHADOWS
from printprep.check._words import Figures as Figures
from printprep.check._words import Loss as Loss
from printprep.check._words import Region
from printprep.check.sampled import Sample, samples
from printprep.conditions.viewing import contrast
from printprep.parameters import checked_call
from printprep.photo.photo import Photo
from printprep.pipe import Pipeline

PARTS = (
    "upper left", "top", "upper right",
    "left", "centre", "right",
    "lower left", "bottom", "lower right",
)  # fmt: skip
"""The parts of a picture, row by row, as a person would name them."""

_HUES = (
    (20.0, "pinks"), (48.0, "reds"), (72.0, "oranges"), (105.0, "yellows"), (130.0, "yellow-greens"),
    (168.0, "greens"), (215.0, "blue-greens"), (255.0, "light blues"), (297.0, "blues"), (325.0, "purples"),
    (350.0, "magentas"), (360.0, "pinks"),
)  # fmt: skip
"""Upper ends of families of CIELAB hue angle, in degrees (our choice, after common colour names)."""

_FLATTER = 0.92
"""Share of the visible steps left alone at which tones count as flatter (our choice)."""


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
    (taken,) = samples(photo, [pipe], progress)
    return loss_of(taken)


def loss_of(taken: Sample) -> Loss:
    """The loss of a picture by its sample."""
    sim, shown, room = taken.sim, taken.shown, taken.pipe.room
    day, *evening = ([tone.between(0, SHADOWS) for tone in print_tones(sim, light)] for light in lights(room))
    left_alone, prepared = (_figures(taken, each, steps) for each, steps in zip(taken.prints, day, strict=True))
    return Loss(
        prepared=prepared,
        left_alone=left_alone,
        outside=float(taken.over.mean()),
        dark=float((shown.edit[..., 0] < SHADOWS).mean()),
        steps_edit=taken.edit.between(0, SHADOWS),
        evening_steps=(evening[0][1], evening[0][0]) if evening else None,
        black=sim.on.black,
        contrast=contrast(sim.on.paper, room),
        pushed_out=float((taken.over & ~outside(shown.asked, sim)).mean()),
        **_flatter(taken),
        done=tuple(step_name(step) for step in sim.plan.steps),
        regions=_regions(taken),
        sample=taken.size,
    )


def _figures(taken: Sample, print_: Print, steps: float) -> Figures:
    over, L, edit = taken.over, taken.shown.edit[..., 0], taken.edit.between(0, SHADOWS)
    asked, got = taken.shown.toned, print_.got
    dark = np.where(L < SHADOWS, max(0.0, 1 - steps / edit), 0.0)
    levels = EDIT_LEVELS[print_.tones.merged_shadows]
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
    at = (kept <= _FLATTER) & (EDIT_LEVELS >= SHADOWS / 2) & (EDIT_LEVELS < 75)
    where = at_levels(at, lightness)
    if not where.any():
        return {"flatter": 0.0, "flatter_by": 0.0, "flatter_tones": (0.0, 0.0)}
    by = 1 - np.interp(lightness[where], EDIT_LEVELS, kept)
    ends = float(EDIT_LEVELS[at].min()), float(EDIT_LEVELS[at].max())
    return {"flatter": float(where.mean()), "flatter_by": float(by.mean()), "flatter_tones": ends}


def family(angle: float) -> str:
    """The name of a hue angle in degrees."""
    return next(name for end, name in _HUES if angle % 360 < end)


def _regions(taken: Sample) -> tuple[Region, ...]:
    """The nine parts of a picture by its sample."""
    over, asked, (alone, ready) = taken.over, taken.shown.toned, taken.prints
    keeps_alone, keeps = (kept_chroma(asked, each.got) for each in (alone, ready))
    angle = hue(asked) % 360
    found = []
    for name, at in zip(PARTS, ninths(over.shape), strict=True):
        lost = np.where(alone.colour[at], alone.apart[at], 0)
        by_hue = np.bincount((angle[at] // 5).astype(int).ravel() % 72, lost.ravel(), 72)
        smooth = np.sum([np.roll(by_hue, k) for k in range(-2, 3)], axis=0)
        found.append(
            Region(
                name=name,
                outside=_mean(over[at]),
                kept_chroma=_mean(keeps[at][over[at]], 1.0),
                kept_chroma_alone=_mean(keeps_alone[at][over[at]], 1.0),
                hues=family(float(np.argmax(smooth)) * 5 + 2.5) if lost.any() else "",
                shadows=_mean(ready.shadows[at]),
                shadows_alone=_mean(alone.shadows[at]),
            )
        )
    return tuple(found)


def ninths(shape: tuple[int, ...]) -> list[tuple[slice, slice]]:
    """Where each of the parts lies in an array."""
    rows, columns = (np.linspace(0, n, 4).round().astype(int) for n in shape[:2])
    return [(slice(rows[i], rows[i + 1]), slice(columns[j], columns[j + 1])) for i in range(3) for j in range(3)]


def _mean(values: NDArray[Any], none: float = 0.0) -> float:
    return float(values.mean()) if values.size else none
