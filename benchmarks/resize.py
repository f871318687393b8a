"""The pass for steps that look around: resize and unsharp mask in bands, beside other ways to resize."""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray

import printprep as pp
from benchmarks._measure import Bench, Line, Use, best, here
from benchmarks.picture import photo
from printprep.cli.main import settle
from printprep.photo.bands import band_rows, run
from printprep.photo.pixels import ArrayPixels, Pixels
from printprep.render.lightness import LightnessPixels
from printprep.render.resample import ResizedPixels

_SCALE = 1.486  # 24 to 53 megapixels
_SHARE = 40  # the slowest way gets this part of the picture


def lines(bench: Bench) -> list[Line]:
    """In memory, without files: the pass itself."""
    settle()  # as the command does
    size = (1000, 1500) if bench.quick else (4000, 6000)
    codes = photo(*size)
    height, width = (round(side * _SCALE) for side in size)
    resized = ResizedPixels(ArrayPixels(codes), height, width)
    sheet = pp.Sheet(ppi=360, distance_m=1)
    plan = pp.pipeline(paper="cotton-rag", sheet=sheet).plan("sRGB")
    assert plan.detail
    sharpened = LightnessPixels(resized, plan.chain, plan.detail)
    out, cores = height * width / 1e6, len(os.sched_getaffinity(0))

    def rate(work: Callable[[], object]) -> tuple[float, Use]:
        used = best([here(work) for _ in range(bench.runs)])
        return out / used.wall, used

    speed, used = rate(lambda: _read(sharpened, cores))
    found = [
        Line(
            f"resize and sharpen, to {out:.0f} MP", f"{speed:.0f} MP/s", "", speed, "at least 25 MP/s on 2 cores",
            speed >= 25, f"{out / used.cpu:.0f} MP per CPU second",
        )
    ]  # fmt: skip
    alone, _ = rate(lambda: _read(resized, cores))
    for name, work in _others(codes, height, width).items():
        other, _ = rate(work)
        other /= _SHARE if name.startswith("scikit") else 1
        found.append(
            Line(f"resize alone, beside {name}", f"{alone:.0f} MP/s", f"{other:.1f} MP/s", alone / other, "", None)
        )
    return found


def _read(pixels: Pixels, threads: int) -> None:
    rows = band_rows(pixels.width)

    def worker() -> Callable[[int], None]:
        band = np.empty((rows, pixels.width, 3), np.uint16)
        return lambda i: pixels.read(i * rows, band[: min(rows, pixels.height - i * rows)])

    run(-(-pixels.height // rows), threads, worker)


def _others(codes: NDArray[np.uint16], height: int, width: int) -> dict[str, Callable[[], object]]:
    """Ways that give the right phase; all but libvips on one thread, whole picture in memory."""
    import cv2
    from PIL import Image
    from skimage.transform import resize

    def pillow() -> None:
        for channel in range(3):
            Image.fromarray(codes[..., channel].astype(np.float32)).resize((width, height), Image.Resampling.LANCZOS)

    def opencv() -> None:
        cv2.setNumThreads(1)
        cv2.resize(codes, (width, height), interpolation=cv2.INTER_LANCZOS4)

    part = codes[: len(codes) // _SHARE]
    found: dict[str, Callable[[], object]] = {
        "Pillow, Lanczos, float": pillow,
        "OpenCV, Lanczos4, whole picture": opencv,
        "scikit-image, order 3": partial(resize, part, (height // _SHARE, width), order=3),
    }
    try:
        import pyvips

        image = pyvips.Image.new_from_memory(codes.data, codes.shape[1], codes.shape[0], 3, "ushort")
        found["libvips, Lanczos3, all cores"] = lambda: image.resize(_SCALE, kernel="lanczos3").write_to_memory()
    except (ImportError, OSError):
        pass
    return found
