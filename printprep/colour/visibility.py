"""Luminance counted in steps that the eye can just tell apart (DICOM PS3.14)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from printprep.colour.lab import Array

LOWEST, HIGHEST = 0.05, 4000.0
"""The published range, cd/m2; beyond it the curve goes on straight."""

# DICOM PS3.14, clause 7.1: the step of a luminance.
_INDEX = (71.498068, 94.593053, 41.912053, 9.8247004, 0.28175407, -1.1878455, -0.18014349, 0.14710899, -0.017046845)


def jnd_index(luminance: ArrayLike) -> Array:
    """Count of just-noticeable differences up to a luminance (cd/m2, from 0), for an eye adapted to that luminance.

    1 at 0.05 cd/m2, 1023 at 3993 cd/m2; strictly rising. DICOM PS3.14, clause 7.1: a polynomial in log10 of the
    luminance, fitted to Barten's model of contrast sensitivity (a 2 degree square with 4 cycles per degree, seen by the
    average observer).

    It covers 0.05 to 4000 cd/m2. Paper black in a dim room lies below that, direct sunlight above, so the curve goes on
    without a kink at either end: below, straight in luminance (1 JND for about 0.0045 cd/m2, the polynomial's slope at
    0.05; the standard's table has 0.0047 there), above, straight in the logarithm of luminance (Weber's law). The index
    may so fall below 0; only differences of it mean anything.
    """
    L = np.asarray(luminance, np.float64)
    x = np.log10(np.clip(L, LOWEST, HIGHEST))
    j = np.polyval(_INDEX[::-1], x)  # numpy's newer function for it takes 10 ms to import
    j = np.where(L < LOWEST, j + (L - LOWEST) * _slope(LOWEST), j)
    over = np.log10(np.maximum(L, HIGHEST) / HIGHEST)
    return np.asarray(j + over * _slope(HIGHEST) * HIGHEST * np.log(10))


def _slope(luminance: float) -> float:
    """JND for each cd/m2 at a luminance within the published range."""
    return float(np.polyval(np.polyder(_INDEX[::-1]), np.log10(luminance)) / (luminance * np.log(10)))
