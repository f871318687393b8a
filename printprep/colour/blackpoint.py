"""Black point compensation: move a picture's black to the paper's black, and back (ISO 18619)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.colour.icc import Intent, Model, device_from_lab, lab_from_device, model_of
from printprep.colour.lab import Floats, lab_from_xyz, luminance_from_lightness, xyz_from_lab
from printprep.errors import InputError

_DARKEST = 50.0
"""A black found lighter than this L* is taken as this (ISO 18619, 4.2.4; LittleCMS does the same)."""


def compensate(lab: ArrayLike, black_in: float, black_out: float) -> Floats:
    """Scale XYZ so that one neutral black lands on another and white stays.

    Parameters
    ----------
    lab : (..., 3) array_like
        Media-relative Lab, D50.
    black_in, black_out : float, L*
        The neutral black that colours come from and the one they go to, 0..50.

    Returns
    -------
    (..., 3) ndarray
        Lab after compensation.

    Notes
    -----
    ISO 18619:2015, 4.2.6 and 4.2.7. With both blacks neutral the three channels share one factor:
    ``XYZ' = a XYZ + (1 - a) W`` with ``a = (1 - Yout) / (1 - Yin)``.
    """
    y_in, y_out = luminance_from_lightness([black_in, black_out])
    scale = (1 - y_out) / (1 - y_in)
    xyz = xyz_from_lab(lab)
    white = xyz_from_lab(np.array([100.0, 0.0, 0.0])).astype(xyz.dtype)
    return lab_from_xyz(xyz * xyz.dtype.type(scale) + white * xyz.dtype.type(1 - scale))


def uncompensate(lab: ArrayLike, black_in: float, black_out: float) -> Floats:
    """Undo `compensate` made with the same two blacks."""
    return compensate(lab, black_out, black_in)


def source_black(profile: bytes) -> float:
    """L* of the black that pictures in this profile have, made neutral.

    Parameters
    ----------
    profile : bytes
        ICC profile of a picture: display, input or colour space class.

    Returns
    -------
    float
        L*, 0..50. ISO 18619, 4.2.4: the darkest device colour, chroma dropped.
    """
    return _darkest_colorant(profile, model_of(profile), "relative")


def destination_black(profile: bytes, intent: Intent = "relative") -> float:
    """L* of the neutral black that a conversion into this profile compensates to.

    Parameters
    ----------
    profile : bytes
        ICC profile of a printer and paper, or any that converts from Lab.
    intent : str
        ``relative``, ``perceptual`` or ``saturation``.

    Returns
    -------
    float
        L*, 0..50, media-relative.

    Notes
    -----
    ISO 18619, 4.2.5, as LittleCMS carries it out: a grey ramp is sent through B2A and back. Where
    its middle is straight the darkest colour counts; where it is not, the foot of a parabola fitted
    to the shadows does.
    """
    model = model_of(profile)
    if not _has_table(profile):
        return _darkest_colorant(profile, model, intent)
    first = 0.0
    if intent == "relative":
        if model == "CMYK" and profile[12:16] == b"prtr":  # the ink limit hides in the perceptual table
            first = _clip(float(_round_trip(np.zeros((1, 3)), profile, model, "perceptual")[0, 0]))
        else:
            first = _darkest_colorant(profile, model, intent)
    asked = np.linspace(0, 100, 256)
    got = _round_trip(np.stack([asked, 0 * asked, 0 * asked], -1), profile, model, intent)[:, 0]
    got = np.minimum.accumulate(got[::-1])[::-1]
    low, high = got[0], got[-1]
    if not low < high:
        return 0.0
    if intent == "relative":
        shadows = asked <= low + 0.2 * (high - low)
        if np.all(shadows | (np.abs(asked - got) < 4)):
            return first
    rise = (got - low) / (high - low)
    start, end = (0.1, 0.5) if intent == "relative" else (0.03, 0.25)
    inside = (rise >= start) & (rise < end)
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


def _darkest_colorant(profile: bytes, model: Model, intent: Intent) -> float:
    darkest = {"RGB": [0.0, 0.0, 0.0], "GRAY": [0.0], "CMYK": [1.0, 1.0, 1.0, 1.0]}[model]
    return _clip(float(lab_from_device(np.array([darkest]), profile, model=model, intent=intent)[0, 0]))


def _round_trip(lab: NDArray[np.float64], profile: bytes, model: Model, intent: Intent) -> NDArray[np.floating]:
    device = device_from_lab(lab, profile, model=model, intent=intent)
    return lab_from_device(device, profile, model=model, intent="relative")


def _has_table(profile: bytes) -> bool:
    """Whether the way back from Lab is a table (any B2A tag), by the profile's tag directory."""
    count = int.from_bytes(profile[128:132], "big")
    if count > 500 or len(profile) < 132 + 12 * count:
        raise InputError("the profile's tag directory is damaged; export the profile again")
    tags = {profile[132 + 12 * k : 136 + 12 * k] for k in range(count)}
    return bool(tags & {b"B2A0", b"B2A1", b"B2A2"})
