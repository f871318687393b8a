"""python -m tests.soak: damage files, end runs at random, fill the disk, race for names; say what came of it."""

from __future__ import annotations

import argparse
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from tests.soak.kills import kill
from tests.soak.mutated import Mutated
from tests.soak.races import race
from tests.soak.space import fill
from tests.soak.watch import Tally, Work

SHARES = {"mutated files": 0.25, "kills": 0.45, "runs without room": 0.15, "races": 0.15}
"""Of the time."""

SAID_EVERY = 60.0
"""Seconds between two lines on how far it is."""


def main() -> int:
    """Run until the time is up, or what was asked for is done; 0 where nothing was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.soak", description=__doc__)
    parser.add_argument("--minutes", type=float, default=2.0, help="at most (default 2)")
    parser.add_argument("--files", type=int, help="end sooner, with --kills, once so many damaged files were tried")
    parser.add_argument("--kills", type=int, help="end sooner, with --files, once so many runs were ended")
    parser.add_argument("--seed", type=int, default=1, help="tells all but the moments in time (default 1)")
    asked = parser.parse_args()
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    folder = Path(tempfile.mkdtemp(prefix="soak-"))
    work = Work(folder, asked.seed)
    mutated, begun = Mutated(work), time.monotonic()
    try:
        _go(work, mutated, asked, begun)
    except KeyboardInterrupt:
        _say("ended by a signal")
    finally:
        mutated.close()
    _report(work.tally, time.monotonic() - begun, asked.seed)
    if work.tally.findings:
        _say(f"what is left of it: {folder}")
        return 1
    shutil.rmtree(folder)
    return 0


def _go(work: Work, mutated: Mutated, asked: argparse.Namespace, begun: float) -> None:
    """One thing after the other, each as long as its share says."""
    doing: dict[str, Callable[[], None]] = {
        "mutated files": mutated.some, "kills": partial(kill, work), "runs without room": partial(fill, work),
        "races": partial(race, work),
    }  # fmt: skip
    wanted = {"mutated files": asked.files, "kills": asked.kills}
    took, said = dict.fromkeys(SHARES, 0.0), begun
    while (now := time.monotonic()) < begun + 60 * asked.minutes:
        counts = work.tally.counts
        enough = {name for name, number in wanted.items() if number is not None and counts[name] >= number}
        if len(enough) == len(wanted):
            return
        name = min((n for n in SHARES if n not in enough), key=lambda n: took[n] / SHARES[n])
        known = len(work.tally.findings)
        doing[name]()
        for finding in work.tally.findings[known:]:  # at once: the run itself may be ended
            _say(f"found: {finding}")
        took[name] += time.monotonic() - now
        if now - said > SAID_EVERY:
            said = now
            _say(f"{(now - begun) / 60:.0f} min: {', '.join(f'{counts[n]} {n}' for n in SHARES)}, "
                 f"{len(work.tally.findings)} findings")  # fmt: skip


def _report(tally: Tally, seconds: float, seed: int) -> None:
    _say(f"\n{seconds / 60:.1f} minutes, seed {seed}; tried:")
    for name, number in sorted(tally.counts.items()):
        _say(f"  {number:6}  {name}")
    if tally.findings:
        _say(f"\n{len(tally.findings)} findings:")
        for finding in tally.findings:
            _say(f"  {finding}")
    else:
        _say("\nheld: no input changed, every output whole or absent, temporary files after SIGKILL alone, "
             "every next run right, no traceback")  # fmt: skip


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
