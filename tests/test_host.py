"""A library leaves the process that it is imported into as it was: thread counts, environment."""

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

import printprep as pp
from printprep.page.pictures import look
from printprep.photo._turn import turned
from printprep.photo.bands import read_all
from printprep.photo.pixels import ArrayPixels
from printprep.render.resample import ResizedPixels

THREADS = 3


@pytest.fixture(autouse=True)
def threads() -> Iterator[None]:
    """OpenCV's thread count as a host might have set it."""
    before = cv2.getNumThreads()
    cv2.setNumThreads(THREADS)
    yield
    cv2.setNumThreads(before)


def codes() -> NDArray[np.uint16]:
    return np.random.default_rng(0).integers(0, 65536, (96, 128, 3), dtype=np.uint16)


def state() -> list[object]:
    return [cv2.getNumThreads(), np.geterr(), dict(os.environ), Path.cwd()]


class Blocks(ArrayPixels):
    """Pixels of which rectangles can be read."""

    def block(self, top: int, left: int, out: NDArray[np.uint16]) -> None:
        out[:] = codes()[top : top + out.shape[0], left : left + out.shape[1]]


def judged() -> None:
    pipe = pp.Pipeline([pp.ShadowLift()], paper=pp.paper("cotton-rag"), room=pp.Room(illuminance_lux=50))
    pp.loss(pp.Photo.from_array(codes(), "sRGB"), pipe)


def sized() -> object:
    """A picture on a sheet: resized and sharpened."""
    pipe = pp.pipeline(paper="gloss", sheet=pp.Sheet(size="60x90mm", margin_mm=5))
    return np.asarray(pipe(pp.Photo.from_array(codes(), "sRGB")))


CALLS: dict[str, Callable[[], object]] = {
    "look": lambda: look(pp.Photo.from_array(codes(), "sRGB"), 1600),
    "loss": judged,
    "resize": lambda: read_all(ResizedPixels(ArrayPixels(codes()), 150, 200)),
    "sharpen": lambda: sized(),
    "turn": lambda: read_all(turned(Blocks(codes()), 6)),
}


@pytest.mark.parametrize("call", CALLS)
def test_no_call_changes_the_state_of_the_process(call: str) -> None:
    before = state()
    assert before[0] == THREADS
    CALLS[call]()
    assert state() == before


def test_a_forked_child_of_a_host_that_used_opencv_is_not_stuck(tmp_path: Path) -> None:
    """To set OpenCV's thread count in such a child waits for threads that the child does not have."""
    script = (
        "import os, signal, cv2, numpy as np, printprep as pp\n"
        "from printprep.page.pictures import look\n"
        "codes = np.zeros((1500, 2000, 3), np.uint16)\n"
        "cv2.setNumThreads(4); cv2.cvtColor(codes, cv2.COLOR_RGB2GRAY)\n"
        "for _ in range(5):\n"
        "    child = os.fork()\n"
        "    if child == 0:\n"
        "        signal.alarm(20); look(pp.Photo.from_array(codes, 'sRGB'), 1600, threads=1); os._exit(0)\n"
        "    assert os.waitpid(child, 0)[1] == 0\n"
    )
    env = {**os.environ, "PRINTPREP_CACHE": str(tmp_path)}
    subprocess.run([sys.executable, "-W", "ignore", "-c", script], check=True, env=env, timeout=150)
