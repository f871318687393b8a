"""The floor for a pointwise job on a machine: ``python -m benchmarks.floor IN.tif OUT.raw``.

Positioned reads, one table by the same engine on two threads, positioned writes, fsync; no more. Prints the
seconds that the job took, wall and CPU. The input must be uncompressed, contiguous 16-bit RGB.
"""

from __future__ import annotations

import os
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

from benchmarks._measure import Use

_NODES, _ROWS, _THREADS = 65, 64, 2


def main(source: Path, target: Path) -> Use:
    """Do the job once."""
    import PyOpenColorIO as Ocio
    import tifffile

    with tifffile.TiffFile(source) as tif:
        page = tif.pages[0]
        assert isinstance(page, tifffile.TiffPage)
        (height, width, _), start = page.shape, page.dataoffsets[0]
    axis = np.linspace(0, 1, _NODES, dtype=np.float32)
    table = Ocio.Lut3DTransform(_NODES)
    table.setInterpolation(Ocio.INTERP_TETRAHEDRAL)
    table.setData((np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), -1) ** np.float32(0.95)).ravel())
    codes = Ocio.BIT_DEPTH_UINT16
    engine = Ocio.Config.CreateRaw().getProcessor(table)
    engine = engine.getOptimizedCPUProcessor(codes, codes, Ocio.OPTIMIZATION_DEFAULT)
    cpu, begun = time.process_time(), time.perf_counter()
    reader, writer = os.open(source, os.O_RDONLY), os.open(target, os.O_RDWR | os.O_CREAT | os.O_TRUNC)

    def lane(first: int) -> None:
        buffer = np.empty((_ROWS, width, 3), np.uint16)
        for top in range(first * _ROWS, height, _THREADS * _ROWS):
            rows = min(_ROWS, height - top)
            band = buffer[:rows]
            os.preadv(reader, [band.data], start + top * width * 6)
            engine.apply(Ocio.PackedImageDesc(band, width, rows, 3, codes, 2, 6, 6 * width))
            os.pwrite(writer, band.data, top * width * 6)

    with ThreadPoolExecutor(_THREADS) as pool:
        list(pool.map(lane, range(_THREADS)))
    os.fsync(writer)
    os.close(reader)
    os.close(writer)
    return Use(time.perf_counter() - begun, time.process_time() - cpu)


def measured(source: Path, target: Path) -> Use:
    """The same in a process of its own; only the job is timed, not what comes before."""
    import subprocess

    done = subprocess.run(
        [sys.executable, "-m", "benchmarks.floor", str(source), str(target)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    target.unlink()
    wall, cpu = map(float, done.stdout.split())
    return Use(wall, cpu)


if __name__ == "__main__":
    used = main(Path(sys.argv[1]), Path(sys.argv[2]))
    print(f"{used.wall:.4f} {used.cpu:.4f}")
