"""The improved colour-image difference: how far a printed picture looks from the one asked for.

Preiss, Fernandes, Urban, "Color-Image Quality Assessment: From Prediction to Optimization", IEEE Transactions on
Image Processing 23(3), 1366..1378, 2014; after Lissner, Preiss, Urban, Scheller Lichtenauer, Zolliker, ibid. 22(2),
435..446, 2013. Observers of gamut-mapped pictures agree with it better than with CIEDE2000 or structural similarity.
The paper's uniform space comes as tables; here it is CAM16-UCS, whose units are of the same size.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from printprep.colour.lab import D50, xyz_from_lab

Array = NDArray[np.float64]
Intent = Literal["perceptual", "chromatic"]

WEIGHTS: dict[Intent, tuple[float, ...]] = {
    "perceptual": (0.002, 10, 10, 0.002, 0.002, 10, 10),
    "chromatic": (0.002, 10, 10, 0.02, 0.02, 10, 10),
}
"""c1 to c7 of the paper: lightness, its contrast and structure, chroma, hue, contrast and structure of chroma."""

CYCLES = 20.0
"""Cycles a degree at the finest detail of the reduced picture, as the paper has it."""

D65 = (0.95047, 1.0, 1.08883)  # CIE 15, 2 degrees
_BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
_TO_D65 = np.linalg.inv(_BRADFORD) @ np.diag(_BRADFORD @ D65 / (_BRADFORD @ D50)) @ _BRADFORD
_OPPONENT = np.array([[0.0556, 0.9981, -0.0254], [0.9510, -0.9038, 0.0], [0.0386, 1.0822, -1.0276]])

"""Adapted to a fifth of 100 cd/m2, white of a print under some 300 lx; average surround (our choice)."""


def image_difference(
    reference_lab: NDArray[np.floating],
    printed_lab: NDArray[np.floating],
    *,
    intent: Intent = "perceptual",
    short_side: int = 256,
) -> float:
    """How far one picture looks from another: 0 the same, 1 the most.

    Parameters
    ----------
    reference_lab, printed_lab : (h, w, 3) ndarray
        Media-relative Lab (D50): what is asked, after black point compensation, and what is printed.
    intent : {"perceptual", "chromatic"}
        The paper's two sets of weights; "chromatic" counts chroma and hue ten times.
    short_side : int, pixels
        About to which the shorter side is reduced, by means of whole squares of pixels.

    Notes
    -----
    Where one reference is compared with many, keep ``uniform(reference)`` and call `difference`.
    """
    return difference(uniform(reference_lab, short_side), uniform(printed_lab, short_side), intent)


def uniform(lab: NDArray[np.floating], short_side: int = 256) -> Array:
    """A picture as the eye gets it: reduced, blurred, in CAM16-UCS (J', a', b').

    Parameters
    ----------
    lab : (h, w, 3) ndarray
        Media-relative Lab (D50).
    short_side : int, pixels
        As for `image_difference`.
    """
    xyz = reduced(xyz_from_lab(np.asarray(lab, np.float32)).astype(np.float64), short_side) @ _TO_D65.T
    return cam16_ucs(filtered(xyz))


def reduced(picture: Array, short_side: int) -> Array:
    """Means of whole squares of pixels, so that the shorter side has about so many; rows and columns over go."""
    rows, columns = picture.shape[:2]
    k = max(1, round(min(rows, columns) / short_side))
    rows, columns = rows // k, columns // k
    return np.asarray(picture[: rows * k, : columns * k].reshape(rows, k, columns, k, -1).mean(axis=(1, 3)))


def sensitivity(f: Array) -> tuple[Array, Array, Array]:
    """What passes of luminance, red-green and blue-yellow at f cycles a degree.

    Johnson and Fairchild, "On contrast sensitivity in an image difference model", PICS 2002, with luminance made a
    low-pass, as the paper's authors use it.
    """
    luminance = np.where(f <= 13.3395, 1, 0.63 * np.maximum(f, 1e-6) ** 0.616 * np.exp(-0.085 * f))
    red_green = (91.228 * np.exp(-0.0003 * f**2.803) + 74.907 * np.exp(-0.0038 * f**2.601)) / 166.135
    blue_yellow = (5.623 * np.exp(-0.00001 * f**3.4066) + 41.9363 * np.exp(-0.083 * f**1.3684)) / 47.5593
    return luminance, red_green, blue_yellow


def filtered(xyz: Array) -> Array:
    """XYZ (D65) without what the eye does not resolve; edges are mirrored."""
    from scipy.fft import dctn, idctn

    opponent = xyz @ _OPPONENT.T
    rows, columns = xyz.shape[:2]
    # The cosine transform is the Fourier transform of the picture mirrored at its edges.
    f = np.hypot(np.arange(rows)[:, None] / rows, np.arange(columns) / columns) * CYCLES
    for channel, share in enumerate(sensitivity(f)):
        opponent[..., channel] = idctn(dctn(opponent[..., channel], 2) * share, 2)
    return np.asarray(np.maximum(opponent @ np.linalg.inv(_OPPONENT).T, 0))


def cam16_ucs(xyz: Array) -> Array:
    """CAM16-UCS of XYZ (D65, Y of white 1): Li et al., Color Research and Application 42, 2017."""
    from colour.appearance import XYZ_to_CIECAM16

    with np.errstate(invalid="ignore"):
        look = XYZ_to_CIECAM16(xyz * 100, np.array(D65) * 100, 20, 20)
    J, M = (np.maximum(np.nan_to_num(each), 0) for each in (look.J, look.M))  # next to black there may be none
    M, h = np.log1p(0.0228 * M) / 0.0228, np.radians(look.h)
    return np.stack([1.7 * J / (1 + 0.007 * J), M * np.cos(h), M * np.sin(h)], axis=-1)


def difference(reference: Array, printed: Array, intent: Intent = "perceptual") -> float:
    """The difference of two pictures that `uniform` made."""
    return float(1 - likeness(reference, printed, intent).mean())


def likeness(reference: Array, printed: Array, intent: Intent = "perceptual") -> Array:
    """The product of the seven comparisons around every pixel, 1 where nothing differs; (h, w)."""
    c1, c2, c3, c4, c5, c6, c7 = WEIGHTS[intent]
    L, C = ((reference[..., 0], printed[..., 0]), tuple(np.hypot(p[..., 1], p[..., 2]) for p in (reference, printed)))
    mL1, mL2, vL1, vL2, covL = _moments(*L)
    mC1, mC2, vC1, vC2, covC = _moments(C[0], C[1])
    turned = ((reference[..., 1:] - printed[..., 1:]) ** 2).sum(axis=-1) - (C[0] - C[1]) ** 2
    dH = _around(np.sqrt(np.maximum(turned, 0)))
    sL, sC = np.sqrt(vL1 * vL2), np.sqrt(vC1 * vC2)
    return np.asarray(
        1 / (c1 * (mL1 - mL2) ** 2 + 1)
        * (c2 + 2 * sL) / (c2 + vL1 + vL2)
        * ((c3 + np.abs(covL)) / (c3 + sL)) ** 3
        / (c4 * (mC1 - mC2) ** 2 + 1)
        / (c5 * dH**2 + 1)
        * (c6 + 2 * sC) / (c6 + vC1 + vC2)
        * (c7 + np.abs(covC)) / (c7 + sC)
    )  # fmt: skip


def _around(values: Array) -> Array:
    """Weighted means in windows of 11 x 11: Gaussian, standard deviation 2, mirrored at the edges."""
    import cv2

    return np.asarray(cv2.GaussianBlur(values, (11, 11), 2, borderType=cv2.BORDER_REFLECT))


def _moments(x: Array, y: Array) -> tuple[Array, Array, Array, Array, Array]:
    """Means, variances and covariance in those windows."""
    mx, my = _around(x), _around(y)
    vx, vy = np.maximum(_around(x * x) - mx * mx, 0), np.maximum(_around(y * y) - my * my, 0)
    return mx, my, vx, vy, _around(x * y) - mx * my
