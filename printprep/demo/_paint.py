"""Paint and brushes: colours in linear ROMM RGB, noise, soft compositing, dabs of surface."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.colour.lab import xyz_from_lab

Floats = NDArray[np.floating[Any]]

_XYZ_FROM_ROMM = np.array(  # ISO 22028-2 primaries, white at the profile connection space's D50
    [[0.7976749, 0.1351917, 0.0313334], [0.2880402, 0.7118741, 0.0000857], [0.0, 0.0, 0.8249]]
)
_ROMM_FROM_XYZ = np.linalg.inv(_XYZ_FROM_ROMM)


def lch(lightness: float, chroma: float, hue: float, light: float = 1.0) -> Floats:
    """Linear ROMM RGB of a colour given as people think of it.

    Parameters
    ----------
    lightness, chroma, hue : float
        CIELAB L*, C*ab and hue angle in degrees, D50.
    light : float
        Factor on the linear values, for lights brighter than white.

    Returns
    -------
    (3,) ndarray of float32
        Linear ROMM RGB, white = 1; what lies outside is cut to zero.
    """
    angle = np.radians(hue)
    xyz = xyz_from_lab(np.array([lightness, chroma * np.cos(angle), chroma * np.sin(angle)]))
    return np.asarray(np.clip(_ROMM_FROM_XYZ @ xyz, 0, None) * light, np.float32)


def encode(linear: Floats) -> NDArray[np.floating[Any]]:
    """ROMM RGB values, 0..1, of linear ones: ISO 22028-2, exponent 1.8, straight near black."""
    clipped = np.clip(linear, 0, 1)
    return np.asarray(np.where(clipped < 0.001953125, clipped * 16, clipped ** (1 / 1.8)))


def cloud(seed: int, shape: tuple[int, int], cells: tuple[float, float], octaves: int, fall: float = 0.5) -> Floats:
    """Fractal noise, mean about 0 and standard deviation about 1.

    Parameters
    ----------
    seed : int
        Equal seeds give equal noise.
    shape : tuple of int
        Height and width of the result.
    cells : tuple of float
        How many features the coarsest octave has down and across.
    octaves : int
        Each has twice the features of the one before; those finer than a pixel are left out.
    fall : float
        Amplitude of an octave against the one before.
    """
    import cv2

    rng = np.random.default_rng(seed)
    total: Floats = np.zeros((2, 2), np.float32)
    power = 0.0
    for octave in range(octaves):
        down, across = (max(2, round(c * 2**octave)) for c in cells)
        if octave and (down > 2 * shape[0] or across > 2 * shape[1]):
            break
        weight = fall**octave
        total = cv2.resize(total, (across, down), interpolation=cv2.INTER_CUBIC)
        total += np.float32(weight) * rng.standard_normal((down, across), np.float32)
        power += weight**2
    smaller = total.shape[0] > shape[0] and total.shape[1] > shape[1]
    how = cv2.INTER_AREA if smaller else cv2.INTER_CUBIC
    total = cv2.resize(total, (shape[1], shape[0]), interpolation=how)
    return np.asarray(total / np.float32(0.75 * np.sqrt(power)), np.float32)


def step(low: float, high: float, x: Any) -> Any:
    """A soft step from 0 at `low` to 1 at `high` (a cubic with flat ends)."""
    t = np.clip((x - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


def blurred(picture: Floats, sigma: float) -> Floats:
    """Gaussian blur, the deviation in pixels; none below 0.3."""
    import cv2

    if sigma < 0.3:
        return picture
    return np.asarray(cv2.GaussianBlur(picture, (0, 0), sigma), np.float32)


def resized(picture: Floats, height: int, width: int) -> Floats:
    """The picture at another size: averaged when smaller, cubic when larger."""
    import cv2

    smaller = height < picture.shape[0]
    how = cv2.INTER_AREA if smaller else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(picture, (width, height), interpolation=how), np.float32)


def tripled(plane: Floats) -> Floats:
    """One plane as three equal channels: far quicker to multiply with than by broadcasting."""
    import cv2

    plane = np.ascontiguousarray(plane, np.float32)
    return np.asarray(cv2.merge((plane, plane, plane)), np.float32)


def over(canvas: Floats, top: int, left: int, colour: Floats, alpha: Floats) -> None:
    """Lay paint (already multiplied by its own coverage) over a part of the canvas, in place."""
    import cv2

    height, width = alpha.shape
    y0, x0 = max(0, top), max(0, left)
    y1, x1 = min(canvas.shape[0], top + height), min(canvas.shape[1], left + width)
    if y0 >= y1 or x0 >= x1:
        return
    part = np.s_[y0 - top : y1 - top, x0 - left : x1 - left]
    place = canvas[y0:y1, x0:x1]
    kept = cv2.multiply(place, tripled(1 - alpha[part]))
    np.add(kept, colour[part], out=place)


def dabs(
    canvas: Floats,
    xy: ArrayLike,
    area: ArrayLike,
    colour: ArrayLike,
    *,
    soft: float = 0.0,
    solid: bool = False,
    coarse: int = 1,
) -> None:
    """Lay many small dabs as one coat: they share a pixel by the area each covers.

    Parameters
    ----------
    canvas : (height, width, 3) ndarray
        Painted on in place.
    xy : (n, 2) array_like
        Places in pixels, x to the right and y down.
    area : (n,) array_like
        Pixels that each dab covers; where they sum to one or more, the coat hides what is below.
    colour : (n, 3) array_like
        Linear colour of each dab.
    soft : float
        Blur of the coat in pixels, as out of focus.
    solid : bool
        The dabs form one closed surface: small gaps between them are filled.
    coarse : int
        Gather the dabs on a grid of so many pixels a side, for coats that are out of focus anyway.
    """
    import cv2

    place = np.asarray(xy, np.float32).reshape(-1, 2) / np.float32(coarse)
    x, y = np.ascontiguousarray(place[:, 0]), np.ascontiguousarray(place[:, 1])
    part, shade = np.asarray(area, np.float32).reshape(-1) / np.float32(coarse**2), np.asarray(colour, np.float32)
    shade, soft = shade.reshape(-1, 3), soft / coarse
    margin = int(3 * soft) + 2
    height, width = -(-canvas.shape[0] // coarse), -(-canvas.shape[1] // coarse)
    if not len(x) or x.max() < -margin or y.max() < -margin or x.min() > width + margin or y.min() > height + margin:
        return
    if x.min() < -margin or y.min() < -margin or x.max() > width + margin or y.max() > height + margin:
        good = (x > -margin) & (x < width + margin) & (y > -margin) & (y < height + margin)
        x, y, part, shade = x[good], y[good], part[good], shade[good]
        if not len(x):
            return
    left, top = int(np.floor(x.min())) - margin, int(np.floor(y.min())) - margin
    cols, rows = int(np.ceil(x.max())) + margin - left, int(np.ceil(y.max())) + margin - top
    at = (y - top).astype(np.int32) * cols + (x - left).astype(np.int32)
    coat = np.empty((rows, cols, 4), np.float32)
    coat[..., 3] = np.bincount(at, part, rows * cols).reshape(rows, cols)
    for c in range(3):
        coat[..., c] = np.bincount(at, part * shade[:, c], rows * cols).reshape(rows, cols)
    if solid:
        cover = step(0.02, 0.42, coat[..., 3:])
        coat[..., :3] *= cover / np.maximum(coat[..., 3:], 1e-3)
        coat[..., 3:] = cover
    else:
        coat /= np.maximum(coat[..., 3:], 1)
    coat = blurred(coat, soft)
    if coarse > 1:
        coat = cv2.resize(coat, (cols * coarse, rows * coarse), interpolation=cv2.INTER_LINEAR)
    over(canvas, top * coarse, left * coarse, coat[..., :3], coat[..., 3])
