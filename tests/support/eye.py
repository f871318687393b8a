"""Second opinions on what is seen, which the package itself does not ask for."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.colour.lab import Floats, polar
from printprep.colour.visibility import jnd_index

Array = NDArray[np.float64]


def lch_from_lab(lab: ArrayLike) -> Floats:
    """Lightness, chroma and hue angle (degrees, 0..360) of Lab colours, (..., 3)."""
    lab = np.asarray(lab)
    chroma, hue = polar(lab)
    return np.stack([lab[..., 0], chroma, np.degrees(hue) % 360], axis=-1).astype(lab.dtype)


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
