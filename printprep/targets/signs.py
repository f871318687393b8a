"""The named signs of the target: small pictures that each change under one fault and hardly under others.

The colours of Foxglove, Beech and Clematis were found by search over seven papers of three kinds, for the
largest change under their own fault and the smallest under all others, as CIEDE2000.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from printprep.targets import faults as _faults
from printprep.targets.faults import Fault
from printprep.targets.shapes import BLACK, WHITE, Block, Disc, Label, LabTuple, Lines, Polygon, Shape, lab_of

PANES = (2.0, 4.0, 6.0, 9.0, 12.0, 16.0)
"""L* of the panes of Night window."""
FLAKES: dict[str, LabTuple] = {
    "98": (98.0, 0.0, 0.0), "97": (97.0, 0.0, 0.0), "96": (96.0, 0.0, 0.0),
    "95": (95.0, 0.0, 0.0), "warm": (97.5, 0.0, 3.0), "cool": (97.5, 0.0, -3.0),
}  # fmt: skip
"""Discs of Snow line; of the two tinted ones, the one that is tinted like the paper melts under absolute intent."""
FOXGLOVE = (lab_of(60.1, 140.1, 358), lab_of(64.4, 95.4, 355.3))
BEECH = (lab_of(42.5, 55.7, 156), lab_of(59.8, 73.8, 193.4))
CLEMATIS = (lab_of(28, 109.4, 288), lab_of(22.4, 117.2, 300.7))
REEDS_MM = (0.0, 0.020, 0.040, 0.060)
"""How far ink must run for each disc of Reeds to melt into its field, mm."""
FINE, COARSE = 0.42, 1.6  # mm, periods


@dataclass(frozen=True)
class Sign:
    """One sign: its name on the sheet, the faults it shows, and how it should look, in a few words.

    `right` and `wrong` say for the page how it looks without and with its fault. `draw` makes its shapes of the corner
    (mm), the side (mm) and the resolution (pixels per mm).
    """

    name: str
    faults: tuple[Fault, ...]
    short: str
    right: str
    wrong: str
    draw: Callable[[float, float, float, float], list[Shape]]

    @property
    def key(self) -> str:
        """The name as a word for file and page."""
        return self.name.lower().replace(" ", "-")


def reed(mm: float) -> float:
    """Width of the fine dark lines that melt into the coarse field once ink runs out by `mm` on each side."""
    return FINE / 2 - 2 * mm * (1 - FINE / COARSE)


def _ellipse(x: float, y: float, a: float, b: float, turn: float, n: int = 48) -> tuple[tuple[float, float], ...]:
    at = np.linspace(0, 2 * np.pi, n, endpoint=False)
    u, v = a * np.cos(at), b * np.sin(at)
    c, s = np.cos(turn), np.sin(turn)
    return tuple(zip((x + c * u - s * v).tolist(), (y + s * u + c * v).tolist(), strict=True))


def _night_window(x: float, y: float, t: float, per_mm: float) -> list[Shape]:
    shapes: list[Shape] = [Block(x, y, t, t, BLACK)]
    pane_w, pane_h, gap = t * 0.2, t * 0.27, t * 0.045
    left, top = x + (t - 3 * pane_w - 2 * gap) / 2, y + (t - 2 * pane_h - gap) / 2
    for i, lightness in enumerate(PANES):
        at = left + (i % 3) * (pane_w + gap), top + (i // 3) * (pane_h + gap)
        shapes.append(Block(*at, pane_w, pane_h, (lightness, 0.0, 0.0), f"night-window-{lightness:02.0f}"))
    return shapes


def _snow_line(x: float, y: float, t: float, per_mm: float) -> list[Shape]:
    rim = max(0.12, 1 / per_mm)
    inside = t - 2 * rim
    shapes: list[Shape] = [Block(x, y, t, t, (80.0, 0.0, 0.0)), Block(x + rim, y + rim, inside, inside, WHITE)]
    for i, (name, lab) in enumerate(FLAKES.items()):
        cx, cy = x + t * (0.2 + 0.3 * (i % 3)), y + t * (0.31 + 0.38 * (i // 3))
        shapes.append(Disc(cx, cy, t * 0.12, lab, f"snow-line-{name}"))
    return shapes


def _foxglove(x: float, y: float, t: float, per_mm: float) -> list[Shape]:
    field, bell = FOXGLOVE
    cx, cy = x + t / 2, y + t / 2
    down = np.linspace(0, 1, 60) ** 2
    dome = np.sqrt(1 - (1 - np.minimum(down / 0.4, 1)) ** 2)
    half = t * (0.16 * dome + 0.03 * down + 0.13 * down**5)
    rows = cy - t * 0.32 + t * 0.6 * down
    wave = np.linspace(1, -1, 61)[1:-1].tolist()
    hem = [(cx + w * float(half[-1]), float(rows[-1]) + t * 0.035 * abs(float(np.sin(1.5 * np.pi * w)))) for w in wave]
    outline = [(cx + float(h), float(r)) for h, r in zip(half, rows, strict=True)]
    outline += hem + [(cx - float(h), float(r)) for h, r in zip(half[::-1], rows[::-1], strict=True)]
    return [
        Block(x, y, t, t, field),
        Block(x + t * 0.06, y + t * 0.06, t * 0.16, t * 0.16, field, "foxglove-field"),
        Polygon(tuple(outline), bell),
        Block(cx - t * 0.1, cy - t * 0.02, t * 0.2, t * 0.18, bell, "foxglove-bell"),
    ]


def _beech(x: float, y: float, t: float, per_mm: float) -> list[Shape]:
    blade, vein = BEECH
    at = (1 - np.cos(np.pi * np.linspace(0, 1, 80))) / 2
    half = t * 0.3 * np.sin(np.pi * at**0.85) ** 1.1
    axis, middle = y + t * (0.03 + 0.94 * at), x + t / 2
    outline = list(zip((middle + half).tolist(), axis.tolist(), strict=True))
    outline += list(zip((middle - half[::-1]).tolist(), axis[::-1].tolist(), strict=True))
    shapes: list[Shape] = [Polygon(tuple(outline), blade)]
    thick = t * 0.022
    shapes.append(Block(middle - thick, y + t * 0.08, 2 * thick, t * 0.89, vein, "beech-vein"))
    for start in (0.3, 0.46, 0.62, 0.78):
        reach = float(np.interp(start - 0.1, at, half)) * 0.82
        for side in (-1.0, 1.0):
            tip = middle + side * reach, y + t * (start - 0.13)
            foot = y + t * start
            shapes.append(
                Polygon(((middle, foot - thick), tip, (tip[0], tip[1] + thick * 0.7), (middle, foot + thick)), vein)
            )
    shapes.append(Block(middle + t * 0.05, y + t * 0.487, t * 0.06, t * 0.04, blade, "beech-blade"))
    return shapes


def _clematis(x: float, y: float, t: float, per_mm: float) -> list[Shape]:
    ground, petal = CLEMATIS
    cx, cy = x + t / 2, y + t / 2
    shapes: list[Shape] = [
        Disc(cx, cy, t * 0.49, ground),
        Block(cx + t * 0.28, cy - t * 0.02, t * 0.1, t * 0.04, ground, "clematis-ground"),
    ]
    for turn in np.pi / 2 + np.arange(6) * np.pi / 3:
        away = t * 0.235
        shapes.append(
            Polygon(_ellipse(cx + away * np.cos(turn), cy + away * np.sin(turn), t * 0.19, t * 0.085, turn), petal)
        )
    shapes.append(Block(cx - t * 0.03, cy - t * 0.34, t * 0.06, t * 0.2, petal, "clematis-petal"))
    return shapes


def _reeds(x: float, y: float, t: float, per_mm: float) -> list[Shape]:
    coarse = round(COARSE * per_mm) / per_mm
    shapes: list[Shape] = [Lines(x, y, t, t, coarse, coarse / 2)]
    r = t * 0.2
    for i, mm in enumerate(REEDS_MM):
        cx, cy = x + t * (0.27 + 0.46 * (i % 2)), y + t * (0.27 + 0.46 * (i // 2))
        shapes.append(Lines(cx - r, cy - r, 2 * r, 2 * r, FINE, reed(mm), disc=True))
        sx, sy = cx + r * 0.86, cy + r * 0.86
        shapes.append(Disc(sx, sy, t * 0.062, WHITE))
        shapes.append(Label(sx, sy + t * 0.026, f"{mm * 1000:.0f}", t * 0.072, "centre"))
    return shapes


SIGNS = (
    Sign(
        "Beech", (_faults.TWICE,), "light veins stand out",
        "Light veins stand out clearly on a darker leaf.",
        "The veins sink into the leaf: both have been driven to the strongest green that the paper has.",
        _beech,
    ),
    Sign(
        "Foxglove", (_faults.UNMANAGED,), "one even colour",
        "One even colour: the paper's strongest pink, all over.",
        "A dull bell shows in a strong field.",
        _foxglove,
    ),
    Sign(
        "Clematis", (_faults.PERCEPTUAL,), "one even disc",
        "One even disc: both colours lie beyond what paper holds, and meet at its strongest blue.",
        "A flower of six petals shows in the disc: the perceptual table keeps apart what lies outside, "
        "and pays with colours that the paper could have held.",
        _clematis,
    ),
    Sign(
        "Snow line", (_faults.ABSOLUTE,), "five or six discs",
        "Five discs or all six can be counted, the last two faintly warm and cool; the ground is bare paper.",
        "Discs are gone, and so is the warm or the cool one; those that stay are tinted. On a tinted paper the whole "
        "sheet has a tint, with an edge where the printed area ends.",
        _snow_line,
    ),
    Sign(
        "Night window", (_faults.NO_COMPENSATION,), "four to six panes",
        "Four panes, five or all six can be counted in good light.",
        "Dark panes have closed: everything darker than the paper's black has become one black. The duller the "
        "paper, the more panes.",
        _night_window,
    ),
    Sign(
        "Reeds", (_faults.MORE_INK, _faults.LESS_INK), "20 melts, from 4 m",
        "Step back until the broad lines melt, some 4 m: the disc marked 20 is then as light as its ground. "
        "Ink runs out by some 20 µm.",
        "Another disc melts: 40 or 60 where too much ink runs out, 0 where hardly any does.",
        _reeds,
    ),
)  # fmt: skip
"""In the order of the sheet: one for each fault, too little ink sharing Reeds with too much."""
