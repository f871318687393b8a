"""A picture read small, for what depends on it as a whole, and to be shown in notebooks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from printprep.colour.icc import device_from_device
from printprep.colour.profile import Profile
from printprep.files.png import png
from printprep.photo.bands import run
from printprep.photo.pixels import Pixels

SMALL_SIDE = 320
"""Longer side, pixels: what is asked of it, as exposure by place, is far smoother than that."""


THUMBNAIL_SIDE = 480

_LINES = 16
"""Lines that a thread reads one after the other."""


def small(pixels: Pixels, side: int = SMALL_SIDE, threads: int = 1) -> NDArray[np.float32]:
    """A picture read small: codes 0..1, (rows, columns, 3); most rows of an uncompressed file are not read at all.

    More threads than one pay where rows must be decoded.
    """
    import cv2

    height, width = pixels.height, pixels.width
    scale = min(1.0, side / max(height, width))
    rows, columns = max(1, round(height * scale)), max(1, round(width * scale))
    out = np.empty((rows, columns, 3), np.float32)

    def lines(part: int) -> None:
        line = np.empty((1, width, 3), np.uint16)
        for k in range(part * _LINES, min((part + 1) * _LINES, rows)):
            pixels.read(min(height - 1, int((k + 0.5) * height / rows)), line)
            out[k] = cv2.resize(line, (columns, 1), interpolation=cv2.INTER_AREA).reshape(columns, 3)

    run(-(-rows // _LINES), threads, lambda: lines)
    return out / np.float32(65535)


def thumbnail(pixels: Pixels, profile: Profile) -> bytes:
    """A PNG of the picture read small, converted to sRGB by LittleCMS (relative colorimetric)."""
    rgb = device_from_device(small(pixels, THUMBNAIL_SIDE), profile.data, Profile.named("sRGB").data)
    return png(np.rint(np.clip(rgb, 0, 1) * 255).astype(np.uint8))
