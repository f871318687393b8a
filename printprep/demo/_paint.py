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


def encode(linear: Floats) -> NDArray[np.uint16]:
    """16-bit ROMM RGB codes of linear values 0..1, ISO 22028-2 (exponent 1.8, straight near black)."""
    import cv2

    curved = cv2.pow(np.clip(linear, 0, 1), 1 / 1.8)
    coded = np.where(linear < 0.001953125, np.clip(linear, 0, 1) * 16, curved)
    return np.asarray(np.rint(coded * 65535), np.uint16)


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
    total = np.zeros(shape, np.float32)
    power = 0.0
    for octave in range(octaves):
        down, across = (max(2, round(c * 2**octave)) for c in cells)
        grain = rng.standard_normal((down, across), np.float32)  # drawn even if left out: same noise at any size
        if octave and (down > 2 * shape[0] or across > 2 * shape[1]):
            break
        weight = fall**octave
        total += weight * cv2.resize(grain, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
        power += weight**2
    return total / np.float32(0.75 * np.sqrt(power))


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


def over(canvas: Floats, top: int, left: int, colour: Floats, alpha: Floats) -> None:
    """Lay paint (already multiplied by its own coverage) over a part of the canvas, in place."""
    height, width = alpha.shape
    y0, x0 = max(0, top), max(0, left)
    y1, x1 = min(canvas.shape[0], top + height), min(canvas.shape[1], left + width)
    if y0 >= y1 or x0 >= x1:
        return
    part = np.s_[y0 - top : y1 - top, x0 - left : x1 - left]
    place = canvas[y0:y1, x0:x1]
    place *= 1 - alpha[part][..., None]
    place += colour[part]


def dabs(canvas: Floats, xy: ArrayLike, area: ArrayLike, colour: ArrayLike, *, soft: float = 0.0, solid: bool = False) -> None:
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
    """
    xy, area = np.asarray(xy, np.float32).reshape(-1, 2), np.asarray(area, np.float32).reshape(-1)
    colour = np.asarray(colour, np.float32).reshape(-1, 3)
    margin = int(3 * soft) + 2
    height, width = canvas.shape[:2]
    good = (xy[:, 0] > -margin) & (xy[:, 0] < width + margin) & (xy[:, 1] > -margin) & (xy[:, 1] < height + margin)
    if not good.all():
        xy, area, colour = xy[good], area[good], colour[good]
    if not len(xy):
        return
    left, top = np.floor(xy.min(axis=0)).astype(int) - margin
    right, bottom = np.ceil(xy.max(axis=0)).astype(int) + margin
    cols, rows = int(right - left), int(bottom - top)
    place = ((xy[:, 1] - top).astype(np.int32) * cols + (xy[:, 0] - left).astype(np.int32))
    coat = np.empty((rows, cols, 4), np.float32)
    coat[..., 3] = np.bincount(place, area, rows * cols).reshape(rows, cols)
    for c in range(3):
        coat[..., c] = np.bincount(place, area * colour[:, c], rows * cols).reshape(rows, cols)
    if solid:
        cover = step(0.05, 0.80, coat[..., 3:])
        coat[..., :3] *= cover / np.maximum(coat[..., 3:], 1e-3)
        coat[..., 3:] = cover
    else:
        coat /= np.maximum(coat[..., 3:], 1)
    coat = blurred(coat, soft)
    over(canvas, int(top), int(left), coat[..., :3], coat[..., 3])
