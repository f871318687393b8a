"""How long a user waits before anything happens."""

from __future__ import annotations

import sys

from benchmarks._measure import Bench, Line, best, run


def lines(bench: Bench) -> list[Line]:
    """Start-up of the command and of the package."""
    runs = 2 * bench.runs
    command = best([run([sys.executable, "-m", "printprep.cli.main", "--help"]) for _ in range(runs)])
    package = best([run([sys.executable, "-c", "import printprep"]) for _ in range(runs)])
    return [
        Line("printprep --help", f"{command.wall:.3f} s", "", None, "at most 0.25 s", command.wall <= 0.25),
        Line("import printprep", f"{package.wall:.3f} s", "", None, "at most 0.12 s", package.wall <= 0.12),
    ]
