"""A plot of the tone curves, and of the steps that the eye can tell apart along them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Lab, Stage, Steps
from printprep.colour.blackpoint import compensate
from printprep.colour.lab import luminance_from_lightness
from printprep.colour.visibility import jnd_index
from printprep.compose import Pipeline
from printprep.conditions.viewing import luminance
from printprep.demo._sheet import ACCENT, FAINT, GROUND, INK, TYPE, Bytes, write_png

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from printprep.colour.profile import Profile

_STEP = 5.0
"""Width of the bins that steps are counted in, L* of the edit."""
_COOL = "#8fb8ff"

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Tones:
    """Neutral tones of one job, on a grid of the edit's L* from 0 to 100.

    Parameters
    ----------
    edit : (n,) ndarray, L*
        In the edit.
    plain, ready : (n,) ndarray, L*
        On the print: with black point compensation alone, and prepared.
    edit_steps, plain_steps, ready_steps : (n,) ndarray, JND
        Visible steps from the edit's black up to each tone (DICOM PS3.14): in the edit as it was viewed,
        and on both prints as they hang.
    """

    edit: Floats
    plain: Floats
    ready: Floats
    edit_steps: Floats
    plain_steps: Floats
    ready_steps: Floats

    def shadows(self) -> tuple[float, float, float]:
        """Steps from L* 0 to 20 of the edit: in the edit, on the print left alone, on the print prepared."""
        at = [float(np.interp(20.0, self.edit, s)) for s in (self.edit_steps, self.plain_steps, self.ready_steps)]
        return at[0], at[1], at[2]


def tones(pipe: Pipeline, profile: Profile) -> Tones:
    """Follow neutral tones through a job.

    Parameters
    ----------
    pipe : Pipeline
        The job.
    profile : Profile
        Of the edit.
    """
    plan = pipe.plan(profile)
    on = plan.on
    edit = np.linspace(0, 100, 401)
    greys: Lab = np.stack([edit, 0 * edit, 0 * edit], axis=-1).astype(np.float32)
    plain: Lab = compensate(greys, 0, on.black).astype(np.float32)
    ready = Steps(tuple(s for s in plan.steps if s.stage < Stage.GAMUT and not s.reach(on)))(plain, on)
    reference = on.room.reference
    white = reference.white_luminance(on.paper.white_reflectance)
    light = white * (reference.flare + (1 - reference.flare) * np.asarray(luminance_from_lightness(edit), np.float64))

    def steps(luminances: Floats) -> Floats:
        counted = jnd_index(luminances)
        return np.asarray(counted - counted[0])

    hung = [steps(luminance(lab[:, 0], on.paper, on.room)) for lab in (plain, ready)]
    return Tones(edit, plain[:, 0].astype(float), ready[:, 0].astype(float), steps(light), hung[0], hung[1])


def write(path: Path, jobs: list[tuple[str, str, Tones]], *, overwrite: bool) -> None:
    """Draw one column for each paper and write the plot as a PNG.

    Parameters
    ----------
    path : Path
        Where.
    jobs : list of (paper, room, Tones)
        In any order; titles for people. At most two rooms.
    overwrite : bool
        Replace an existing file.
    """
    with TYPE:
        picture = _drawn(jobs)
    write_png(path, picture, overwrite=overwrite)


def _drawn(jobs: list[tuple[str, str, Tones]]) -> Bytes:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas = FigureCanvasAgg(figure(jobs))
    canvas.draw()
    return np.array(canvas.buffer_rgba())[..., :3]


def figure(jobs: list[tuple[str, str, Tones]]) -> Figure:
    """The plot that `write` draws, one column for each paper."""
    from matplotlib.figure import Figure

    papers = list(dict.fromkeys(paper for paper, _, _ in jobs))
    page = Figure(figsize=(7.2 * len(papers), 10.6), dpi=120, facecolor=GROUND)
    grid = page.add_gridspec(
        2,
        len(papers),
        left=0.065,
        right=0.975,
        top=0.855,
        bottom=0.105,
        hspace=0.30,
        wspace=0.14,
        height_ratios=(1.15, 1),
    )
    page.text(0.065, 0.965, "What happens to grey tones", color=INK, size=19, weight="bold", va="top")
    page.text(
        0.065,
        0.928,
        "Above: lightness in the edit and on the print. Below: how many steps the eye can tell apart there.",
        color=FAINT,
        size=11.5,
        va="top",
    )
    for column, paper in enumerate(papers):
        own = [(room, t) for p, room, t in jobs if p == paper]
        _curves(page.add_subplot(grid[0, column]), paper, own)
        _steps(page.add_subplot(grid[1, column]), own)
    page.text(
        0.065,
        0.028,
        f"Steps: just-noticeable differences by DICOM PS3.14, in every {_STEP:.0f} L* of the edit. "
        "The eye separates fewer in less light, and most of those lost are shadows.",
        color=FAINT,
        size=10.5,
        va="bottom",
    )
    return page


def _plain_axes(axes: Any, under: str, beside: str) -> None:
    axes.set_facecolor("#262626")
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.tick_params(colors=FAINT, length=0, labelsize=10)
    axes.grid(color="#3a3a3a", linewidth=0.8)
    axes.set_axisbelow(True)
    axes.set_xlim(0, 100)
    axes.set_xlabel(under, color=FAINT, size=11)
    axes.set_ylabel(beside, color=FAINT, size=11)


def _curves(axes: Any, paper: str, own: list[tuple[str, Tones]]) -> None:
    _plain_axes(axes, "L* in the edit", "L* on the print")
    axes.set_ylim(0, 100)
    axes.set_title(paper, color=INK, size=14, weight="bold", loc="left", pad=10)
    plain = own[0][1]
    axes.plot((0, 100), (0, 100), color="#565656", linewidth=1)
    axes.plot(plain.edit, plain.plain, color=FAINT, linewidth=1.6, dashes=(4, 3), label="left alone")
    for (room, t), colour in zip(own, (_COOL, ACCENT), strict=False):
        axes.plot(t.edit, t.ready, color=colour, linewidth=2.4, label=f"prepared, {room}")
    _legend(axes, "lower right")


def _steps(axes: Any, own: list[tuple[str, Tones]]) -> None:
    _plain_axes(axes, "L* in the edit", f"visible steps in every {_STEP:.0f} L*")
    room, last = own[-1]
    edges = np.arange(0, 100 + _STEP, _STEP)

    def binned(cumulative: Floats) -> Floats:
        return np.diff(np.interp(edges, last.edit, cumulative))

    edit, plain, ready = last.shadows()
    axes.stairs(
        binned(last.edit_steps),
        edges,
        fill=True,
        color="#484848",
        label=f"the edit on screen: {edit:.0f} in L* 0 to 20",
    )
    axes.stairs(binned(last.ready_steps), edges, fill=True, color=ACCENT, alpha=0.20)
    axes.stairs(
        binned(last.plain_steps),
        edges,
        color=FAINT,
        linewidth=1.6,
        linestyle=(0, (4, 3)),
        label=f"left alone, {room}: {plain:.0f}",
    )
    axes.stairs(binned(last.ready_steps), edges, color=ACCENT, linewidth=2.4, label=f"prepared, {room}: {ready:.0f}")
    axes.set_ylim(0, 1.42 * binned(last.edit_steps).max())
    _legend(axes, "upper right")


def _legend(axes: Any, where: str) -> None:
    box = axes.legend(loc=where, fontsize=8.5, frameon=False, labelcolor=INK, handlelength=2.4, borderaxespad=0.8)
    for text in box.get_texts():
        text.set_color(INK)
