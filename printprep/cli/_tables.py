"""Tables and lines on a terminal by rich, with nothing in them that a terminal obeys."""

from __future__ import annotations

import contextlib
import shutil
import sys

from rich import box
from rich.console import Console
from rich.table import Table

from printprep.cli._options import harmless


class Screen:
    """stdout as rich sees it; a closed or full one stops no work."""

    def __init__(self) -> None:
        width = max(40, min(100, shutil.get_terminal_size((80, 24)).columns))
        self._console = Console(width=width, highlight=False, markup=False) if sys.stdout is not None else None

    def line(self, text: str, style: str | None = None) -> None:
        """One line of text, wrapped where the terminal ends."""
        self.show("\n".join(map(harmless, text.split("\n"))), style)

    def show(self, what: Table | str, style: str | None = None) -> None:
        """A table made by `columns` and `row`, or harmless text."""
        if self._console is not None:
            with contextlib.suppress(OSError, ValueError):
                self._console.print(what, style=style)


def columns(*names: str, right: tuple[int, ...] = ()) -> Table:
    """An empty table; some columns are set to the right and never broken, nor is the first."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1), show_edge=False, header_style="bold")
    for number, name in enumerate(names):
        at_right = number in right
        table.add_column(name, no_wrap=at_right or number == 0, justify="right" if at_right else "left")
    return table


def row(table: Table, *cells: str, dim: bool = False) -> None:
    """Add a row."""
    table.add_row(*map(harmless, cells), style="dim" if dim else None)
