"""Tables and lines on a terminal, as wide as it is, with nothing in them that it obeys."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
import unicodedata
from dataclasses import dataclass, field

import click

from printprep.cli._options import harmless, shown

_GAP = "   "


@dataclass
class Table:
    """Rows of cells under heads; `right` are columns that are set to the right, `dim` rows that matter less."""

    heads: tuple[str, ...]
    right: tuple[int, ...] = ()
    rows: list[tuple[str, ...]] = field(default_factory=list)
    dim: set[int] = field(default_factory=set)

    def row(self, *cells: str, dim: bool = False) -> None:
        """Add a row."""
        if dim:
            self.dim.add(len(self.rows))
        self.rows.append(tuple(map(harmless, cells)))


class Screen:
    """stdout; a closed or full one stops no work."""

    def __init__(self) -> None:
        self._width = max(40, min(100, shutil.get_terminal_size((80, 24)).columns))
        self._styled = sys.stdout is not None and os.environ.get("TERM") != "dumb"

    def line(self, text: str, style: str | None = None) -> None:
        """Text, wrapped where the terminal ends; "bold" or "dim"."""
        for part in map(harmless, text.split("\n")):
            for line in _folded(part, self._width):
                shown(click.style(line, **{style: True}) if style and self._styled else line)

    def table(self, table: Table) -> None:
        """A table; what is too wide is folded in its widest columns, never in the first."""
        wide = [max(map(_wide, column)) for column in zip(table.heads, *table.rows, strict=True)]
        while sum(wide) + len(_GAP) * (len(wide) - 1) > self._width and max(wide[1:]) > 1:
            wide[wide.index(max(wide[1:]), 1)] -= 1
        encoding = (getattr(sys.stdout, "encoding", None) or "").lower()
        rule = ("─" if encoding.startswith("utf") else "-") * (sum(wide) + len(_GAP) * (len(wide) - 1))
        for number, cells in enumerate([table.heads, *table.rows], -1):
            if number == 0:
                shown(rule)
            folded = [_folded(cell, room) for cell, room in zip(cells, wide, strict=True)]
            for k in range(max(map(len, folded))):
                parts = []
                for column, (lines, room) in enumerate(zip(folded, wide, strict=True)):
                    text = lines[k] if k < len(lines) else ""
                    space = " " * (room - _wide(text))
                    parts.append(space + text if column in table.right else text + space)
                self.line(_GAP.join(parts).rstrip(), "bold" if number < 0 else "dim" if number in table.dim else None)


def _folded(text: str, room: int) -> list[str]:
    """Lines of a text; one that fits stays as it is."""
    if _wide(text) <= room:
        return [text]
    return textwrap.wrap(text, room, break_on_hyphens=False) or [""]


def _wide(text: str) -> int:
    """Columns that a text takes on a terminal (Unicode Standard Annex 11)."""
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)
