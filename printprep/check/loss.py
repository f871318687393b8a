"""What a print loses of an edit, in figures: colour, shadows, highlights; of a sample of real pixels."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Lab
from printprep.adjust._registry import step_name
from printprep.arguments import photo_and_pipe
from printprep.check import sampled
from printprep.check._judge import at_levels, detail_kept, difference, hue, kept_chroma, loses, outside
from printprep.check._regions import Region, regions
from printprep.check._tone import LEVELS, Tones, edit_tones, lights, print_tones
from printprep.check.sampled import Sample, sample
from printprep.check.simulate import Shown, simulation
from printprep.conditions.viewing import contrast
from printprep.photo.photo import Photo
from printprep.pipe import Pipeline
from printprep.results import Result

SHADOWS = 20.0
"""L* of the edit at which the shadows end."""

_FLATTER = 0.92
"""Share of the visible steps left alone at which tones count as flatter (our choice)."""


@dataclass(frozen=True)
class Figures(Result):
    """What one print of a picture loses.

    Parameters
    ----------
    visible : float, share of the picture, 0..1
        Where something is lost: wholly where colour is lost or tones merge, else in the shadows by the share of their
        visible steps that the print does not show.
    colour : float, share of the picture, 0..1
        Where colours outside the paper lose visibly: the one shown differs from the one asked for by more than
        3 CIEDE2000.
    flat : float, share of the picture, 0..1
        Lost in the dark: area of the shadows (the edit's L* under 20) times the share of their visible steps that is
        lost; tones that merge count wholly.
    shadows : float, share of the picture, 0..1
        In tones of the darker half where a step of one L* is seen as less than one JND in the room.
    highlights : float, share of the picture, 0..1
        In tones that the edit shows apart from white and that are less than one JND from paper white.
    difference, difference_95, difference_most : float, CIEDE2000
        Mean, 95th percentile and largest over the colours outside the paper: asked for against shown, both relative to
        paper white; 0 where there are none.
    from_edit : float, CIEDE2000
        Mean difference of the print from the edit, each relative to its own white. Includes the paper's
        lighter black and the tones that are moved on purpose for the room.
    kept_chroma : float, 0..1
        Share of their C* that colours outside the paper keep, on average; 1 where there are none.
    hue_shift : float, degrees
        Mean change of hue angle of those colours.
    detail : float, 0..1
        Share of the contrast between neighbours of the sample inside those areas that is left, by dE*ab.
    steps : float, JND
        Steps that the eye can tell apart between the edit's L* 0 and 20, as the print hangs in the room.
    merged_below : float, L*
        Tones of the edit darker than this merge (see `shadows`); 0 where none do.
    """

    visible: float
    colour: float
    flat: float
    shadows: float
    highlights: float
    difference: float
    difference_95: float
    difference_most: float
    from_edit: float
    kept_chroma: float
    hue_shift: float
    detail: float
    steps: float
    merged_below: float


@dataclass(frozen=True)
class Loss(Result):
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
    worst_hue : float, degrees
        Hue angle (CIELAB) at which most colour is lost, left alone; 0 where none is.
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
    >>> sorted(lost.to_dict())[:4]
    ['black', 'contrast', 'dark', 'done']
    """

    prepared: Figures
    left_alone: Figures
    outside: float
    dark: float
    steps_edit: float
    evening_steps: tuple[float, float] | None
    black: float
    contrast: float
    worst_hue: float
    pushed_out: float
    flatter: float
    flatter_by: float
    flatter_tones: tuple[float, float]
    done: tuple[str, ...]
    regions: tuple[Region, ...]
    sample: tuple[int, int]

    _also = ("score",)

    def __str__(self) -> str:
        from printprep.check._words import headline

        return headline(self)

    @property
    def score(self) -> float:
        """Share of the picture that is lost visibly once it is prepared, 0 (easy) to 1 (hard)."""
        return self.prepared.visible

    def _repr_html_(self) -> str:
        from printprep.check._words import loss_table

        return loss_table(self)


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
    `printprep.prepare` does. Of as many drawn at random, a share of 1 % would be true to within 0.04 %, one of
    50 % to within 0.2 % (binomial, one standard deviation).

    Examples
    --------
    >>> import printprep as pp
    >>> lost = pp.loss(pp.read("edit.tif"), pp.pipeline(paper="plain-uncoated", room="office"))
    >>> 0 < lost.score < 1
    True
    """
    photo_and_pipe(photo, pipe)
    return loss_of(sample(photo, pipe, progress))


def loss_of(taken: Sample, shown: Shown | None = None) -> Loss:
    """The loss of a picture by its sample.

    Parameters
    ----------
    taken : Sample
        Of the edit and of what was made of it.
    shown : Shown, optional
        What `sampled.shown` says of it, where it is at hand.
    """
    shown = sampled.shown(taken) if shown is None else shown
    sim = simulation(taken.profile.data, taken.pipe)
    on, room = sim.on, taken.pipe.room
    day, night = lights(room)
    edit, tones = edit_tones(on), print_tones(sim, room)
    by_day, by_night = (print_tones(sim, light) if night and light else None for light in (day, night))
    over = outside(shown.toned, sim)
    counted = [tone.between(0, SHADOWS) for tone in by_day or tones]
    left_alone, prepared = (
        _figures(shown, got, over, tone, edit, steps)
        for got, tone, steps in zip((shown.plain, shown.ready), tones, counted, strict=True)
    )
    evening = [tone.between(0, SHADOWS) for tone in by_night] if by_night else None
    return Loss(
        prepared=prepared,
        left_alone=left_alone,
        outside=float(over.mean()),
        dark=float((shown.edit[..., 0] < SHADOWS).mean()),
        steps_edit=edit.between(0, SHADOWS),
        evening_steps=(evening[1], evening[0]) if evening else None,
        black=on.black,
        contrast=contrast(on.paper, room),
        worst_hue=_worst_hue(shown, loses(shown.toned, shown.plain, over)),
        pushed_out=float((over & ~outside(shown.asked, sim)).mean()),
        **_flatter(tones, shown.edit[..., 0]),
        done=tuple(step_name(step) for step in sim.plan.steps),
        regions=regions(shown, tones, sim),
        sample=taken.size,
    )


def _figures(shown: Shown, got: Lab, over: NDArray[np.bool_], tones: Tones, edit: Tones, steps: float) -> Figures:
    asked, L = shown.toned, shown.edit[..., 0]
    colour = loses(asked, got, over)
    merged = at_levels(tones.merged_shadows, L)
    light = at_levels(tones.merged_highlights(edit), L)
    lost = max(0.0, 1 - steps / edit.between(0, SHADOWS))
    dark = np.where(L < SHADOWS, lost, 0.0)
    apart = difference(asked[over], got[over])
    levels = LEVELS[tones.merged_shadows]
    turned = np.abs((hue(got[over]) - hue(asked[over]) + 180) % 360 - 180)
    return Figures(
        visible=float(np.maximum(colour | merged | light, dark).mean()),
        colour=float(colour.mean()),
        flat=float(np.maximum(merged, dark).mean()),
        shadows=float(merged.mean()),
        highlights=float(light.mean()),
        difference=_of(apart, np.mean),
        difference_95=_of(apart, _percentile_95),
        difference_most=_of(apart, np.max),
        from_edit=float(difference(shown.edit, got).mean()),
        kept_chroma=_of(kept_chroma(asked[over], got[over]), np.mean, 1.0),
        hue_shift=_of(turned, np.mean),
        detail=detail_kept(asked, got, over),
        steps=steps,
        merged_below=float(levels.max()) if len(levels) else 0.0,
    )


def _flatter(tones: tuple[Tones, Tones], lightness: NDArray[np.float32]) -> dict[str, Any]:
    """Who pays for lifted shadows: where tones lie closer together than left alone."""
    alone, prepared = (tone.per_step for tone in tones)
    kept = prepared / np.maximum(alone, 1e-6)
    at = (kept <= _FLATTER) & (LEVELS >= SHADOWS / 2) & (LEVELS < 75)
    where = at_levels(at, lightness)
    if not where.any():
        return {"flatter": 0.0, "flatter_by": 0.0, "flatter_tones": (0.0, 0.0)}
    by = 1 - np.interp(lightness[where], LEVELS, kept)
    ends = float(LEVELS[at].min()), float(LEVELS[at].max())
    return {"flatter": float(where.mean()), "flatter_by": float(by.mean()), "flatter_tones": ends}


def _of(values: NDArray[np.floating], how: Callable[[NDArray[np.floating]], Any], none: float = 0.0) -> float:
    return float(how(values)) if len(values) else none


def _worst_hue(shown: Shown, lost: NDArray[np.bool_]) -> float:
    """The hue angle around which most is lost, in steps of 15 degrees."""
    if not lost.any():
        return 0.0
    apart = difference(shown.toned[lost], shown.plain[lost])
    by_hue = np.bincount((hue(shown.toned[lost]) % 360 // 15).astype(int) % 24, apart, 24)
    smooth = by_hue + 0.5 * (np.roll(by_hue, 1) + np.roll(by_hue, -1))
    return float(smooth.argmax() * 15 + 7.5)


def _percentile_95(values: NDArray[np.floating]) -> np.floating:
    """As `numpy.percentile`, which loads a package of its own for a median or so."""
    at = 0.95 * (len(values) - 1)
    return np.float64(np.interp(at, np.arange(len(values)), np.sort(values)))
