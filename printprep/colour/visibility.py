"""Luminance counted in steps that the eye can just tell apart (DICOM PS3.14)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

LOWEST, HIGHEST = 0.05, 4000.0
"""The published range, cd/m2; beyond it the curve goes on straight."""

_PUBLISHED = (1.0, 1023.0)  # the same range as JND indices

# DICOM PS3.14, clause 7.1: luminance of a step, and the step of a luminance.
_NUMERATOR = (-1.3011877, 8.0242636e-2, 1.3646699e-1, -2.5468404e-2, 1.3635334e-3)
_DENOMINATOR = (1.0, -2.5840191e-2, -1.0320229e-1, 2.8745620e-2, -3.1978977e-3, 1.2992634e-4)
_INDEX = (
    71.498068,
    94.593053,
    41.912053,
    9.8247004,
    0.28175407,
    -1.1878455,
    -0.18014349,
    0.14710899,
    -0.017046845,
)


def _polynomial(coefficients: Sequence[float], x: ArrayLike) -> Array:
    """Sum of ``coefficients[k] x**k``; numpy's newer function for it takes 10 ms to import."""
    return np.asarray(np.polyval(coefficients[::-1], np.asarray(x, np.float64)))


def jnd_index(luminance: ArrayLike) -> Array:
    """Count of just-noticeable differences up to a luminance, for an eye adapted to that luminance.

    Parameters
    ----------
    luminance : (...) array_like, cd/m2
        From 0 up.

    Returns
    -------
    (...) ndarray of float64
        JND index; 1 at 0.05 cd/m2, 1023 at 3993 cd/m2. Strictly rising.

    Notes
    -----
    DICOM PS3.14, clause 7.1: a polynomial in log10 of the luminance, fitted to Barten's model of
    contrast sensitivity (a 2 degree square with 4 cycles per degree, seen by the average observer).
    It covers 0.05 to 4000 cd/m2. Paper black in a dim room lies below that, direct sunlight above, so
    the curve goes on without a kink at either end: below, straight in luminance (1 JND for about
    0.0045 cd/m2, the polynomial's slope at 0.05; the standard's table has 0.0047 there), above, straight
    in the logarithm of luminance (Weber's law). The index may so fall below 0; only differences of it mean
    anything.
    """
    L = np.asarray(luminance, np.float64)
    x = np.log10(np.clip(L, LOWEST, HIGHEST))
    j = _polynomial(_INDEX, x)
    j = np.where(L < LOWEST, j + (L - LOWEST) * _slope(LOWEST), j)
    over = np.log10(np.maximum(L, HIGHEST) / HIGHEST)
    return np.asarray(j + over * _slope(HIGHEST) * HIGHEST * np.log(10))


def luminance_of_jnd(index: ArrayLike) -> Array:
    """Luminance of a JND index, the inverse of `jnd_index`.

    Parameters
    ----------
    index : (...) array_like
        JND index.

    Returns
    -------
    (...) ndarray of float64
        cd/m2.

    Notes
    -----
    DICOM PS3.14, clause 7.1: a ratio of polynomials in ln j, for 1 to 1023. The standard's two
    formulas are separate fits and invert each other to about 0.1 % of luminance. Outside, the straight
    pieces of `jnd_index` are inverted.
    """
    j = np.asarray(index, np.float64)
    x = np.log(np.clip(j, *_PUBLISHED))
    L = 10 ** (_polynomial(_NUMERATOR, x) / _polynomial(_DENOMINATOR, x))
    L = L + np.minimum(j - _PUBLISHED[0], 0) / _slope(LOWEST)
    over = np.maximum(j - _PUBLISHED[1], 0) / (_slope(HIGHEST) * HIGHEST * np.log(10))
    return np.asarray(L * 10**over)


def _slope(luminance: float) -> float:
    """JND for each cd/m2 at a luminance within the published range."""
    derivative = [k * c for k, c in enumerate(_INDEX)][1:]
    d_log = _polynomial(derivative, np.log10(luminance))
    return float(d_log / (luminance * np.log(10)))


def jnd_count_fixed(luminance: ArrayLike, adapted_to: float) -> Array:
    """Count of just-noticeable differences for an eye that stays adapted to one luminance.

    Where `jnd_index` lets the eye adapt to each tone, here tones much darker or lighter than the room
    are seen less well: a second opinion.

    Parameters
    ----------
    luminance : (...) array_like, cd/m2
        From 0 up.
    adapted_to : float, cd/m2
        What the eye is adapted to, such as a fifth of paper white.

    Returns
    -------
    (...) ndarray of float64
        Count from darkness up.

    Notes
    -----
    The steps of `jnd_index`, each weighted by Barten's factor for contrast sensitivity under another
    surround luminance, for a large field: ``exp(-ln(Ls / L)**2 / (2 ln(32)**2))`` (Barten, Proc. SPIE
    5294 (2003), 231-238, from memory), summed over a fine scale.
    """
    L = np.asarray(luminance, np.float64)
    scale = np.concatenate([[0.0], np.geomspace(1e-5, max(float(L.max(initial=1.0)), 1.0) * 1.001, 8192)])
    middle = np.sqrt(np.maximum(scale[:-1], 1e-6) * scale[1:])
    weight = np.exp(-(np.log(adapted_to / middle) ** 2) / (2 * np.log(32) ** 2))
    count = np.concatenate([[0.0], np.cumsum(np.diff(jnd_index(scale)) * weight)])
    return np.asarray(np.interp(L, scale, count))
