"""What a print loses of an edit, in figures: colour, shadows, highlights; counted over every pixel."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from printprep.arguments import photo_and_pipe
from printprep.check._judge import (
    OVER,
    VISIBLE,
    at_levels,
    chroma_over,
    detail_kept,
    difference,
    hue,
    kept_chroma,
)
from printprep.check._regions import Region, regions
from printprep.check._tone import LEVELS, Tones, edit_tones, print_tones
from printprep.check.look import Look, look
from printprep.check.simulate import Shown, Simulation, simulation
from printprep.check.verdict import lights
from printprep.photo.photo import Photo
from printprep.pipe import Pipeline

Array = NDArray[np.float64]

SHADOWS = 20.0
"""L* of the edit below which steps are counted as shadow steps, as in the verdict after a job."""


@dataclass(frozen=True)
class Figures:
    """What one print of a picture loses.

    Parameters
    ----------
    visible : float, share of the picture, 0..1
        Where any of the three causes is at work.
    colour : float, share of the picture, 0..1
        Where the colour shown differs from the colour asked of the paper by more than 1 CIEDE2000.
    shadows : float, share of the picture, 0..1
        In tones of the darker half where a step of one L* is seen as less than one JND in the room.
    highlights : float, share of the picture, 0..1
        In tones that the edit shows apart from white and that are less than one JND from paper white.
    difference, difference_95, difference_most : float, CIEDE2000
        Mean over the picture, 95th percentile and largest, of the colour asked of the paper against the
        colour shown, both relative to paper white.
    from_edit : float, CIEDE2000
        Mean difference of the print from the edit, each relative to its own white. Includes the paper's
        lighter black and the tones that are moved on purpose for the room.
    kept_chroma : float, 0..1
        Share of their C* that colours outside the paper keep, on average; 1 where there are none.
    hue_shift : float, degrees
        Mean change of hue angle of those colours.
    detail : float, 0..1
        Share of the fine contrast inside those areas that is left, dE*ab between neighbours of the reduced copy.
    steps : float, JND
        Steps that the eye can tell apart between the edit's L* 0 and 20, as the print hangs in the room.
    merged_below : float, L*
        Tones of the edit darker than this merge (see `shadows`); 0 where none do.
    """

    visible: float
    colour: float
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
class Loss:
    """What a picture loses on a paper in a room, prepared and unprepared.

    Parameters
    ----------
    ready : Figures
        Prepared as the pipeline says.
    plain : Figures
        Unprepared: relative colorimetric with black point compensation.
    outside : float, share of the picture, 0..1
        That asks, once toned for paper and room, for more chroma than the paper holds (by more than 1 C*).
    steps_edit : float, JND
        Steps between L* 0 and 20 in the edit, as it was viewed.
    evening_steps : tuple of float, JND, optional
        Steps of the prepared and the unprepared print under the room's second light.
    worst_hue : float, degrees
        Hue angle (CIELAB) at which most colour is lost, unprepared; 0 where none is.
    regions : tuple of Region
        The nine parts of the picture, row by row.
    """

    ready: Figures
    plain: Figures
    outside: float
    steps_edit: float
    evening_steps: tuple[float, float] | None
    worst_hue: float
    regions: tuple[Region, ...]

    @property
    def score(self) -> float:
        """Share of the picture's area whose loss is visible once it is prepared, 0 (easy) to 1 (hard)."""
        return self.ready.visible

    def _repr_html_(self) -> str:
        from printprep.check._words import loss_table

        return loss_table(self)


