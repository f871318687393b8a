"""A target that was written before, known again: the same sheet to print once more, and where its patches lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.colour.icc import lab_from_device
from printprep.errors import InputError
from printprep.files.names import AnyPath, shown
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.targets.layout import SHEETS, Layout, arrange, draw
from printprep.targets.shapes import Raster
from printprep.targets.target import SPACE, _patches, _to
from printprep.targets.values import Patch

DETAIL = 4.0
"""Pixels per millimetre of the picture that scans are laid against: finer than the patches, coarser than ink dots."""


@dataclass(frozen=True)
class Known:
    """A target that was written before.

    Parameters
    ----------
    layout : Layout
        What is where, mm.
    ppi : float, pixels per inch
        Resolution.
    patches : tuple of Patch
        All areas of even colour.
    lightness : (rows, columns) ndarray of float32
        L* of the sheet, `DETAIL` pixels per millimetre.
    """

    layout: Layout
    ppi: float
    patches: tuple[Patch, ...]
    lightness: NDArray[np.float32]

    @property
    def sheet(self) -> str:
        """Its size, as `printprep.target` takes it."""
        return f"{self.layout.width:g}x{self.layout.height:g}"


def known_target(path: AnyPath) -> Known:
    """Know a target again by its own pixels.

    Parameters
    ----------
    path : path
        The TIFF that `printprep.target` wrote.

    Raises
    ------
    InputError
        If it is no target, was worked on, or is of a version that laid it out in another way.
    OutsideError
        If it cannot be read.
    """
    import cv2

    photo = read(path)
    pixels = np.asarray(photo)
    for width, height in _sizes(photo):
        layout = arrange(width, height)
        shapes = draw(layout, photo.resolution.ppi, SPACE)
        raster = Raster(shapes, width, height, photo.resolution.pixels_per_mm, _to(SPACE))
        if (raster.height, raster.width) == pixels.shape[:2] and np.array_equal(raster.whole(), pixels):
            break
    else:
        what = "is no test target of this version as it was written"
        raise InputError(what, where=shown(path), do="name the TIFF of a target, as it was written")
    size = round(width * DETAIL), round(height * DETAIL)
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    lightness = lab_from_device(small / np.float32(65535), photo.profile.data)[..., 0].astype(np.float32)
    return Known(layout, photo.resolution.ppi, _patches(shapes, raster, photo.profile), lightness)


def _sizes(photo: Photo) -> list[tuple[float, float]]:
    """Sheets, mm, that come to so many pixels: those with a name, else whole millimetres and tenths."""
    per_mm = photo.resolution.pixels_per_mm
    wide, high = photo.width / per_mm, photo.height / per_mm
    named = [size for w, h in SHEETS.values() for size in ((w, h), (h, w))]
    typed = [(float(round(wide, digits)), float(round(high, digits))) for digits in (0, 1)]
    return [(w, h) for w, h in dict.fromkeys((*named, *typed)) if max(abs(w - wide), abs(h - high)) * per_mm <= 1.5]
