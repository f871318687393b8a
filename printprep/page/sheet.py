"""Pictures side by side on a neutral ground, with a title and a line under each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from printprep.files.names import printable
from printprep.render.text import coverage, letters, wrapped

GROUND = 0x8C
"""sRGB value of the ground: L* 58, neutral, so that it favours neither print (ISO 3664 asks for a neutral surround)."""
_INK, _QUIET = 0x14, 0x2E
_TURN = 0x70
"""Grounds darker than this carry light letters."""
_LONGEST = 600
"""Characters of a title, a note or the foot that are set."""


@dataclass(frozen=True)
class Captioned:
    """One picture of screen values, and what is said under it: a title, and a note in smaller letters."""

    picture: NDArray[np.uint8] = field(repr=False)
    title: str
    note: str = ""


def sheet(
    panels: Sequence[Captioned], *, foot: str = "", across: int | None = None, ground: int = GROUND
) -> NDArray[np.uint8]:
    """Lay pictures out in reading order, one line at the foot.

    `across` is how many stand in a row: all by default, or one under another where they are very wide. `ground` is the
    ground's sRGB value, darker where the pictures show a dim room.
    """
    panels = [replace(p, title=_line(p.title), note=_line(p.note)) for p in panels]
    foot = _line(foot)
    wide, high = max(p.picture.shape[1] for p in panels), max(p.picture.shape[0] for p in panels)
    columns = across or (1 if wide > 2.6 * high else len(panels))
    # a sheet of several columns is seen as a whole, so its letters grow with it
    em = max(12.0, 0.02 * max(wide, 0.7 * high), 0.0105 * columns * wide if columns > 1 else 0)
    edge, gap, line = round(2.4 * em), round(1.6 * em), 1.45 * em
    notes = [wrapped(p.note, 0.85 * em, wide) if p.note else [] for p in panels]
    under = round(1.7 * em + line * 0.9 * max(map(len, notes)) + (0.2 * em))
    rows = -(-len(panels) // columns)
    total = (2 * edge + columns * wide + (columns - 1) * gap, 2 * edge + rows * (high + under) + (rows - 1) * gap)
    feet = wrapped(foot, 0.85 * em, total[0] - 2 * edge) if foot else []
    out = np.full((total[1] + round(len(feet) * line), total[0], 3), ground, np.uint8)
    ink, quiet = (_INK, _QUIET) if ground > _TURN else (255 - _INK, 255 - 2 * _QUIET)
    for k, (panel, lines) in enumerate(zip(panels, notes, strict=True)):
        x, y = edge + (k % columns) * (wide + gap), edge + (k // columns) * (high + under + gap)
        h, w = panel.picture.shape[:2]
        out[y + high - h : y + high, x : x + w] = panel.picture
        base = y + high + 1.5 * em
        _write(out, panel.title, x, base, em, ink, bold=True)
        for i, text in enumerate(lines):
            _write(out, text, x, base + (i + 1) * 0.9 * line, 0.85 * em, quiet)
    for i, text in enumerate(feet):
        _write(out, text, edge, out.shape[0] - edge - (len(feet) - 1 - i) * line + 0.3 * em, 0.85 * em, quiet)
    return out


def _line(text: str) -> str:
    """Text as letters only, whatever a file or a preset calls itself."""
    return printable(text, _LONGEST, keep="\xa0")


def _write(
    out: NDArray[np.uint8], text: str, x: float, base: float, em: float, ink: int, *, bold: bool = False
) -> None:
    contours = letters(text, x, base, em, bold=bold)
    if not contours:
        return
    mask, top, left = coverage(contours)
    high, wide = out.shape[:2]
    rows, columns = slice(max(top, 0), min(top + len(mask), high)), slice(max(left, 0), min(left + mask.shape[1], wide))
    part = mask[rows.start - top : rows.stop - top, columns.start - left : columns.stop - left, None] / 255
    if part.size:
        out[rows, columns] = np.rint(out[rows, columns] * (1 - part) + ink * part)
