"""Runs that find no room to write in: one line, and nothing left behind."""

from __future__ import annotations

import os
import resource
import subprocess
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from tests.soak.watch import PAPERS, ROOM, Work, digest, litter

SIZES = (64 << 10, 24 << 20)
"""Bytes that there may be room for: from hardly any to more than is needed."""


def fill(work: Work) -> None:
    """Run a command where there is room for so many bytes: on a small disk, or below a limit on files."""
    rng, tally = work.rng, work.tally
    edit, paper, size = rng.choice(work.edits), rng.choice(PAPERS), round(rng.uniform(*SIZES) * rng.random())
    size = max(size, SIZES[0])
    name = rng.choice((work.name(edit, paper), work.name(edit, paper), "proof.png", "report.html"))
    disk = _mounted(work.folder / "disk", size) if rng.random() < 0.6 else None
    folder, before = (disk, None) if disk else (work.room(), partial(_limit, size))
    tally.count("runs on a small disk" if disk else "runs below a limit on files")
    try:
        _try(work, f"room {tally.counts['runs without room']}, {size} bytes", edit, paper, folder / name, before)
    finally:
        if disk:
            subprocess.run(["umount", "-l", disk], check=True)  # a run that was left may hold it


def _try(work: Work, case: str, edit: Path, paper: str, out: Path, before: Callable[[], None] | None) -> None:
    tally, rng = work.tally, work.rng
    command = {".png": "proof", ".html": "report"}.get(out.suffix, "prepare")
    cache = out.parent / "tables" if rng.random() < 0.3 else work.cache
    begun = time.monotonic()
    process = work.start(
        command, edit, "--paper", paper, *ROOM, "-o", out, cache=cache, before=before, TMPDIR=str(out.parent)
    )
    ended = work.end(process, begun)
    tally.count("runs without room")
    tally.hold(ended.status in (0, 1) and ended.clean, f"{case}: status {ended.status}: {ended.said}")
    tally.hold(out.exists() == (ended.status == 0), f"{case}: status {ended.status}, output {out.exists()}")
    if out.exists() and command == "prepare":
        tally.hold(digest(out) == work.right[edit, paper], f"{case}: {out.name} is torn")
    tally.hold(not litter(out.parent), f"{case}: left {[path.name for path in litter(out.parent)]}")
    tally.count("runs that found room" if ended.status == 0 else "runs that found none and said so")
    work.inputs_stand(case)
    if (out.parent / "tables").is_dir():
        for path in (out.parent / "tables").iterdir():
            path.unlink()
        (out.parent / "tables").rmdir()


def _limit(size: int) -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))


def _mounted(folder: Path, size: int) -> Path | None:
    """A disk of so many bytes; None where that may not be made."""
    folder.mkdir(exist_ok=True)
    if os.geteuid() != 0:
        return None
    words = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)]
    return folder if subprocess.run(words, capture_output=True, check=False).returncode == 0 else None
