"""Paint: colours in linear ROMM RGB, noise, soft edges, one coat over another."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Any

import numpy as np

from printprep.colour.lab import Floats, xyz_from_lab

_XYZ_FROM_ROMM = np.array(  # ISO 22028-2 primaries, white at the profile connection space's D50
    [[0.7976749, 0.1351917, 0.0313334], [0.2880402, 0.7118741, 0.0000857], [0.0, 0.0, 0.8249]]
)
_ROMM_FROM_XYZ = np.linalg.inv(_XYZ_FROM_ROMM)


@cache
def lch(lightness: float, chroma: float, hue: float, light: float = 1.0) -> Floats:
    """Linear ROMM RGB, white = 1, of CIELAB L*, C*ab and hue in degrees (D50), times a factor; cut at zero."""
    angle = np.radians(hue)
    xyz = xyz_from_lab(np.array([lightness, chroma * np.cos(angle), chroma * np.sin(angle)]))
    rgb = np.asarray(np.clip(_ROMM_FROM_XYZ @ xyz, 0, None) * light, np.float32)
    rgb.flags.writeable = False
    return rgb


def cloud(seed: int, shape: tuple[int, int], cells: tuple[float, float], octaves: int, fall: float = 0.5) -> Floats:
    """Fractal noise, mean about 0 and standard deviation about 1.

    `cells`: how many features the coarsest octave has down and across. Each octave has twice as many, and `fall`
    times the amplitude, of the one before; those finer than a pixel are left out.
    """
    import cv2

    rng = np.random.default_rng(seed)
    total: Floats = np.zeros((2, 2), np.float32)
    power = 0.0
    for octave in range(octaves):
        down, across = (max(2, round(c * 2**octave)) for c in cells)
        if octave and (down > 1.4 * shape[0] or across > 1.4 * shape[1]):
            break
        weight = fall**octave
        total = cv2.resize(total, (across, down), interpolation=cv2.INTER_LINEAR)
        total += np.float32(weight) * rng.standard_normal((down, across), np.float32)
        power += weight**2
    total *= np.float32(1 / (0.75 * np.sqrt(power)))
    smaller = total.shape[0] > shape[0] and total.shape[1] > shape[1]
    much = shape[0] > 3 * total.shape[0] or shape[1] > 3 * total.shape[1]
    how = cv2.INTER_AREA if smaller else cv2.INTER_CUBIC if much else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(total, (shape[1], shape[0]), interpolation=how), np.float32)


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


def at_size(picture: Floats, height: int, width: int) -> Floats:
    """The picture at another size: averaged when smaller, straight between pixels when larger."""
    import cv2

    smaller = height < picture.shape[0] or width < picture.shape[1]
    how = cv2.INTER_AREA if smaller else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(picture, (width, height), interpolation=how), np.float32)


def painted(plane: Floats, colour: Iterable[float] = (1, 1, 1)) -> Floats:
    """A plane (h, w) times a colour, (h, w, 3): far quicker than by broadcasting."""
    import cv2

    plane = np.ascontiguousarray(plane, np.float32)
    return np.asarray(cv2.merge([plane if part == 1 else plane * np.float32(part) for part in colour]))


def over(canvas: Floats, top: int, left: int, colour: Floats, alpha: Floats) -> None:
    """Lay paint over a part of the canvas, in place; what lies beyond the canvas is left out."""
    import cv2

    height, width = alpha.shape
    y0, x0 = max(0, top), max(0, left)
    y1, x1 = min(canvas.shape[0], top + height), min(canvas.shape[1], left + width)
    if y0 >= y1 or x0 >= x1:
        return
    part = np.s_[y0 - top : y1 - top, x0 - left : x1 - left]
    place, share = canvas[y0:y1, x0:x1], np.ascontiguousarray(alpha[part], np.float32)
    canvas[y0:y1, x0:x1] = cv2.blendLinear(place, np.ascontiguousarray(colour[part], np.float32), 1 - share, share)
