"""Runs that want the same name at the same time: one wins, whole; the others say so."""

from __future__ import annotations

import shutil
import time

from tests.soak.watch import PAPERS, ROOM, Work, digest, litter


def race(work: Work) -> None:
    """Start runs together: for one name, with and without leave to replace it, or over one list of edits."""
    work.rng.choice((_for_one_name, _for_one_name, _over_one_list))(work)


def _for_one_name(work: Work) -> None:
    rng, tally, folder = work.rng, work.tally, work.room()
    case, out = f"race {tally.counts['races']}", folder / "out.tif"
    cache = work.folder / "fresh" if rng.random() < 0.3 else work.cache
    shutil.rmtree(work.folder / "fresh", ignore_errors=True)
    replace = rng.random() < 0.4
    wants = [(rng.choice(work.edits), rng.choice(PAPERS)) for _ in range(rng.choice((2, 2, 3)))]
    begun, more = time.monotonic(), ["--overwrite"] if replace else []
    running = []
    for edit, paper in wants:
        running.append(work.start("prepare", edit, "--paper", paper, *ROOM, "-o", out, *more, cache=cache))
        time.sleep(rng.uniform(0, 0.2) if rng.random() < 0.5 else 0)
    ended = [work.end(process, begun) for process in running]
    tally.count("races")
    won = [want for want, each in zip(wants, ended, strict=True) if each.status == 0]
    if replace:
        tally.count("races with --overwrite")
        tally.hold(len(won) == len(wants), f"{case}: {[(e.status, e.said) for e in ended]}")
    else:
        tally.hold(len(won) == 1, f"{case}: {len(won)} won: {[(e.status, e.said) for e in ended]}")
        lost = [each for each in ended if each.status]
        tally.hold(all(e.status == 2 and "exists already" in e.said for e in lost), f"{case}: {lost}")
    tally.hold(all(each.clean for each in ended), f"{case}: {[e.said for e in ended]}")
    right = [work.right[want] for want in won]
    tally.hold(out.exists() and digest(out) in right, f"{case}: the output is of no winner")
    tally.hold(not litter(folder), f"{case}: left {[path.name for path in litter(folder)]}")
    work.inputs_stand(case)


def _over_one_list(work: Work) -> None:
    rng, tally, folder = work.rng, work.tally, work.room()
    case, paper = f"race {tally.counts['races']}", rng.choice(PAPERS)
    begun, running = time.monotonic(), []
    for _ in range(2):
        edits = rng.sample(work.edits, len(work.edits))
        running.append(work.start("prepare", *edits, "--paper", paper, *ROOM, "-o", folder, "--skip-done"))
    ended = [work.end(process, begun) for process in running]
    tally.count("races")
    tally.count("races over one list with --skip-done")
    tally.hold(all(e.status in (0, 2) and e.clean for e in ended), f"{case}: {[(e.status, e.said) for e in ended]}")
    for edit in work.edits:
        out = folder / work.name(edit, paper)
        tally.hold(out.exists() and digest(out) == work.right[edit, paper], f"{case}: {out.name} is not right")
    tally.hold(not litter(folder), f"{case}: left {[path.name for path in litter(folder)]}")
    work.inputs_stand(case)
