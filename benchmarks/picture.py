"""Photo-like edits of any size and layout: smooth areas, edges and noise; or empty ones, made in a moment."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
import tifffile
from numpy.typing import NDArray

from printprep.colour.profile import Profile

_TILE = 512


def make(
    path: Path, megapixels: float, *, compress: str = "none", layout: str = "strips", empty: bool = False,
    profile: bytes | None = None,
) -> Path:  # fmt: skip
    """Write an edit of 3:2 in opRGB.

    Parameters
    ----------
    path : Path
        Where.
    megapixels : float
        Its size.
    compress : {"none", "deflate", "lzw", "zstd"}
        With the horizontal predictor.
    layout : {"strips", "one strip", "tiles", "planar"}
        How samples lie in the file.
    empty : bool
        All black, in a file with a hole in place of pixels; only uncompressed.
    profile : bytes, optional
        In place of opRGB.
    """
    width = int((megapixels * 1e6 * 1.5) ** 0.5)
    height = int(megapixels * 1e6 / width)
    planar = layout == "planar"
    options: dict[str, object] = {
        "photometric": "rgb", "planarconfig": "separate" if planar else "contig", "metadata": None, "software": False,
        "iccprofile": profile or Profile.named("opRGB").data, "resolution": (300, 300), "resolutionunit": 2,
        "bigtiff": megapixels * 6e6 > 4e9,
    }  # fmt: skip
    if layout == "tiles":
        options["tile"] = (256, 256)
    else:
        options["rowsperstrip"] = height if layout == "one strip" else max(1, (256 << 10) // (width * 6))
    if compress != "none":
        options.update(compression="zlib" if compress == "deflate" else compress, predictor=True)
    shape = (3, height, width) if planar else (height, width, 3)
    if empty:
        tifffile.imwrite(path, shape=shape, dtype="uint16", **options)
        return path
    pixels = photo(height, width)
    if planar:
        pixels = np.ascontiguousarray(np.moveaxis(pixels, -1, 0))
    tifffile.imwrite(path, pixels, **options)
    return path


@lru_cache(maxsize=1)
def photo(height: int, width: int, seed: int = 7) -> NDArray[np.uint16]:
    """The picture itself, (height, width, 3); not to be written into."""
    import cv2

    rng = np.random.default_rng(seed)
    noise = rng.normal(0, 0.02 * 65535, (_TILE, width, 3)).astype(np.float32)
    out = np.empty((height, width, 3), np.uint16)
    x, phase = np.linspace(0, 1, width // 4, dtype=np.float32)[None, :, None], np.array([0, 2.1, 4.2], np.float32)
    for top in range(0, height, _TILE):
        rows = min(_TILE, height - top)
        v = np.linspace(top / height, (top + rows) / height, max(rows // 4, 1), dtype=np.float32)[:, None, None]
        smooth = 0.5 + 0.28 * np.sin(9 * x + 5 * v + phase) + 0.2 * np.sin(61 * x * v + 2 * phase)
        smooth = cv2.resize(smooth * np.sqrt(v), (width, rows)) * 65535
        out[top : top + rows] = np.clip(smooth + np.roll(noise, top // 7, axis=1)[:rows], 0, 65535)
    out.flags.writeable = False
    return out
