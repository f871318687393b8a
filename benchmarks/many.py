"""What a million pictures cost beside the pictures themselves: handing out jobs and taking back results."""

from __future__ import annotations

import pickle
import time
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

from benchmarks._measure import Bench, Line
from printprep.compose import pipeline
from printprep.jobs.one import Options
from printprep.jobs.prepare import Prepared
from printprep.jobs.prepare_many import Batch


class _Instant(Executor):
    """Answers every job at once, after the job went through pickle and back, as it does on its way to a worker."""

    sent = received = 0

    def submit(self, work: Any, /, *arguments: Any, **more: Any) -> Future[Any]:
        data = pickle.dumps((work, arguments, more))
        self.sent += len(data)
        result = Prepared(arguments[0], arguments[1], 6000, 4000)
        self.received += len(pickle.dumps(result))
        future: Future[Any] = Future()
        future.set_result(result)
        return future


def lines(bench: Bench) -> list[Line]:
    """The driver's time and messages for each picture."""
    count = 2_000 if bench.quick else 20_000
    pipe = pipeline(paper="cotton-rag", room="hallway")
    jobs = [(Path(f"in/{k:07}.tif"), Path(f"out/{k:07}.tif")) for k in range(count)]
    executor = _Instant()
    begun = time.perf_counter()
    with Batch(jobs, pipe, Options(), executor=executor) as batch:
        done = sum(1 for _ in batch)
    each = (time.perf_counter() - begun) / done
    note = f"{executor.sent / done / 1e3:.1f} kB sent, {executor.received / done / 1e3:.1f} kB received for each"
    return [Line("handing out jobs, each", f"{1e6 * each:.0f} µs", note=note)]
