"""CIELAB under the ICC's D50 white, and the step between L* and luminance."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.floating]
"""Floating point arrays; functions here keep float32 as float32."""

Array = NDArray[np.float64]

Lab = NDArray[np.float32]
"""CIELAB D50, float32, shape (..., 3); L* 0..100, a* and b* about -128..127; print-referred wherever steps are."""

D50 = (0.9642, 1.0, 0.8249)
"""The white of the profile connection space: ICC.1 (ISO 15076-1), header field "PCS illuminant"."""

_EPSILON = 216 / 24389  # CIE 15: where the cube root gives way to a straight line
_KAPPA = 24389 / 27


def _floating(value: ArrayLike) -> Floats:
    array = np.asarray(value)
    return array if array.dtype in (np.float32, np.float64) else array.astype(np.float64)


def luminance_from_lightness(lightness: ArrayLike) -> Floats:
    """Relative luminance Y (0..1) of L*; CIE 15 and ISO/CIE 11664-4. Beyond either end the formulas simply go on."""
    L = _floating(lightness)
    f = (L + 16) / 116
    return np.where(L > 8, f * f * f, L / _KAPPA).astype(L.dtype)


def lightness_from_luminance(luminance: ArrayLike) -> Floats:
    """Lightness L* of a relative luminance Y (0..1); CIE 15 and ISO/CIE 11664-4."""
    Y = _floating(luminance)
    return np.where(Y > _EPSILON, 116 * cube_root(Y) - 16, _KAPPA * Y).astype(Y.dtype)


def xyz_from_lab(lab: ArrayLike, white: tuple[float, float, float] = D50) -> Floats:
    """XYZ, (..., 3), of Lab under a white; Y of the white = 1; CIE 15."""
    lab = _floating(lab)
    fy = (lab[..., 0] + 16) / 116
    f = np.stack([fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200], axis=-1)
    xyz = np.where(f > 6 / 29, f * f * f, (116 * f - 16) / _KAPPA)
    return (xyz * np.asarray(white, lab.dtype)).astype(lab.dtype)


def lab_from_xyz(xyz: ArrayLike, white: tuple[float, float, float] = D50) -> Floats:
    """Lab, (..., 3), of XYZ under a white; Y of the white = 1; CIE 15."""
    xyz = _floating(xyz)
    t = xyz / np.asarray(white, xyz.dtype)
    f = np.where(t > _EPSILON, cube_root(t), (_KAPPA * t + 16) / 116)
    lab = np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1)
    return lab.astype(xyz.dtype)


def polar(lab: Floats) -> tuple[Floats, Floats]:
    """Chroma and hue angle (radians, -pi..pi) of Lab or Oklab colours, (..., 3), in their own precision.

    Computed in double precision: what single precision gives depends on the processor's instructions.
    """
    chroma = np.hypot(lab[..., 1], lab[..., 2], dtype=np.float64)
    return chroma.astype(lab.dtype), np.arctan2(lab[..., 2], lab[..., 1], dtype=np.float64).astype(lab.dtype)


def cube_root(values: Floats) -> Floats:
    """Cube roots in the values' own precision, the same on all processors (see `polar`)."""
    return np.cbrt(values, dtype=np.float64).astype(values.dtype)


def lab_from_lch(lch: ArrayLike) -> Floats:
    """Lab of lightness, chroma and hue angle in degrees, (..., 3)."""
    lch = _floating(lch)
    hue = np.radians(lch[..., 2])
    return np.stack([lch[..., 0], lch[..., 1] * np.cos(hue), lch[..., 1] * np.sin(hue)], axis=-1).astype(lch.dtype)


def media_relative(lab: ArrayLike, white: ArrayLike) -> Floats:
    """Absolute Lab, (..., 3), made relative to a medium's white, which becomes (100, 0, 0): XYZ scaled (ICC.1)."""
    xyz = xyz_from_lab(lab)
    return lab_from_xyz(xyz * (np.asarray(D50) / xyz_from_lab(np.asarray(white, float))).astype(xyz.dtype))


def absolute(lab: ArrayLike, white: ArrayLike) -> Floats:
    """Undo `media_relative`: absolute Lab of media-relative Lab on a medium with this white."""
    xyz = xyz_from_lab(lab)
    return lab_from_xyz(xyz * (xyz_from_lab(np.asarray(white, float)) / np.asarray(D50)).astype(xyz.dtype))
