"""Every speed target, measured beside what it is compared with: ``python -m benchmarks [OPTIONS] [NAME...]``.

Names are those of the files here: start, whole, batch, growth, memory, resize, compile, tables, naive, peers, many.
``--readme`` measures what README.md and DEVELOPERS.md show, and prints it in their form. A full run takes some fifteen
minutes and 20 GB of disk, a quick one under a minute: its pictures are smaller, so that start-up weighs more, and its
figures say less. Other work on the machine shows in the figures; run it when there is none.
"""

from __future__ import annotations

import argparse
import datetime
import sys
import tempfile
import time
from importlib import import_module
from pathlib import Path

from benchmarks._measure import Bench, Line, machine, versions
from printprep.cli.main import settle

_NAMES = ("start", "whole", "batch", "growth", "memory", "resize", "compile", "tables", "naive", "peers", "many")
_README = ("whole", "batch", "growth", "resize", "naive", "peers")
"""What README's and DEVELOPERS.md's tables are made of."""


def main() -> int:
    """Measure, print one table, and say how many targets are missed."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description="Speed, memory and scale of printprep.")
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"only these of: {', '.join(_NAMES)}")
    parser.add_argument("--quick", action="store_true", help="smaller pictures, under a minute")
    parser.add_argument("--readme", action="store_true", help="only what README and DEVELOPERS.md show, in their form")
    parser.add_argument("--folder", type=Path, help="where to keep pictures meanwhile; on the disk to be measured")
    options = parser.parse_args()
    if unknown := set(options.names) - set(_NAMES):
        parser.error(f"unknown: {', '.join(sorted(unknown))}; known: {', '.join(_NAMES)}")
    settle()
    print(f"{datetime.date.today()}, {machine()}\n{versions()}\n")
    found: list[Line] = []
    begun = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="printprep-benchmarks-", dir=options.folder) as folder:
        bench = Bench(Path(folder), options.quick)
        for name in options.names or (_README if options.readme else _NAMES):
            print(f"{name} ...", end="\r", file=sys.stderr, flush=True)
            try:
                found += import_module(f"benchmarks.{name}").lines(bench)
            except Exception as error:  # the other figures are worth having
                found.append(Line(name, "failed", met=False, note=str(error).splitlines()[-1] if str(error) else ""))
    print(_table(found, brief=options.readme))
    missed = sum(line.met is False for line in found)
    print(f"\n{time.monotonic() - begun:.0f} s; {missed or 'no'} target{'s' * (missed != 1)} missed")
    return int(missed > 0)


def _table(found: list[Line], *, brief: bool) -> str:
    """Markdown, with columns that line up; briefly, without targets."""
    head = ("what", "printprep", "beside", "ratio", "target", "met", "note")
    rows = [
        (
            line.what, line.ours, line.other, "" if line.ratio is None else f"{line.ratio:.2f}", line.wanted,
            {True: "yes", False: "NO", None: ""}[line.met], line.note,
        )
        for line in found
    ]  # fmt: skip
    shown = (0, 1, 2, 3, 6) if brief else range(len(head))
    widths = [max(len(row[k]) for row in (head, *rows)) for k in shown]
    lines = [
        "| " + " | ".join(row[k].ljust(w) for k, w in zip(shown, widths, strict=True)) + " |" for row in (head, *rows)
    ]
    return "\n".join([lines[0], "|" + "|".join("-" * (w + 2) for w in widths) + "|", *lines[1:]])


if __name__ == "__main__":
    sys.exit(main())
