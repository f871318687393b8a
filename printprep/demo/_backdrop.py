"""What the scene stands before: the sky after sunset, hills, and the running water that mirrors it."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import cache

import numpy as np

from printprep.colour.lab import Floats
from printprep.demo._matter import uv
from printprep.demo._paint import at_size, blurred, cloud, lch, painted, step
from printprep.demo._space import EYE, Camera, Prop, Texture, flat

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
_TILE = 512
_LAYERS = (((9, 4), 0.020, 23.0, 0.35), ((11, 5), 0.024, 3.7, -0.2))
"""Waves along and across a square; their steepness; the square's side in metres; its turn."""


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


def hills() -> Prop:
    """Hills and woods far away and in haze."""
    tall = 0.16 * _FAR / 1.25
    return Prop(flat((-0.64 * _FAR, -40, _FAR), (1.28 * _FAR, 0, 0), (0, tall + 40, 0), 12, 40), _ridges, glows=True)


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


@cache
def _waves(cells: tuple[float, float], steep: float) -> tuple[Floats, Floats]:
    """Slopes across and along the view of one square of waves."""
    slope_z, slope_x = np.gradient(blurred(cloud(5, (_TILE, _TILE), cells, 5, 0.42), 2))
    scale = steep / slope_z.std()
    return slope_x * scale, slope_z * scale


def water(canvas: Floats, mirrored: Floats, camera: Camera, far: float, pool: ThreadPoolExecutor) -> None:
    """Paint the river below the horizon, in place, from the scene upside down at any size, most of it so `far`."""
    import cv2

    height, width = camera.height, camera.width
    horizon, ratio = camera.centre[1] * height, len(mirrored) / height
    first = int(np.ceil(horizon)) + 1
    source = cv2.GaussianBlur(mirrored, (0, 0), sigmaX=0.6, sigmaY=max(0.6, 0.002 * len(mirrored)))

    def band(top: int) -> None:  # waves are worked out for every second pixel
        bottom = min(height, top + 256)
        small = (max(2, (width + 1) // 2), max(2, (bottom - top + 1) // 2))
        rows = np.linspace(top + 0.5, bottom - 0.5, small[1], dtype=np.float32)[:, None]
        cols = np.linspace(0.5, width - 0.5, small[0], dtype=np.float32)[None]
        z = camera.focal * EYE * height / (rows - horizon)
        x = (cols / height - camera.centre[0]) * z / camera.focal
        slope_x, slope_z = _slopes(x, z, z**2 / (camera.focal * EYE * height))
        thrown = 2 * camera.focal * height * _reach(z, far)
        map_y = (horizon + np.abs(rows + thrown * slope_z - horizon)) * ratio - 0.5
        map_x = (cols + 0.35 * thrown * slope_x) * ratio - 0.5
        facing = np.clip(EYE / np.sqrt(EYE**2 + z**2 + x**2) - slope_z, 0, 1)
        share = (0.03 + 0.97 * (1 - facing) ** 5) ** 0.78
        depth = (1 - share) * (0.6 + 0.4 * step(0, 0.5, rows / height - camera.centre[1]))
        wide = (at_size(a.astype(np.float32), bottom - top, width) for a in (map_x, map_y, share, depth))
        wide_x, wide_y, mirror, below = wide
        seen = cv2.remap(source, wide_x, wide_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
        seen *= painted(mirror)
        np.add(seen, painted(below, lch(7.5, 12, 235)), out=canvas[top:bottom])

    list(pool.map(band, range(first, height, 256)))


def _reach(z: Floats, far: float) -> Floats:
    """How far a slope throws the mirrored picture: little where the mirrored things stand close behind."""
    beyond = far * (1 + 11 * step(0.8 * far, 1.3 * far, z))
    return np.asarray(np.clip(1 - z / beyond, 0.25, 1) * (0.55 + 0.45 * np.clip(z / 12, 0, 1)))


def _slopes(x: Floats, z: Floats, footprint: Floats) -> tuple[Floats, Floats]:
    """Slopes of the water at places; waves finer than the `footprint` of a row, in metres, are left out."""
    import cv2

    slope_x, slope_z = np.zeros(x.shape, np.float32), np.zeros(x.shape, np.float32)
    for cells, steep, tile, turn in _LAYERS:
        across = ((x * np.cos(turn) + z * np.sin(turn)) * (_TILE / tile)).astype(np.float32)
        along = ((z * np.cos(turn) - x * np.sin(turn)) * (_TILE / tile)).astype(np.float32)
        keep = np.exp(-((footprint / (0.05 * tile)) ** 2))
        for slope, wave in zip((slope_x, slope_z), _waves(cells, steep), strict=True):
            slope += keep * cv2.remap(wave, across, along, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    return slope_x, slope_z
