"""What tone curves are to keep, beside what they keep: goals on matte, the pane, spread of real pictures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from printprep.adjust import _tone
from printprep.adjust.shadow_lift import worth
from printprep.colour.blackpoint import compensate
from printprep.colour.visibility import jnd_index
from printprep.conditions.conditions import Conditions
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.viewing import in_edit

Array = NDArray[np.float64]

GOALS = {500: (1.38, 0.86, (1.0, 2.0, 1.0, 0.0)), 50: (1.6, 0.85, (1.0, 4.0, 2.5, 1.0))}
"""By lux: least gain of visible range, least slope above L* 20, most that L* 2, 50, 70, 90 of the edit rise."""

SPREAD = {500: 0.95, 50: 0.92}
"""By lux: least spread of L* against the print left alone, on 95 % of pictures."""


def curve(view: _tone.View, overall: float = 1.0, lift: float = 1.0) -> Array:
    """L* at a view's nodes after lift and room, both times one overall strength, the lift times its own too."""
    room = _tone.room(view, overall * _tone.room_strength(view))
    return room(_tone.lift(view, overall * lift)(view.lightness()))


def goals(paper: Paper) -> None:
    """Gain, slope and rise at the default strengths, and at others."""
    print(f"\nwhat a matte paper of black L* {paper.neutral_black:.1f} gains and pays, at edit L*; goals below")
    print("   lx  strength  gain 0-20  least slope >20   least anywhere    L* 2    50    70    90")
    for lux, (gain, slope, most) in GOALS.items():
        view = _tone.View.of(Conditions(paper, Room(illuminance_lux=lux)))
        L = view.lightness()
        edit = in_edit(L, view.black)
        ends = np.interp([0.0, 20.0], edit, L)
        at = np.interp([2.0, 50.0, 70.0, 90.0], edit, L)
        for overall in (0.5, 1.0, 1.5):
            out = curve(view, overall)
            before, after = (np.ptp(jnd_index(view.seen(e) * view.white)) for e in (ends, np.interp(ends, L, out)))
            steep = np.diff(out) / np.diff(L)
            rise = "".join(f"{x:6.2f}" for x in np.interp(at, L, out) - at)
            least = f"{steep[edit[1:] > 20].min():16.2f} {steep.min():16.2f}"
            print(f"{lux:5d} {overall:9.2f} {after / before:10.2f} {least}  {rise}")
        print(f"{lux:5d}      goal {gain:9.2f} {slope:16.2f} {'0.78':>16s}  " + "".join(f"{x:6.2f}" for x in most))


def pane(papers: dict[str, Paper]) -> None:
    """What a pane's part of the lift is, at most, and what all of it would have been."""
    print("\nL* that the lift adds for a pane before a wall of 0.5, at most (goal: 2); and if it were not held")
    for name in ("gloss", "lustre", "cotton-rag", "canvas"):
        cells = []
        for glazing in ("clear", "low-reflection"):
            view = _tone.View.of(Conditions(papers[name], Room(illuminance_lux=300, glazing=glazing)))  # type: ignore[arg-type, unused-ignore]
            whole = _tone._lift(view) - _tone._lift(replace(view, veil=0.0))
            cells.append(f"{glazing} {_tone.pane_lift(view).added.max():.1f} ({whole.max():.1f})")
        print(f"  {name:11s} " + "   ".join(cells))


def spread(paper: Paper) -> None:
    """Standard deviation of L* of the prepared print as a share of the print left alone."""
    print("\nspread of L* against the print left alone, photographs of scikit-image; and with the lift as it is worth")
    rows: dict[int, list[tuple[float, float]]] = {lux: [] for lux in SPREAD}
    for name, edit in photographs().items():
        value, cells = worth(edit), []
        for lux, found in rows.items():
            view = _tone.View.of(Conditions(paper, Room(illuminance_lux=lux)))
            lab = np.stack([edit, 0 * edit, 0 * edit], axis=-1)
            before = compensate(lab, 0, paper.neutral_black)[..., 0]
            full, part = (
                float(np.interp(before, view.lightness(), curve(view, 1.0, lift)).std() / before.std())
                for lift in (1.0, value)
            )
            found.append((full, part))
            cells.append(f"{lux} lx {full:.3f}  {part:.3f}")
        print(f"  {name:22s} worth {value:.2f}   " + "   ".join(cells))
    for lux, found in rows.items():
        share = (np.array(found) >= SPREAD[lux]).mean(axis=0)
        print(f"  at {lux} lx {SPREAD[lux]} or more: {share[0]:.0%} of pictures, {share[1]:.0%} as worth (goal: 95 %)")


def photographs() -> dict[str, Array]:
    """L* of the photographs that come with scikit-image, every third pixel."""
    import skimage
    from skimage.color import rgb2lab

    data = skimage.data
    found = {"motorcycle": data.stereo_motorcycle()[0]}
    for name in (
        "astronaut", "brick", "camera", "chelsea", "clock", "coffee", "coins", "grass", "gravel",
        "hubble_deep_field", "immunohistochemistry", "moon", "retina", "rocket",
    ):  # fmt: skip
        found[name] = getattr(data, name)()
    lightness = {}
    for name, codes in found.items():
        rgb = codes if codes.ndim == 3 else np.repeat(codes[..., None], 3, axis=-1)
        lightness[name] = np.asarray(rgb2lab(rgb[::3, ::3] / 255.0)[..., 0], np.float64)
    return lightness
