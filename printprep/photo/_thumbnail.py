"""A small sRGB picture of a photograph, for notebooks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printprep.colour.profile import Profile
from printprep.files.png import png
from printprep.photo.bands import band_rows

if TYPE_CHECKING:
    from printprep.photo.photo import Photo

SIDE = 480
"""Longer side, pixels, at most."""


def thumbnail(photo: Photo) -> bytes:
    """A PNG of every n-th pixel, converted to sRGB by LittleCMS (relative colorimetric)."""
    import imagecodecs

    step = max(1, -(-max(photo.height, photo.width) // SIDE))
    rows = band_rows(photo.width, step)
    tops = range(0, photo.height, rows)
    parts = [photo.rows(top, min(top + rows, photo.height))[::step, ::step].copy() for top in tops]
    small = np.ascontiguousarray(np.concatenate(parts))
    shown = imagecodecs.cms_transform(
        small, photo.profile.data, Profile.named("sRGB").data,
        colorspace="rgb", outcolorspace="rgb", outdtype="uint8", intent=1,
    )  # fmt: skip
    return png(shown)
