"""Run the real command in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path


def run(*arguments: str | Path, cwd: Path, timeout: float = 120, **env: str) -> subprocess.CompletedProcess[str]:
    """Run ``printprep`` with its own folders for settings and tables."""
    return subprocess.run(
        [sys.executable, "-m", "printprep.cli.main", *map(str, arguments)],
        cwd=cwd, capture_output=True, text=True, errors="replace", timeout=timeout, stdin=subprocess.DEVNULL,
        env={**os.environ, "XDG_CONFIG_HOME": str(cwd / ".config"), "COLUMNS": "80", **env},
    )  # fmt: skip


def one_line_error(result: subprocess.CompletedProcess[str], status: int = 2) -> str:
    """The single line on stderr of a refused run."""
    lines = [line for line in result.stderr.splitlines() if line]
    assert result.returncode == status, (result.returncode, result.stderr)
    assert len(lines) == 1, result.stderr
    assert lines[0].startswith("printprep: ")
    assert "Traceback" not in result.stderr
    return lines[0]
