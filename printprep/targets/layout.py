"""Where the parts of the target go on a sheet of any size."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import combinations, pairwise

from printprep.conditions.lengths import SIZES
from printprep.errors import ParameterError
from printprep.render.text import width, wrapped
from printprep.targets.panels import PANELS, Panel, Pen
from printprep.targets.shapes import Block, Shape

SHEETS = {name: SIZES[name] for name in ("A6", "A5", "A4", "A3", "A3+", "A2")}
"""Width and height, mm."""

_LEAST, _MOST = 90.0, 1300.0
_SIZE = re.compile(r"(\d+(?:\.\d+)?)\s*[x×*]\s*(\d+(?:\.\d+)?)\s*(mm)?", re.IGNORECASE)
_MARGIN = 15.0
"""mm of bare paper: what printers need at the edges where fed by hand or from a roll (common practice, no source)."""
_SMALL, _SMALL_MARGIN = 140.0, 5.0
"""mm: sheets under A5 come from trays that keep less; more would cost them half of the parts (our choice)."""
_HEADER, _BY_HAND_ROW = 16.0, 6.5
_BY_HAND = ("Paper", "Printer", "Media setting", "Date")
"""What is written on the print by hand, above lines."""
_NARROWEST = 118.0
"""Units that the widest caption needs."""
_SMALLEST_UNIT = 0.5
"""Below this, parts are left out instead (our choice)."""


@dataclass(frozen=True)
class Placed:
    """A part in its place, mm."""

    panel: Panel
    x: float
    y: float
    w: float


@dataclass(frozen=True)
class TargetLayout:
    """Everything in its place, mm; `unit` is the size of the design's unit, 1 on A4."""

    width: float
    height: float
    margin: float
    unit: float
    placed: tuple[Placed, ...]
    omitted: tuple[str, ...]


def sheet_size(sheet: str) -> tuple[float, float]:
    """Width and height, mm, of a name of `SHEETS`, upright or with ``-landscape`` after it, or of ``WIDTHxHEIGHT``.

    Refused are other names, and sides under 90 or over 1300 mm.
    """
    text = sheet.strip()
    name = text.upper().removesuffix("-LANDSCAPE")
    if name in SHEETS:
        w, h = SHEETS[name]
        return (w, h) if name == text.upper() else (h, w)
    if found := _SIZE.fullmatch(text):
        w, h = float(found[1]), float(found[2])
        if min(w, h) >= _LEAST and max(w, h) <= _MOST:
            return w, h
        raise ParameterError("sheet", sheet, f"sides must be {_LEAST:g} to {_MOST:g} mm")
    raise ParameterError("sheet", sheet, f"must be one of {', '.join(SHEETS)}, such a name with -landscape, or 210x297")


def arrange(width: float, height: float) -> TargetLayout:
    """Fit the parts on a sheet: as large as they go, in one column or several, the least needed left out first."""
    margin = _MARGIN if min(width, height) >= _SMALL else _SMALL_MARGIN
    w, h = width - 2 * margin, height - 2 * margin
    head = _HEADER + (_BY_HAND_ROW if margin == _MARGIN else 0)  # a small sheet is written on at the back
    panels = list(PANELS)
    while True:
        best = max(((*_fit(panels, w, h, columns, head), columns) for columns in (1, 2, 3)), key=lambda f: f[0])
        if best[0] >= _SMALLEST_UNIT or len(panels) <= 4:
            break
        panels.remove(min(panels, key=lambda p: p.rank))
    unit, groups, columns = best
    kept = tuple(p.name for p in panels)
    placed = _place(groups, unit, margin, w, h, columns, head)
    return TargetLayout(width, height, margin, unit, placed, tuple(p.name for p in PANELS if p.name not in kept))


def _fit(panels: list[Panel], w: float, h: float, columns: int, head: float) -> tuple[float, list[list[Panel]]]:
    """The largest unit at which these parts fit into so many columns, and how they are divided."""
    best, chosen = 0.0, [panels]
    for cuts in combinations(range(1, len(panels)), columns - 1):
        ends = (0, *cuts, len(panels))
        groups = [panels[a:b] for a, b in pairwise(ends)]
        low, high = 0.05, 4.0
        for _ in range(24):
            u = (low + high) / 2
            each = _column_width(w, u, columns)
            tall = max(sum(p.height(each, u) for p in g) + 3.0 * u * (len(g) - 1) for g in groups)
            if tall <= h - head * u and each / u >= _NARROWEST:
                low = u
            else:
                high = u
        if low > best:
            best, chosen = low, groups
    return best, chosen


def _column_width(w: float, u: float, columns: int) -> float:
    return (w - (columns - 1) * 8 * u) / columns


def _place(
    groups: list[list[Panel]], u: float, margin: float, w: float, h: float, columns: int, head: float
) -> tuple[Placed, ...]:
    placed = []
    each = _column_width(w, u, columns)
    for i, group in enumerate(groups):
        free = h - head * u - sum(p.height(each, u) for p in group)
        gap = min(free / max(len(group) - 1, 1), 7 * u)
        y = margin + head * u
        for panel in group:
            placed.append(Placed(panel, margin + i * (each + 8 * u), y, each))
            y += panel.height(each, u) + gap
    return tuple(placed)


def draw(layout: TargetLayout, ppi: float, space: str) -> list[Shape]:
    """All shapes of a layout, in painting order, on whole pixels of `ppi`; the title line names the `space`."""
    pen = Pen(layout.unit, ppi / 25.4)
    _header(pen, layout, ppi, space)
    for part in layout.placed:
        part.panel.draw(pen, part.x, part.y, part.w)
    return pen.shapes


def _header(pen: Pen, layout: TargetLayout, ppi: float, space: str) -> None:
    u, x, y, w = pen.u, layout.margin, layout.margin, layout.width - 2 * layout.margin
    pen.words(x, y + 5.2 * u, "Test target", 6.4, bold=True, lab=(25.0, 0.0, 0.0))
    rule = 100.0 if w >= 210 * u or w >= 180 else 50.0
    note = (
        "Print unedited at 100 %. One colour conversion, to the paper's profile: relative colorimetric with black "
        f"point compensation. {space}, 16 bit, {layout.width:g} × {layout.height:g} mm, {ppi:g} ppi."
    )
    for i, line in enumerate(wrapped(note, pen.em(2.0), w - rule - 6 * u)[:3]):
        pen.words(x, y + (8.6 + 2.7 * i) * u, line, 2.0)
    right, base = layout.width - layout.margin, y + 5.0 * u
    thin = max(0.15, 1 / pen.per_mm)
    pen.shapes.append(Block(right - rule, base, rule, thin, (30.0, 0.0, 0.0)))
    for mm in range(0, int(rule) + 1, 5):
        tall = (2.2 if mm % 10 == 0 else 1.2) * u
        left = right - rule + mm - (thin if mm == rule else thin / 2 if mm else 0)
        pen.shapes.append(Block(left, base - tall, thin, tall + thin, (30.0, 0.0, 0.0)))
    pen.words(right, base + 3.2 * u, f"{rule:.0f} mm: measure it, to see whether the size was kept", 1.8, "right")
    if layout.margin != _MARGIN:
        return
    each = w / len(_BY_HAND)
    for i, name in enumerate(_BY_HAND):
        left = x + i * each
        pen.words(left, y + 19.4 * u, name, 2.0)
        start = left + width(name, pen.em(2.0)) + 1.5 * u
        end = left + each - (3 * u if i < len(_BY_HAND) - 1 else 0)
        pen.shapes.append(Block(start, y + 19.7 * u, end - start, thin, (30.0, 0.0, 0.0)))
