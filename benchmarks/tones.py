"""Count the steps that a simulated viewer sees on prints, with and without preparation: ``python -m benchmarks.tones``."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from printprep import presets
from printprep.adjust import _tone
from printprep.adjust.room_brightness import RoomBrightness
from printprep.adjust.room_colour import RoomColour
from printprep.adjust.shadow_lift import ShadowLift
from printprep.colour.appearance import Eye
from printprep.colour.lab import lightness_from_luminance, luminance_from_lightness
from printprep.colour.visibility import jnd_count_fixed, jnd_index
from printprep.conditions.conditions import Conditions
from printprep.conditions.paper import Paper
from printprep.conditions.room import Glazing, Room
from printprep.conditions.viewing import luminance, white_luminance

LUX = (2000, 500, 200, 100, 50, 20)
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Seen:
    """What one viewer sees of the edit's grey wedge on one print."""

    steps: int  # of 20, L* 0 to 20 by ones, that are one JND apart or more
    dark: float  # JND between L* 0 and 20
    all_steps: int  # of 100, L* 0 to 100 by ones
    range: float  # JND between black and white


def compensated(edit: Array, on: Conditions) -> Array:
    """Print-referred L* of the edit's L*: black point compensation, and nothing else."""
    low = luminance_from_lightness(on.black)
    return np.asarray(lightness_from_luminance(low + (1 - low) * luminance_from_lightness(edit)))


def grey(L: Array, on: Conditions, lift: float | None, room: float | None) -> Array:
    """L* on the print with shadow-lift and room-brightness; strength None is the default."""
    lab = np.stack([L, 0 * L, 0 * L], axis=-1)
    first = ShadowLift() if lift is None else ShadowLift(strength=lift)
    return RoomBrightness(strength=room)(first(lab, on), on)[..., 0]  # type: ignore[arg-type, return-value]


def viewers(on: Conditions) -> dict[str, partial[Array]]:
    """Two opinions on how many steps lie between luminances."""
    fixed = partial(jnd_count_fixed, adapted_to=0.2 * white_luminance(on.paper, on.room))
    return {"each tone": partial(jnd_index), "the room": fixed}


def seen(L: Array, on: Conditions, viewer: partial[Array]) -> Seen:
    """Judge the print lightnesses of the edit's L* 0, 1 .. 100."""
    count = viewer(luminance(L, on.paper, on.room))
    step = np.diff(count)
    return Seen(int((step[:20] >= 1).sum()), count[20] - count[0], int((step >= 1).sum()), count[-1] - count[0])


def slopes(on: Conditions, lift: float | None, room: float | None) -> tuple[float, float]:
    """Slope against compensation alone: the mean over the edit's L* 40..60, the least over 5..95."""
    edit = np.linspace(5, 95, 1801)
    before = compensated(edit, on)
    after = grey(before, on, lift, room)
    ends = compensated(np.array([40.0, 60.0]), on)
    middle = np.diff(grey(ends, on, lift, room)) / np.diff(ends)
    return float(middle[0]), float((np.diff(after) / np.diff(before)).min())


def table(paper: Paper, title: str, glazing: Glazing = "none", lift: float | None = None, room: float | None = None) -> None:
    """One paper under all lights."""
    edit = np.arange(101.0)
    print(f"\n{title}, black L* {paper.neutral_black:.1f}" + (f", glazing {glazing}" if glazing != "none" else ""))
    print("            eye adapted to each tone                 eye adapted to the room           tones")
    print("   lux   steps 0-20   JND 0-20   steps 0-100   steps 0-20   JND 0-20   steps 0-100   L* 20  50  80   slope 40-60  least")
    for lux in LUX:
        on = Conditions(paper, Room(illuminance_lux=lux, glazing=glazing))
        before = compensated(edit, on)
        after = grey(before, on, lift, room)
        line = f"{lux:6d}"
        for viewer in viewers(on).values():
            a, b = seen(before, on, viewer), seen(after, on, viewer)
            line += f"   {a.steps:2d} > {b.steps:2d}  {a.dark:5.1f} > {b.dark:5.1f} {b.dark / a.dark:4.2f}  {a.all_steps:3d} > {b.all_steps:3d}"
        middle, least = slopes(on, lift, room)
        moved = after - before
        line += f"   {moved[20]:+4.1f} {moved[50]:+4.1f} {moved[80]:+4.1f}   {middle:4.2f} {least:4.2f}"
        print(line)


def main() -> None:
    """Print the tables."""
    papers = {name: presets.load(name, "paper").paper for name in presets.names("paper")}
    for name, paper in papers.items():
        assert paper is not None
        table(paper, name)
    for name in ("gloss", "cotton-rag"):
        paper = papers[name]
        assert paper is not None
        table(paper, name, "clear")
    if "sweep" in sys.argv:
        sweep(papers)


def sweep(papers: dict[str, Paper | None]) -> None:
    """How the default strengths were chosen."""
    edit = np.arange(101.0)
    for name in ("gloss", "cotton-rag", "plain-uncoated"):
        paper = papers[name]
        assert paper is not None
        for lux in (200, 50, 20):
            on = Conditions(paper, Room(illuminance_lux=lux))
            before = compensated(edit, on)
            for lift in (0.0, 0.5, 0.75, 1.0):
                for room in (0.0, 0.5, 0.8, 1.0, 1.5):
                    after = grey(before, on, lift, room)
                    cells = [seen(after, on, v) for v in viewers(on).values()]
                    text = "  ".join(f"{c.steps:3d} {c.dark:5.1f} {c.all_steps:4d} {c.range:6.1f}" for c in cells)
                    print(f"{name:15s} {lux:5d} lift {lift:4.2f} room {room:4.2f}  {text}  slope {slopes(on, lift, room)}")


if __name__ == "__main__":
    main()
