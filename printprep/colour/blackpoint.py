"""Black point compensation: move a picture's black to the paper's black, and back (ISO 18619)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.colour.icc import Intent, device_from_lab, lab_from_device, model_of, tags
from printprep.colour.lab import Floats, lab_from_xyz, xyz_from_lab

_DARKEST = 50.0
"""A black found lighter than this L* is taken as this (ISO 18619, 4.2.4; LittleCMS does the same)."""


Black = float | tuple[float, float, float]
"""A black point: L* of a neutral one, or Lab, D50, media-relative."""


def compensate(lab: ArrayLike, black_in: Black, black_out: Black) -> Floats:
    """Scale XYZ of media-relative Lab, (..., 3), so that one black lands on another and white stays.

    ISO 18619:2015, 4.2.6 and 4.2.7: ``XYZ' = a XYZ + (1 - a) W`` with ``a = (W - Bout) / (W - Bin)`` in each
    channel. With both blacks neutral the three channels share one factor.
    """
    white, first, last = (
        xyz_from_lab(np.array(c, float)) for c in ((100.0, 0.0, 0.0), _lab(black_in), _lab(black_out))
    )
    scale = (white - last) / (white - first)
    xyz = xyz_from_lab(lab)
    return lab_from_xyz(xyz * scale.astype(xyz.dtype) + (white * (1 - scale)).astype(xyz.dtype))


def uncompensate(lab: ArrayLike, black_in: Black, black_out: Black) -> Floats:
    """Undo `compensate` made with the same two blacks."""
    return compensate(lab, black_out, black_in)


def _lab(black: Black) -> tuple[float, float, float]:
    return black if isinstance(black, tuple) else (black, 0.0, 0.0)


def source_black(profile: bytes) -> float:
    """L* (0..50) of the black that pictures in this profile have: the darkest device colour, chroma dropped.

    ISO 18619, 4.2.4.
    """
    return _darkest_colorant(profile)[0]


def conversion_black(profile: bytes) -> tuple[float, float, float]:
    """Lab of the black that LittleCMS compensates to or from, its tint kept.

    ISO 18619 makes that black neutral, and plans are made with `destination_black`. LittleCMS 2.18 keeps
    the tint of the darkest colour, so that prints from the two differ next to black where a paper's black
    is tinted; a hand-over in the paper's profile follows the conversion that would be made otherwise.
    """
    _, a, b = (0.0, 0.0, 0.0) if _ink_on_paper(profile) else _darkest_colorant(profile)
    return destination_black(profile), a, b


def destination_black(profile: bytes) -> float:
    """L* (0..50, media-relative) of the neutral black that a conversion into this profile compensates to.

    ISO 18619, 4.2.5, as LittleCMS carries it out: a grey ramp is sent through B2A and back. Where its middle is
    straight the darkest colour counts; where it is not, the foot of a parabola fitted to the shadows does.
    """
    if not tags(profile).keys() & {b"B2A0", b"B2A1", b"B2A2"}:  # the way back from Lab is no table
        return _darkest_colorant(profile)[0]
    asked = np.linspace(0, 100, 256)
    got = _round_trip(np.stack([asked, 0 * asked, 0 * asked], -1), profile)[:, 0]
    got = np.minimum.accumulate(got[::-1])[::-1]
    low, high = got[0], got[-1]
    if not low < high:
        return 0.0
    shadows = asked <= low + 0.2 * (high - low)
    if np.all(shadows | (np.abs(asked - got) < 4)):
        if _ink_on_paper(profile):  # the ink limit hides in the perceptual table
            return _clip(float(_round_trip(np.zeros((1, 3)), profile, "perceptual")[0, 0]))
        return _darkest_colorant(profile)[0]
    rise = (got - low) / (high - low)
    inside = (rise >= 0.1) & (rise < 0.5)
    if np.count_nonzero(inside) < 3:
        return 0.0
    c, b, a = map(float, np.polynomial.Polynomial.fit(asked[inside], rise[inside], 2).convert().coef.tolist())
    if abs(a) < 1e-10:
        foot = -c / b
    else:
        discriminant = b * b - 4 * a * c
        foot = (-b + np.sqrt(discriminant)) / (2 * a) if discriminant > 0 else 0.0
    return _clip(float(foot))


def _clip(lightness: float) -> float:
    return min(max(lightness, 0.0), _DARKEST)


def _darkest_colorant(profile: bytes) -> tuple[float, float, float]:
    darkest = {"RGB": [0.0, 0.0, 0.0], "GRAY": [0.0], "CMYK": [1.0, 1.0, 1.0, 1.0]}[model_of(profile)]
    L, a, b = map(float, lab_from_device(np.array([darkest]), profile)[0])
    return _clip(L), a, b


def _round_trip(lab: NDArray[np.float64], profile: bytes, intent: Intent = "relative") -> NDArray[np.floating]:
    return lab_from_device(device_from_lab(lab, profile, intent=intent), profile)


def _ink_on_paper(profile: bytes) -> bool:
    return model_of(profile) == "CMYK" and profile[12:16] == b"prtr"
