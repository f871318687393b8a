"""Memory stays small whatever the picture's size and layout, measured in a process of its own."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile

from tests.support.tiffs import profile_bytes

HEIGHT, WIDTH = 5000, 8000  # 40 megapixels: 240 MB
TALLER = 8000  # 64 megapixels: 384 MB

PROGRAM = """
import sys, threading, time
from printprep.photo.read import read
from printprep.photo.write import write
peak, done = 0, False
def watch():
    global peak
    while not done:
        with open("/proc/self/status") as status:
            peak = max([peak, *(int(line.split()[1]) for line in status if line.startswith("RssAnon"))])
        time.sleep(0.002)
watcher = threading.Thread(target=watch, daemon=True)
watcher.start()
write(read(sys.argv[1]), sys.argv[2], threads=2, compress="none")
done = True
watcher.join()
print(peak >> 10)
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="measured through Linux's /proc")
@pytest.mark.parametrize(
    ("height", "most", "options"),
    [
        (HEIGHT, 60, {"rowsperstrip": HEIGHT}),
        (TALLER, 220, {"rowsperstrip": TALLER, "extratags": [(274, 3, 1, 6, True)]}),
        (HEIGHT, 60, {"rowsperstrip": HEIGHT, "compression": "zlib", "predictor": True}),
    ],
    ids=["one strip", "on its side", "one compressed strip"],
)
def test_peak(tmp_path: Path, height: int, most: int, options: dict[str, Any]) -> None:
    """MB of anonymous memory, interpreter and libraries included: far less than the picture; the promise is 250."""
    shape = height, WIDTH, 3
    common: dict[str, Any] = {"photometric": "rgb", "iccprofile": profile_bytes(), "metadata": None, **options}
    if "compression" in options:
        tifffile.imwrite(tmp_path / "a.tif", np.zeros(shape, np.uint16), **common)
    else:  # a hole on the disk
        tifffile.imwrite(tmp_path / "a.tif", shape=shape, dtype=np.uint16, **common)
    run = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(tmp_path / "a.tif"), str(tmp_path / "b.tif")],
        capture_output=True, text=True, check=True, timeout=120,
    )  # fmt: skip
    assert int(run.stdout) < most
    (tmp_path / "b.tif").unlink()
