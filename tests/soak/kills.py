"""Runs ended at a random moment: what was there stays, what was to come is whole or absent, the next goes on."""

from __future__ import annotations

import shutil
import signal
import time
from pathlib import Path

from tests.soak.watch import BEFORE, PAPERS, ROOM, Ended, Work, digest, litter

SIGNALS = (signal.SIGKILL, signal.SIGTERM, signal.SIGINT)
OLD = b"an older result"


def kill(work: Work) -> None:
    """Start `prepare` on some edits, end it, look at what it left, and run the same again."""
    rng, tally, folder = work.rng, work.tally, work.room()
    edits = rng.sample(work.edits, rng.choice((1, 1, 2, 3)))
    paper, number, old = rng.choice(PAPERS), rng.choice(SIGNALS), rng.random() < 0.3
    cache = work.folder / "fresh" if rng.random() < 0.3 else work.cache
    shutil.rmtree(work.folder / "fresh", ignore_errors=True)
    right = {folder / work.name(edit, paper): work.right[edit, paper] for edit in edits}
    if old:
        for path in right:
            path.write_bytes(OLD)
    words: list[str | Path] = ["prepare", *edits, "--paper", paper, *ROOM, "-o", folder]
    begun = time.monotonic()
    process = work.start(*words, *(["--overwrite"] if old else []), cache=cache)
    if rng.random() < 0.5:  # as it writes
        while process.poll() is None and not litter(folder):
            time.sleep(0.002)
        time.sleep(rng.uniform(0, 0.15) if rng.random() < 0.8 else 0)
    else:
        time.sleep(rng.uniform(0, work.seconds * 0.8))
    process.send_signal(number)
    if twice := rng.random() < 0.3:  # by someone impatient
        time.sleep(rng.uniform(0, 0.03))
        process.send_signal(number)
    ended = work.end(process, begun)
    after = f"{number.name}{' twice' if twice else ''} after {time.monotonic() - begun:.2f} s"
    case = f"kill {tally.counts['kills']}, {after}, {len(edits)} files"
    if ended.status == 0:
        tally.count("signals that came after the end")
    else:
        tally.count("kills")
        tally.count(f"kills by {number.name}")
    _look(work, case, folder, right, number, ended, old)
    _again(work, case, folder, right, [*words, "--skip-done"], cache)


def _look(
    work: Work, case: str, folder: Path, right: dict[Path, str], number: signal.Signals, ended: Ended, old: bool
) -> None:
    tally = work.tally
    expected = {signal.SIGKILL: (-signal.SIGKILL,), signal.SIGTERM: (143,), signal.SIGINT: (130,)}[number]
    ours = ended.status in (0, *expected, *BEFORE)
    tally.hold(ours or ended.pythons_own, f"{case}: status {ended.status}: {ended.said}")
    tally.hold(ended.clean, f"{case}: {ended.said}")
    work.inputs_stand(case)
    for path, wanted in right.items():
        if path.exists():
            kept = old and path.read_bytes() == OLD
            tally.hold(kept or digest(path) == wanted, f"{case}: {path.name} is torn")
        else:
            tally.hold(not old, f"{case}: {path.name} was there and is lost")
    left = litter(folder)
    tally.hold(number == signal.SIGKILL or not left, f"{case}: left {[path.name for path in left]}")
    strange = {path.name for path in folder.iterdir()} - {p.name for p in [*right, *left]}
    tally.hold(not strange, f"{case}: made {sorted(strange)}")
    if ended.pythons_own or ended.status in BEFORE:
        tally.count("kills as Python was starting, or as it went")
    elif left:
        tally.count("kills amid writing that left a temporary file (SIGKILL only)")
    elif ended.status != 0:
        tally.count("kills amid work that left nothing")


def _again(
    work: Work, case: str, folder: Path, right: dict[Path, str], words: list[str | Path], cache: Path
) -> None:
    """The same command goes on where the last one was ended, with what that one kept."""
    tally, before = work.tally, litter(folder)
    for path in right:
        if path.exists() and path.read_bytes() == OLD:
            path.unlink()  # it is no file of ours, which --skip-done would say
    ended = work.run(*words, cache=cache)
    tally.hold(ended.status == 0 and ended.clean, f"{case}, next run: status {ended.status}: {ended.said}")
    for path, wanted in right.items():
        tally.hold(path.exists() and digest(path) == wanted, f"{case}, next run: {path.name} is not right")
    tally.count("temporary files that the next run took over", len(before) - len(litter(folder)))
    tally.count("temporary files that stayed, disturbing nothing", len(litter(folder)))
    work.inputs_stand(case)
