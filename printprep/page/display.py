"""Light as values for a screen."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from printprep.colour.icc import device_from_lab
from printprep.colour.lab import lab_from_xyz
from printprep.colour.profile import Profile

_SRGB_FROM_XYZ_D50 = np.array(  # IEC 61966-2-1 primaries, D65 to D50 by Bradford; test: colour-science
    [
        [3.1341864, -1.6172090, -0.4906941],
        [-0.9787485, 1.9161301, 0.0334334],
        [0.0719639, -0.2289939, 1.4057537],
    ]
)


def on_screen(xyz: NDArray[np.float32], screen: Profile | None = None) -> NDArray[np.float32]:
    """Screen values of light.

    Parameters
    ----------
    xyz : (..., 3) ndarray of float32
        Tristimulus values under D50, Y of the screen's white = 1.
    screen : Profile, optional
        Of the screen; sRGB if not given.

    Returns
    -------
    (..., 3) ndarray of float32
        0..1. For sRGB, colours that the screen lacks keep lightness and hue; for a profile they are clipped.
    """
    if screen is None:
        return np.asarray(srgb(xyz), np.float32)
    lab = lab_from_xyz(xyz)
    return np.asarray(np.clip(device_from_lab(lab, screen.data), 0, 1), np.float32)


def srgb(xyz: NDArray[np.float32]) -> NDArray[np.float32]:
    """Encoded sRGB (IEC 61966-2-1) of XYZ under D50, Y of the screen's white = 1.

    Parameters
    ----------
    xyz : (..., 3) ndarray
        Tristimulus values.

    Returns
    -------
    (..., 3) ndarray of float32
        0..1. Colours outside are drawn towards the grey of the same luminance until they fit, so that
        texture in them stays.
    """
    linear = xyz @ _SRGB_FROM_XYZ_D50.T.astype(np.float32)
    grey = np.clip(xyz[..., 1:2], 0, 1)
    away = linear - grey
    most = np.where(away > 0, (1 - grey) / np.maximum(away, 1e-9), grey / np.maximum(-away, 1e-9))
    fit = np.minimum(1.0, most.min(axis=-1, keepdims=True))
    linear = np.clip(grey + fit * away, 0, 1)
    curved = 1.055 * linear ** np.float32(1 / 2.4) - 0.055
    return np.asarray(np.where(linear <= 0.0031308, 12.92 * linear, curved), np.float32)
