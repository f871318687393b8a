"""The parts of the target: each says how high it is in a given width, and lays its shapes out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from math import ceil, floor

import numpy as np

from printprep.colour.lab import lab_from_lch
from printprep.render.text import Align, width, wrapped
from printprep.targets.shapes import BLACK, WHITE, Block, Disc, Gradient, Label, LabTuple, Lines, Shape, lab_of
from printprep.targets.signs import SIGNS

_QUIET: LabTuple = (48.0, 0.0, 0.0)
_LEAST_TEXT = 1.2
"""mm; 3.4 pt, the least that is read from a good print (our choice)."""

KNOWN: tuple[tuple[str, LabTuple], ...] = (
    ("fair skin", (80.77, 13.71, 21.84)),  # CIE 13.3:1995, sample 13
    ("ripe wheat", (89.59, 3.49, 24.21)),  # CSS wheat
    ("red clay", (44.27, 30.92, 36.35)),  # CSS sienna
    ("roof slate", (52.70, -3.28, -10.74)),  # CSS slategray
    ("clear sky", (78.85, -17.54, -21.79)),  # CSS skyblue
    ("green leaf", (40.79, -12.39, 24.07)),  # CIE 13.3:1995, sample 14
    ("strong red", (41.83, 62.00, 31.72)),  # CIE 13.3:1995, sample 9
    ("strong yellow", (81.96, 1.83, 71.69)),  # CIE 13.3:1995, sample 10
    ("strong green", (51.61, -41.17, 11.54)),  # CIE 13.3:1995, sample 11
    ("strong blue", (29.17, -5.20, -49.36)),  # CIE 13.3:1995, sample 12
)
"""Colours that everybody knows, Lab D50; the names are ours.

Samples of CIE 13.3:1995: from its table of spectral radiance factors, 2 degree observer, D50. The others
are named colours of CSS Color Module Level 4 (W3C), sRGB adapted from D65 to D50 by Bradford's matrix.
Both computed with colour-science.
"""

CUSPS = (50, 50, 50, 55, 65, 75, 90, 80, 65, 60, 55, 55, 55, 55, 60, 60, 50, 45, 35, 30, 25, 30, 40, 45)
"""L* at which a gloss print is most colourful, every 15 degrees of hue from 0 (from the gloss preset, rounded)."""


@dataclass
class Pen:
    """Collects shapes; `u` is the size of the design's unit, 1 mm on A4."""

    u: float
    per_mm: float
    shapes: list[Shape] = field(default_factory=list)

    def words(self, x: float, baseline: float, text: str, em: float = 1.9, align: Align = "left", bold: bool = False,
              lab: LabTuple = _QUIET) -> None:  # fmt: skip
        """Text, `em` in units but never too small to read."""
        self.shapes.append(Label(x, baseline, text, self.em(em), align, bold, lab))

    def em(self, em: float) -> float:
        """Size of text in mm."""
        return max(em * self.u, _LEAST_TEXT)

    def heading(self, x: float, y: float, text: str, note: str, w: float) -> None:
        """A panel's name and what to look for, in the four units above the panel's body."""
        self.words(x, y + 2.5 * self.u, text, 2.3, bold=True, lab=(30.0, 0.0, 0.0))
        start = x + width(text, self.em(2.3), bold=True) + 2 * self.u
        lines = wrapped(note, self.em(1.9), w - (start - x)) if note else []
        if lines:
            self.words(start, y + 2.5 * self.u, lines[0])


HEADING = 4.0
"""Units that a part's name takes."""


@dataclass(frozen=True)
class Panel:
    """One part: `height(w, u)` in mm, and `draw(pen, x, y, w)`; parts of low rank are left out first."""

    name: str
    rank: int
    height: Callable[[float, float], float]
    draw: Callable[[Pen, float, float, float], None]


def _units(high: float) -> Callable[[float, float], float]:
    """The height of a part that is as high in any width."""
    return lambda w, u: high * u


def _per_row(w: float, u: float, n: int, least: float) -> int:
    rows = ceil(n / max(1, floor(w / (least * u))))
    return ceil(n / rows)


# --- signs ----------------------------------------------------------------------------------


def _sign_columns(w: float, u: float) -> tuple[int, float]:
    """Signs in a row, and the side of one."""
    n = 6 if w / u >= 150 else 3
    return n, min((w - (n - 1) * 2.4 * u) / n, 34 * u)


