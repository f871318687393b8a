"""A small sRGB picture of a photograph, for notebooks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printprep.colour.icc import device_from_device
from printprep.colour.profile import Profile
from printprep.files.png import png
from printprep.photo.small import small

if TYPE_CHECKING:
    from printprep.photo.photo import Photo

SIDE = 480
"""Longer side, pixels, at most."""


def thumbnail(photo: Photo) -> bytes:
    """A PNG of the picture read small, converted to sRGB by LittleCMS (relative colorimetric)."""
    rgb = device_from_device(small(photo.pixels, SIDE), photo.profile.data, Profile.named("sRGB").data)
    return png(np.rint(np.clip(rgb, 0, 1) * 255).astype(np.uint8))