def loss(
    photo: Photo,
    pipe: Pipeline,
    *,
    threads: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Loss:
    """Count what a print loses.

    Parameters
    ----------
    photo : Photo
        The edit.
    pipe : Pipeline
        Paper, room and what is done.
    threads : int, optional
        All cores if not given.
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
    The loss of a pixel depends on its colour alone, so the picture's colours are counted (in steps of
    1 L*) and each is judged once. Against judging every pixel by itself, shares of the picture move by
    less than 0.01 and mean differences by less than 0.05 CIEDE2000.
    """
    photo_and_pipe(photo, pipe)
    return loss_of(look(photo, threads=threads, progress=progress), simulation(photo.profile.data, pipe.suited(photo)))


def loss_of(seen: Look, sim: Simulation, *, side: int = 420, shown: Shown | None = None) -> Loss:
    """The loss of a picture that was looked at.

    Parameters
    ----------
    seen : Look
        The picture's colours and its reduced copy.
    sim : Simulation
        Paper and room.
    side : int, pixels
        Longer side of the copy on which parts of the picture and fine contrast are judged.
    shown : Shown, optional
        ``sim(seen.values)``, where it is at hand.
    """
    shown = shown if shown is not None else sim(seen.values)
    shares = seen.shares
    day, night = lights(sim.pipe.room)
    tones = print_tones(sim, sim.pipe.room)
    by_day = print_tones(sim, day) if night else tones
    edit = edit_tones(sim.on)
    outside = {
        "plain": chroma_over(shown.asked, sim) > OVER,
        "ready": chroma_over(shown.toned, sim) > OVER,
    }
    apart = {"plain": difference(shown.asked, shown.plain), "ready": difference(shown.toned, shown.ready)}
    copy = reduced(seen, side)
    small = replace(sim(copy), ready=sim.around(copy))
    plain, ready = (
        _figures(shown, shares, print_, edit, name, outside[name], apart[name], counted, small, sim)
        for name, print_, counted in (("plain", tones[0], by_day[0]), ("ready", tones[1], by_day[1]))
    )
    by_night = print_tones(sim, night) if night else None
    return Loss(
        ready=ready,
        plain=plain,
        outside=float(shares[outside["ready"]].sum()),
        steps_edit=edit.between(0, SHADOWS),
        evening_steps=(by_night[1].between(0, SHADOWS), by_night[0].between(0, SHADOWS)) if by_night else None,
        worst_hue=_worst_hue(shown, shares, apart["plain"]),
        regions=regions(small, tones, sim),
    )


def reduced(seen: Look, side: int = 600) -> NDArray[np.float32]:
    """The copy, no longer than `side`, as device values 0..1: enough to name parts of a picture."""
    import cv2

    rows, columns = seen.picture.shape[:2]
    factor = max(rows, columns) / side
    picture = seen.picture
    if factor > 1:
        size = (max(1, round(columns / factor)), max(1, round(rows / factor)))
        picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return picture.astype(np.float32) / np.float32(65535)


def _figures(
    shown: Shown,
    shares: Array,
    tones: Tones,
    edit: Tones,
    name: str,
    outside: NDArray[np.bool_],
    apart: NDArray[np.float32],
    counted: Tones,
    small: Shown,
    sim: Simulation,
) -> Figures:
    asked, got = (shown.asked, shown.plain) if name == "plain" else (shown.toned, shown.ready)
    colour = apart > VISIBLE
    dark = at_levels(tones.merged_shadows, shown.edit[:, 0])
    light = at_levels(tones.merged_highlights(edit), shown.edit[:, 0])
    order = np.argsort(apart)
    at_95 = int(np.searchsorted(np.cumsum(shares[order]), 0.95))
    merged = LEVELS[tones.merged_shadows]
    want, have = (small.asked, small.plain) if name == "plain" else (small.toned, small.ready)
    return Figures(
        visible=float(shares[colour | dark | light].sum()),
        colour=float(shares[colour].sum()),
        shadows=float(shares[dark].sum()),
        highlights=float(shares[light].sum()),
        difference=float((apart * shares).sum()),
        difference_95=float(apart[order[min(at_95, len(order) - 1)]]),
        difference_most=float(apart.max()),
        from_edit=float((difference(shown.edit, got) * shares).sum()),
        kept_chroma=_mean(kept_chroma(asked, got), shares, outside, 1.0),
        hue_shift=_mean(np.abs((hue(got) - hue(asked) + 180) % 360 - 180), shares, outside, 0.0),
        detail=detail_kept(want, have, chroma_over(want, sim) > OVER),
        steps=counted.between(0, SHADOWS),
        merged_below=float(merged.max()) if len(merged) else 0.0,
    )


def _mean(values: NDArray[np.floating], shares: Array, where: NDArray[np.bool_], otherwise: float) -> float:
    weight = shares[where]
    return float((values[where] * weight).sum() / weight.sum()) if weight.sum() > 0 else otherwise


def _worst_hue(shown: Shown, shares: Array, apart: NDArray[np.float32]) -> float:
    """The hue angle around which most is lost, in steps of 15 degrees."""
    lost = np.where(apart > VISIBLE, apart, 0) * shares
    if not lost.any():
        return 0.0
    by_hue = np.bincount((hue(shown.asked) % 360 // 15).astype(int) % 24, lost, 24)
    smooth = by_hue + 0.5 * (np.roll(by_hue, 1) + np.roll(by_hue, -1))
    return float(smooth.argmax() * 15 + 7.5)
