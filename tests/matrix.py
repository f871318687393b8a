"""Threads and processes, each way of starting them: do all make the bytes that one thread makes? A table of answers.

python -m tests.matrix
"""

from __future__ import annotations

import hashlib
import io
import multiprocessing
import sys
import sysconfig
import tempfile
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path
from time import perf_counter
from typing import Any

import numpy as np

import printprep as pp

WORKERS, JOBS = 3, 6


def file_to_bytes(edit: Path, pipe: pp.Pipeline) -> str:
    """Read, prepare and write; the hash of what is written."""
    out = io.BytesIO()
    pipe(pp.read(edit)).write(out, compress="deflate", threads=2)
    return hashlib.sha256(out.getvalue()).hexdigest()


def photo_sent(photo: pp.Photo, pipe: pp.Pipeline) -> str:
    """The same of a photo that was opened elsewhere."""
    out = io.BytesIO()
    pipe(photo).write(out, compress="deflate", threads=2)
    return hashlib.sha256(out.getvalue()).hexdigest()


def array(codes: np.ndarray, pipe: pp.Pipeline) -> str:
    """Prepare an array."""
    return hashlib.sha256(pipe.apply(codes, "opRGB").tobytes()).hexdigest()


def ways() -> dict[str, Callable[[], Executor]]:
    found: dict[str, Callable[[], Executor]] = {}
    for method in multiprocessing.get_all_start_methods():
        context = multiprocessing.get_context(method)
        found[method] = lambda context=context: ProcessPoolExecutor(WORKERS, mp_context=context)  # type: ignore[misc]
    return {**found, "threads": lambda: ThreadPoolExecutor(WORKERS)}  # last: it uses this process


def main() -> int:
    """Print the table; 1 where any answer is no."""
    bad = 0
    lock = "without" if sysconfig.get_config_var("Py_GIL_DISABLED") else "with"
    print(f"CPython {sys.version.split()[0]} on {sys.platform}, {lock} a global lock")
    with tempfile.TemporaryDirectory() as folder:
        edit = Path(folder) / "edit.tif"
        codes = np.random.default_rng(0).integers(0, 65536, (400, 600, 3), dtype=np.uint16)
        pp.Photo.from_array(codes, "opRGB").write(edit)
        pipe = pp.pipeline(paper="cotton-rag", room="hallway")
        photo = pp.read(edit)
        tasks: dict[str, tuple[Callable[[Any, pp.Pipeline], str], Any]] = {
            "file": (file_to_bytes, edit), "photo sent": (photo_sent, photo), "array": (array, codes),
        }  # fmt: skip
        # Before: here nothing has run yet, so that a child has no locks or threads of ours to inherit. After: it has.
        for moment in ("before use", "after use"):
            for way, make in ways().items():
                for name, (task, given) in tasks.items():
                    start = perf_counter()
                    try:
                        with make() as pool:
                            jobs = [pool.submit(task, given, pipe) for _ in range(JOBS)]
                            found = {job.result(timeout=120) for job in jobs}
                        good = found == {task(given, pipe)} if moment == "after use" else len(found) == 1
                        said = "yes" if good else "NO"
                    except Exception as error:
                        said = f"NO: {type(error).__name__}: {error}".split("\n")[0]
                    bad += said != "yes"
                    print(f"{moment:<12}{way:<12}{name:<12}{said:<6}{perf_counter() - start:6.2f} s", flush=True)
            for task, given in tasks.values():
                task(given, pipe)
    return int(bad > 0)


if __name__ == "__main__":
    sys.exit(main())
