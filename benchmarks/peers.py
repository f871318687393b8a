"""Other engines that apply colour tables, on the same picture in memory: LittleCMS, libvips, OpenCV, NumPy, SciPy."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from benchmarks._measure import Bench, Line, best, here
from benchmarks.picture import photo
from printprep.colour.profile import Profile
from printprep.compose import pipeline
from printprep.render.engine import Engine
from tests.support.lutprofile import MatrixInk, output_profile


def lines(bench: Bench) -> list[Line]:
    """Ours on as many threads as the other has; the slowest on a part of the picture."""
    codes = photo(*((1000, 1500) if bench.quick else (4000, 6000)))
    source = Profile.named("opRGB").data
    ink = MatrixInk(16.0)
    paper = output_profile(ink.lab, ink.rgb)
    plan = pipeline(paper="cotton-rag", room="hallway", settings={"gamut-fit.glow": 0}).plan(source)
    engine = plan.engine
    engine.prepare()
    cores = len(os.sched_getaffinity(0))
    size = codes.shape[0] * codes.shape[1] / 1e6

    def rate(work: Callable[[], object], share: float = 1.0) -> float:
        return float(share * size / best([here(work) for _ in range(bench.runs)]).wall)

    one, many = rate(lambda: _ours(engine, codes.copy(), 1)), rate(lambda: _ours(engine, codes.copy(), cores))
    found = []

    def row(name: str, speed: float, threads: int = 1, note: str = "") -> None:
        ours = one if threads == 1 else many
        speeds = f"{ours:.0f} MP/s on {threads}", f"{speed:.1f} MP/s"
        found.append(Line(f"table, beside {name}", *speeds, ours / speed, "more than 1", ours > speed, note))

    import imagecodecs
    from PIL import Image, ImageCms

    def little(to: bytes, flags: int = 0) -> object:
        return imagecodecs.cms_transform(
            codes, source, to, colorspace="rgb", outcolorspace="rgb", outdtype="uint16", intent=1, flags=flags
        )

    row("LittleCMS 16 bits, to a paper's tables", rate(lambda: little(paper, 0x2000)), note="imagecodecs")
    row("LittleCMS 16 bits, matrix to matrix", rate(lambda: little(Profile.named("sRGB").data)), note="imagecodecs")
    import io

    eight = Image.fromarray((codes >> 8).astype(np.uint8))
    link = ImageCms.buildTransform(
        ImageCms.ImageCmsProfile(io.BytesIO(source)), ImageCms.ImageCmsProfile(io.BytesIO(paper)), "RGB", "RGB"
    )
    row(
        "LittleCMS 8 bits, to a paper's tables",
        rate(lambda: ImageCms.applyTransform(eight, link)),
        note="Pillow, half the data",
    )
    _vips(row, rate, codes, bench, source, paper, cores)
    _lookups(row, rate, codes, np.asarray(plan.table.cube))
    return found


def _ours(engine: Engine, codes: NDArray[np.uint16], threads: int) -> None:
    """Bands of 64 rows, as files are prepared; the copy of the picture is part of it."""
    bands = [codes[y : y + 64] for y in range(0, len(codes), 64)]
    if threads == 1:
        list(map(engine.apply, bands))
        return
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(engine.apply, bands))


def _vips(
    row: Callable[..., None], rate: Callable[..., float], codes: NDArray[np.uint16], bench: Bench, source: bytes,
    paper: bytes, cores: int,
) -> None:  # fmt: skip
    try:
        import pyvips
    except (ImportError, OSError):
        return
    files = bench.folder / "vips-source.icc", bench.folder / "vips-paper.icc"
    for file, data in zip(files, (source, paper), strict=True):
        file.write_bytes(data)
    image = pyvips.Image.new_from_memory(codes.data, codes.shape[1], codes.shape[0], 3, "ushort")
    image = image.copy(interpretation="rgb16")

    def work() -> object:
        return image.icc_transform(
            str(files[1]), input_profile=str(files[0]), intent="relative", black_point_compensation=True, depth=16
        ).write_to_memory()

    row(f"libvips icc_transform 16 bits, {cores} threads", rate(work), cores)


def _lookups(
    row: Callable[..., None], rate: Callable[..., float], codes: NDArray[np.uint16], cube: NDArray[np.float32]
) -> None:
    """Look-ups in the same cube with array libraries: trilinear, as none of them has tetrahedra."""
    import cv2
    from scipy.ndimage import map_coordinates

    part = codes[: len(codes) // 8]
    share, last = len(part) / len(codes), len(cube) - 1

    def scipy() -> None:
        at = np.moveaxis(part.astype(np.float32) * (last / 65535), -1, 0)
        for channel in range(3):
            map_coordinates(cube[..., channel], at, order=1)

    def numpy() -> None:
        at = part.astype(np.float32) * np.float32(last / 65535)
        low = np.minimum(at.astype(np.int32), last - 1)
        t = at - low
        out = np.zeros(part.shape, np.float32)
        for corner in range(8):
            step = [corner >> k & 1 for k in range(3)]
            weight = np.prod([t[..., k] if step[k] else 1 - t[..., k] for k in range(3)], axis=0)
            out += weight[..., None] * cube[low[..., 0] + step[0], low[..., 1] + step[1], low[..., 2] + step[2]]
        np.rint(out * 65535).astype(np.uint16)

    def opencv() -> None:
        """Two looks into slices of the cube and a mix: OpenCV has tables of two dimensions only."""
        cv2.setNumThreads(1)
        sheet = np.ascontiguousarray(cube.reshape((last + 1) ** 2, last + 1, 3))
        red, green, blue = cv2.split(part.astype(np.float32) * np.float32(last / 65535))
        low = np.minimum(np.floor(red), last - 1)
        ends = []
        for k in (0, 1):
            # rows of one red level lie together; green stays within them
            y = (low + k) * (last + 1) + np.minimum(green, last - 1e-3)
            ends.append(cv2.remap(sheet[:32766], blue, np.minimum(y, 32765), cv2.INTER_LINEAR))
        mix = (red - low)[..., None]
        np.rint((ends[0] * (1 - mix) + ends[1] * mix) * 65535).astype(np.uint16)

    row("SciPy map_coordinates, order 1", rate(scipy, share))
    row("NumPy, trilinear", rate(numpy, share))
    row("OpenCV remap, twice", rate(opencv, share))