def _signs_height(w: float, u: float) -> float:
    n, side = _sign_columns(w, u)
    return HEADING * u + (side + 7.6 * u) * (6 // n) - 1.5 * u


def _signs(pen: Pen, x: float, y: float, w: float) -> None:
    u = pen.u
    n, side = _sign_columns(w, u)
    step = (w - side) / (n - 1)
    note = "each should look as its caption says; the page that comes with this file shows the faults"
    pen.heading(x, y, "Signs", note, w)
    for i, sign in enumerate(SIGNS):
        left, top = x + (i % n) * step, y + HEADING * u + (i // n) * (side + 7.6 * u)
        left, top = round(left * pen.per_mm) / pen.per_mm, round(top * pen.per_mm) / pen.per_mm
        pen.shapes += sign.draw(left, top, side, pen.per_mm)
        pen.words(left, top + side + 3.0 * u, sign.name, 2.2, bold=True, lab=(30.0, 0.0, 0.0))
        pen.words(left, top + side + 5.6 * u, sign.short, 1.8)


# --- ladders --------------------------------------------------------------------------------


def _ladder(
    name: str, title: str, note: str, levels: tuple[int, ...], least: float, high: float, gap: float,
    ground: LabTuple | None = None,
) -> Panel:  # fmt: skip
    """Steps of L*, numbered; on a ground of their own, or on bare paper."""

    def height(w: float, u: float) -> float:
        rows = ceil(len(levels) / _per_row(w, u, len(levels), least))
        return (HEADING + rows * (high + 3.1) + (1.4 if ground is not None else 0)) * u

    def draw(pen: Pen, x: float, y: float, w: float) -> None:
        u, n = pen.u, _per_row(w, pen.u, len(levels), least)
        pen.heading(x, y, title, note, w)
        top, inset = y + HEADING * u, 0.0
        if ground is not None:
            inset = 1.4 * u
            pen.shapes.append(Block(x, top, w, height(w, u) - HEADING * u, ground))
            top += inset
        step = (w - 2 * inset + gap * u) / n
        for i, level in enumerate(levels):
            left, up = x + inset + (i % n) * step, top + (i // n) * (high + 3.1) * u
            box = left, up, step - gap * u, high * u
            pen.shapes.append(Block(*box, (float(level), 0.0, 0.0), f"{name}-{level:03d}"))
            ink: LabTuple = (45.0, 0.0, 0.0) if ground is not None else _QUIET
            pen.words(left + (step - gap * u) / 2, up + (high + 2.2) * u, str(level), 1.8, "centre", lab=ink)

    return Panel(name, 9, height, draw)


# --- mid grey ---------------------------------------------------------------------------------

WEDGE = tuple(range(38, 63))
"""L* of the steps under the board."""

_SPREAD = 0.02
"""mm that ink usually runs out by at an edge; the sign Reeds counts the same as right."""

_HALF = 0.1842
"""Luminance of L* 50 as a share of white's (CIE 15)."""


def board(per_mm: float) -> tuple[int, int]:
    """Period and side, in pixels, of white squares on black that look like L* 50 from afar, ink having run."""

    def miss(size: tuple[int, int]) -> float:
        return abs(((size[1] - 2 * _SPREAD * per_mm) / size[0]) ** 2 - _HALF)

    periods = range(round(2.2 * per_mm), round(2.7 * per_mm) + 1)
    return min(((p, s) for p in periods for s in range(1, p)), key=miss)


def _middle(pen: Pen, x: float, y: float, w: float) -> None:
    u, n = pen.u, len(WEDGE)
    note = "from 6 m off, or through half shut eyes: note the number whose step is as light as the board above it"
    pen.heading(x, y, "Mid grey", note, w)
    period, side = board(pen.per_mm)
    top, left = round((y + HEADING * u) * pen.per_mm), round(x * pen.per_mm)
    rows, columns = (max(1, floor(length * pen.per_mm / period)) for length in (6.0 * u, w))
    high, wide = rows * period / pen.per_mm, columns * period / pen.per_mm
    x, up = left / pen.per_mm, top / pen.per_mm
    pen.shapes.append(Block(x, up, wide, high, BLACK))
    inset = (period - side) // 2
    for row in range(rows):
        for column in range(columns):
            at = (left + column * period + inset) / pen.per_mm, (top + row * period + inset) / pen.per_mm
            pen.shapes.append(Block(*at, side / pen.per_mm, side / pen.per_mm, WHITE))
    for i, level in enumerate(WEDGE):
        a, b = round(i * wide / n * pen.per_mm), round((i + 1) * wide / n * pen.per_mm)
        box = x + a / pen.per_mm, up + high, (b - a) / pen.per_mm, 7.0 * u
        pen.shapes.append(Block(*box, (float(level), 0.0, 0.0), f"mid-{level:03d}"))
        pen.words(box[0] + box[2] / 2, up + high + 9.2 * u, str(level), 1.8, "centre")


# --- ring-around and known colours -----------------------------------------------------------------

_RINGS = (75.0, 50.0, 30.0)
_RING_CHROMA = 4.0


_RINGS_WIDE = 92.0
"""Units that three rings take side by side."""

_RINGS_HEIGHT = HEADING + 27.5
"""Units of the rings, and of the known colours."""


def _beside(w: float, u: float) -> bool:
    """Whether the rings and the known colours have room in one row."""
    return w / u >= 178


def _rings(pen: Pen, x: float, y: float, w: float) -> None:
    u, wide = pen.u, min(w, _RINGS_WIDE * pen.u)
    pen.heading(x, y, "Ring-around", "the middle should be the most neutral", wide)
    cy = y + (HEADING + 12.2) * u
    for i, lightness in enumerate(_RINGS):
        cx = x + 12.2 * u + i * (wide - 24.4 * u) / 2
        pen.shapes.append(Disc(cx, cy, 4.1 * u, (lightness, 0.0, 0.0), f"ring-{lightness:.0f}-centre"))
        for hue in range(0, 360, 45):
            across, up = float(np.cos(np.radians(hue))), float(np.sin(np.radians(hue)))
            colour, name = lab_of(lightness, _RING_CHROMA, hue, 3), f"ring-{lightness:.0f}-{hue:03d}"
            pen.shapes.append(Disc(cx + 9.0 * u * across, cy - 9.0 * u * up, 3.2 * u, colour, name))
        pen.words(cx, y + (HEADING + 27) * u, f"L* {lightness:.0f}, ring C* {_RING_CHROMA:.0f}", 1.8, "centre")


def _colours(pen: Pen, x: float, y: float, w: float) -> None:
    u, n = pen.u, 5
    pen.heading(x, y, "Known colours", "skin, sky and leaves look like themselves", w)
    step = (w + 1.2 * u) / n
    for i, (name, lab) in enumerate(KNOWN):
        left, top = x + (i % n) * step, y + (HEADING + (i // n) * 14.2) * u
        pen.shapes.append(Block(left, top, step - 1.2 * u, 10.2 * u, lab, f"known-{name.replace(' ', '-')}"))
        pen.words(left, top + 12.6 * u, name, 1.8)


def _known_height(w: float, u: float) -> float:
    return _RINGS_HEIGHT * u if _beside(w, u) else _RINGS_HEIGHT * u + 3 * u + _RINGS_HEIGHT * u


def _known(pen: Pen, x: float, y: float, w: float) -> None:
    u = pen.u
    _rings(pen, x, y, w)
    if _beside(w, u):
        _colours(pen, x + (_RINGS_WIDE + 6) * u, y, w - (_RINGS_WIDE + 6) * u)
    else:
        _colours(pen, x, y + _RINGS_HEIGHT * u + 3 * u, w)


# --- hues and ramps -------------------------------------------------------------------------

_STAIRS = tuple(range(12, 97, 12))


def _stairs(pen: Pen, x: float, y: float, w: float) -> None:
    u = pen.u
    pen.heading(x, y, "Hue stairs", "C* 12 to 96 downwards; where a column stops growing, the paper's colours end", w)
    margin = 5.0 * u
    step = (w - margin) / 24
    for k, chroma in enumerate(_STAIRS):
        top = y + (HEADING + k * 3.6) * u
        pen.words(x + margin - 1.2 * u, top + 2.4 * u, str(chroma), 1.7, "right")
        for i in range(24):
            colour, name = lab_of(CUSPS[i], chroma, 15 * i, 3), f"stair-{15 * i:03d}-{chroma:02d}"
            pen.shapes.append(Block(x + margin + i * step, top, step, 3.6 * u, colour, name))
    for i in range(24):
        at = x + margin + (i + 0.5) * step
        pen.words(at, y + (HEADING + len(_STAIRS) * 3.6 + 2.4) * u, f"{15 * i}°", 1.7, "centre")


def _grey(first: float, last: float) -> list[LabTuple]:
    return [(float(v), 0.0, 0.0) for v in np.linspace(first, last, 129).round(3)]


def _through(lightness: float, chroma: float, hue: float) -> list[LabTuple]:
    """White to a colour to black, evenly."""
    peak = lab_from_lch(np.array([lightness, chroma, hue]))
    at = np.linspace(0, 1, 129)[:, None]
    part = np.where(at < 0.5, at * 2, 2 - at * 2)
    ends = np.where(at < 0.5, np.array(WHITE), np.array(BLACK))
    return [tuple(v) for v in (ends + (peak - ends) * part).round(3).tolist()]


_RAMPS: tuple[tuple[str, list[LabTuple]], ...] = (
    ("grey", _grey(0, 100)),
    ("dark grey", _grey(0, 30)),
    ("light grey", _grey(80, 100)),
    ("red", _through(50, 60, 35)),
    ("yellow", _through(82, 70, 92)),
    ("green", _through(55, 50, 150)),
    ("blue", _through(40, 45, 285)),
    ("skin", _through(66, 24, 50)),
)


def _ramps(pen: Pen, x: float, y: float, w: float) -> None:
    u = pen.u
    pen.heading(x, y, "Smooth ramps", "no steps, no sudden change of hue", w)
    margin = 13.0 * u
    for i, (name, nodes) in enumerate(_RAMPS):
        top = y + (HEADING + i * 4.0) * u
        pen.words(x, top + 2.5 * u, name, 1.8)
        pen.shapes.append(Gradient(x + margin, top, w - margin, 3.6 * u, (tuple(nodes),)))


def _meadow(pen: Pen, x: float, y: float, w: float) -> None:
    """All hues side by side, light above, dark below; chroma 45 in the middle, none at the ends."""
    u = pen.u
    pen.heading(x, y, "Hue field", "all hues, light to dark: no lines, no flat places", w)
    hue, level = np.meshgrid(np.linspace(0, 360, 97), np.linspace(97, 8, 33))
    chroma = 45 * np.sin(np.pi * np.clip((level - 2) / 98, 0, 1)) ** 0.8
    nodes = lab_from_lch(np.stack([level, chroma, hue], -1)).round(2).tolist()
    pen.shapes.append(Gradient(x, y + HEADING * u, w, 20 * u, tuple(tuple(tuple(c) for c in row) for row in nodes)))


# --- lines ----------------------------------------------------------------------------------

LINE_PERIODS = (2, 3, 4, 6, 8, 12)
"""Pixels of one dark and one light line together."""


def _lines_height(w: float, u: float) -> float:
    return (HEADING + _line_side(w, u) / u + 3.0) * u


def _line_side(w: float, u: float) -> float:
    return min((w - 5 * 3.2 * u - 6 * 0.8 * u) / 12, 13 * u)


def _line_groups(pen: Pen, x: float, y: float, w: float) -> None:
    u, p = pen.u, pen.per_mm
    pen.heading(x, y, "Lines", "pitch of one dark and one light line, mm; both ways alike, none lost", w)
    side = _line_side(w, u)
    step = (w - (2 * side + 0.8 * u)) / 5
    for i, period in enumerate(LINE_PERIODS):
        left, top = round((x + i * step) * p), round((y + HEADING * u) * p)
        n = floor(side * p / period) * period  # whole lines, on whole pixels
        for k in (0, 1):
            at = (left + k * (n + round(0.8 * u * p))) / p
            pen.shapes.append(Lines(at, top / p, n / p, n / p, period / p, (period // 2) / p, across=k == 1))
        pen.words(left / p, top / p + side + 2.4 * u, f"{period / p:.3f} mm", 1.8)


PANELS = (
    Panel("signs", 10, _signs_height, _signs),
    _ladder("grey", "Grey steps", "L*", tuple(range(0, 101, 5)), 7.4, 8.0, 0.0),
    _ladder("black", "Near black", "L*; note the lowest number whose step parts from black",
            tuple(range(25)), 6.6, 7.5, 0.7, BLACK),
    _ladder("white", "Near white", "L*; note the highest number whose step parts from the paper",
            tuple(range(86, 101)), 7.4, 7.5, 1.2),
    Panel("mid", 3, _units(HEADING + 6.0 + 7.0 + 3.1), _middle),
    Panel("known", 8, _known_height, _known),
    Panel("stairs", 5, _units(HEADING + len(_STAIRS) * 3.6 + 2.8), _stairs),
    Panel("ramps", 7, _units(HEADING + len(_RAMPS) * 4.0 - 0.4), _ramps),
    Panel("meadow", 4, _units(HEADING + 20), _meadow),
    Panel("lines", 8, _lines_height, _line_groups),
)  # fmt: skip
"""In the order of the sheet."""
