"""Spectral reflectance to Lab under D50 for the 2 degree observer."""

from __future__ import annotations

import numpy as np

from printprep.colour.lab import Array, lab_from_xyz


def lab_from_reflectance(wavelengths: Array, reflectance: Array) -> Array:
    """Lab, (n, 3), of reflectance spectra, (n, k): D50, 2 degree observer; a perfect diffuser gives (100, 0, 0).

    Spectra are interpolated by cubic splines to 1 nm from 380 to 780 nm, held at the ends, and summed with the CIE
    1931 colour matching functions and CIE D50 as in CIE 15 (the weights of ISO 13655 are sums of the same products).
    Tables: colour-science.
    """
    import colour
    from scipy.interpolate import CubicSpline

    grid = np.arange(380.0, 781.0)
    shape = colour.SpectralShape(380, 780, 1)
    matching = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    light = colour.SDS_ILLUMINANTS["D50"].copy().align(shape).values
    order = np.argsort(wavelengths)
    at = np.clip(grid, wavelengths.min(), wavelengths.max())
    fine = CubicSpline(wavelengths[order], reflectance[:, order], axis=1)(at)
    weight = matching * light[:, None]
    xyz = fine @ weight / weight[:, 1].sum()
    white = weight.sum(axis=0) / weight[:, 1].sum()
    return np.asarray(lab_from_xyz(xyz, tuple(white)))
