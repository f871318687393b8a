"""Running water: waves, and the scene that they break into streaks."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import cache

import numpy as np

from printprep.demo._paint import Floats, blurred, cloud, lch, painted, resized, step
from printprep.demo._space import EYE, Camera

_TILE = 512
_LAYERS = (((9, 4), 0.020, 23.0, 0.35), ((11, 5), 0.024, 3.7, -0.2))
"""Waves along and across a square; their steepness; the square's side in metres; its turn."""


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
        wide = (resized(a.astype(np.float32), bottom - top, width) for a in (map_x, map_y, share, depth))
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
