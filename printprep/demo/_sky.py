"""The sky after sunset, and the hills that stand against it."""

from __future__ import annotations

import numpy as np

from printprep.demo._matter import uv
from printprep.demo._paint import Floats, blurred, cloud, lch, painted, step
from printprep.demo._space import Camera, Part, Texture, flat

_RAMP = (  # height above the horizon as a share of the picture's height; L*, C*, hue
    (-0.02, 74, 34, 66),
    (0.06, 72, 34, 62),
    (0.125, 66, 27, 52),
    (0.175, 58, 17, 20),
    (0.215, 50, 20, 302),
    (0.27, 40, 31, 282),
    (0.34, 29, 37, 280),
    (0.46, 18, 35, 284),
)
_FAR = 4000.0
"""Metres to the hills."""


def sky(canvas: Floats, camera: Camera) -> None:
    """Paint the sky where it can be seen, with the glow on the left and thin cloud; in place."""
    import cv2

    height, width = canvas.shape[:2]
    horizon = round(camera.centre[1] * height)
    rows = slice(max(0, horizon - 4), height) if camera.mirrored else slice(0, min(height, horizon + 4))
    here = canvas[rows]
    small = (max(8, len(here) // 6), max(12, width // 6))
    x, y = uv(small)
    x = x * (width / height)
    up = (y * len(here) + (rows.start - horizon)) / height * (1 if camera.mirrored else -1)
    aside = x - 0.47
    level = up + 0.05 * aside**2 - 0.012
    logs = np.log(np.stack([lch(*r[1:]) for r in _RAMP]) + 1e-5)
    colour = np.stack([np.exp(np.interp(level, [r[0] for r in _RAMP], log)) for log in logs.T], -1).astype(np.float32)
    colour = blurred(colour, height / 6 * 0.018)
    streaks = cloud(11, small, (4, 3), 5, 0.62) + 0.5 * cloud(12, small, (10, 5), 4, 0.6)
    place = np.exp(-(((up - 0.185 - 0.025 * np.sin(2.1 * x)) / 0.06) ** 2))
    amount = step(0.15, 1.9, streaks) * place * (0.75 + 0.25 * np.exp(-((aside / 0.5) ** 2))) * 0.62
    warm = painted(np.exp(-((aside / 0.42) ** 2)), lch(60, 34, 38)) + lch(33, 16, 300) * 0.8
    colour += painted(amount) * (warm - colour)  # lit from below near the glow, darker than the sky higher up
    colour *= painted(1 - 0.28 * step(0.25, 0.9, np.abs(aside)))
    cv2.resize(colour, here.shape[1::-1], dst=here, interpolation=cv2.INTER_LINEAR)


def hills() -> Part:
    """Hills and woods far away and in haze."""
    tall = 0.16 * _FAR / 1.25
    return Part(flat((-0.64 * _FAR, -40, _FAR), (1.28 * _FAR, 0, 0), (0, tall + 40, 0), 12, 40), _ridges, glows=True)


def _ridges(size: tuple[int, int], metres: tuple[float, float]) -> Texture:
    share = 1.25 / _FAR  # of the picture's height, for a metre
    down = uv(size)[1]
    up = ((1 - down) * metres[0] - 40) * share
    soft = 1.5 * metres[0] * share / size[0]
    hill = 0.066 + 0.020 * cloud(31, (2, size[1]), (2, 8), 6)[0]
    trees = 0.056 + 0.008 * cloud(37, (2, size[1]), (2, 34), 5, 0.62)[0]
    haze, woods = 0.7 * step(-soft, soft, hill - up), step(-soft, soft, trees - up)
    near = woods * (1 + 0.45 * np.exp(-np.maximum(up, 0) / 0.03))  # thicker haze over the water
    colour = painted(1 - woods, lch(30, 18, 286)) + painted(near, lch(15, 13, 283))
    return Texture(colour, cover=np.maximum(haze, woods))
