"""Running water: waves, and the scene that they break into streaks."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np

from printprep.demo._paint import Floats, cloud, lch, resized, step, tripled
from printprep.demo._space import Camera

_TILE = 512
_LAYERS = (
    (5, 0.3, 0.012, 0.020, 23.0, 0.35),
    (6, 0.25, 0.010, 0.020, 3.7, -0.2),
)
"""Seed; longest and shortest wave as shares of the square; steepness; side of the square in metres; its turn."""


def _waves(seed: int, longest: float, shortest: float, steep: float) -> tuple[Floats, Floats]:
    """Slopes across and along the view of one repeating square of waves.

    Parameters
    ----------
    seed : int
        Equal seeds give equal waves.
    longest, shortest : float
        Wave lengths as shares of the square's side.
    steep : float
        Standard deviation of the slope along the view.
    """
    rng = np.random.default_rng(seed)
    k = np.fft.fftfreq(_TILE, 1 / _TILE)
    kz, kx = np.meshgrid(k, k, indexing="ij")
    size = np.hypot(kx, kz)
    size[0, 0] = 1
    band = np.exp(-((shortest * size / 1.0) ** 2)) * (size > 0.8 / longest)
    along = np.abs(kz) / size
    amount = size**-2.1 * band * (0.25 + along**2)
    height = np.fft.fft2(rng.standard_normal((_TILE, _TILE))) * amount
    slope_z = np.fft.ifft2(1j * kz * height).real
    slope_x = np.fft.ifft2(1j * kx * height).real
    scale = steep / slope_z.std()
    return (slope_x * scale).astype(np.float32), (slope_z * scale).astype(np.float32)


def water(canvas: Floats, mirrored: Floats, camera: Camera, far: float) -> None:
    """Paint the river over everything below the horizon, in place.

    Parameters
    ----------
    canvas : (height, width, 3) ndarray
        Linear RGB.
    mirrored : (h, w, 3) ndarray
        The scene upside down, as a flat river would show it, at any resolution.
    camera : Camera
        Of the canvas.
    far : float, metres
        Distance of what is mostly mirrored.
    """
    height = camera.height
    first = int(np.ceil(camera.centre[1] * height)) + 1
    waves = [(_waves(seed, *shape), tile, turn) for seed, *shape, tile, turn in _LAYERS]
    source = _loosened(mirrored, camera, far)
    cuts = np.linspace(first, height, 5).astype(int)
    with ThreadPoolExecutor() as pool:
        list(pool.map(lambda k: _band(canvas, source, camera, far, waves, int(cuts[k]), int(cuts[k + 1])), range(4)))


def _reach(z: Floats, far: float) -> Floats:
    """How far a slope throws the mirrored picture: little where the mirrored things stand close behind."""
    beyond = far * (1 + 11 * step(0.8 * far, 1.3 * far, z))
    return np.asarray(np.clip(1 - z / beyond, 0.25, 1) * (0.55 + 0.45 * np.clip(z / 12, 0, 1)))


def _loosened(mirrored: Floats, camera: Camera, far: float) -> Floats:
    """The mirrored scene, drawn out downwards where waves are finer than a pixel."""
    import cv2

    rows = mirrored.shape[0]
    down = np.maximum((np.arange(rows, dtype=np.float32) + 0.5) / rows - camera.centre[1], 1e-4)
    z = camera.focal * camera.eye / down
    footprint = z**2 / (camera.focal * camera.eye * camera.height)
    rough = sum((1 - np.exp(-((footprint / (0.05 * tile)) ** 2))) * steep for _, _, _, steep, tile, _ in _LAYERS)
    mix = np.clip(rough / 0.020 * _reach(z, far), 0, 0.85)[:, None, None]
    smooth = cv2.GaussianBlur(mirrored, (0, 0), sigmaX=0.6, sigmaY=max(1.0, 0.006 * rows))
    return np.asarray(mirrored + mix * (smooth - mirrored), np.float32)


def _band(
    canvas: Floats,
    source: Floats,
    camera: Camera,
    far: float,
    waves: list[tuple[tuple[Floats, Floats], float, float]],
    top: int,
    bottom: int,
) -> None:
    """Some rows of the river; waves are worked out for every second pixel."""
    import cv2

    height, width = camera.height, camera.width
    horizon = camera.centre[1] * height
    small = (max(2, (width + 1) // 2), max(2, (bottom - top + 1) // 2))
    rows = np.linspace(top + 0.5, bottom - 0.5, small[1], dtype=np.float32)[:, None]
    cols = np.linspace(0.5, width - 0.5, small[0], dtype=np.float32)[None]
    z = camera.focal * camera.eye * height / (rows - horizon)
    x = (cols / height - camera.centre[0]) * z / camera.focal
    footprint = z**2 / (camera.focal * camera.eye * height)  # metres along the view in one row
    slope_x, slope_z = np.zeros(x.shape, np.float32), np.zeros(x.shape, np.float32)
    for (sx, sz), tile, turn in waves:
        u = (x * np.cos(turn) + z * np.sin(turn)) * np.float32(_TILE / tile)
        w = (z * np.cos(turn) - x * np.sin(turn)) * np.float32(_TILE / tile)
        across, along = (np.mod(a, _TILE).astype(np.float32) for a in (u, w))
        keep = np.exp(-((footprint / (0.05 * tile)) ** 2))
        slope_x += keep * cv2.remap(sx, across, along, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
        slope_z += keep * cv2.remap(sz, across, along, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
    thrown = 2 * camera.focal * height * _reach(z, far)
    ratio = source.shape[0] / height
    map_y = (horizon + np.abs(rows + thrown * slope_z - horizon)) * ratio - 0.5
    map_x = (cols + 0.35 * thrown * slope_x) * ratio - 0.5
    facing = np.clip(camera.eye / np.sqrt(camera.eye**2 + z**2 + x**2) - slope_z, 0, 1)
    share = (0.03 + 0.97 * (1 - facing) ** 5) ** 0.72
    drift = resized(cloud(8, (64, 96), (7, 5), 3), *x.shape) * 0.10 + 1
    depth = drift * (1 - share) * (0.6 + 0.4 * step(0, 0.5, rows / height - camera.centre[1]))
    size = (bottom - top, width)
    wide_x, wide_y, mirror, below = (resized(a.astype(np.float32), *size) for a in (map_x, map_y, share, depth))
    seen = cv2.remap(source, wide_x, wide_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    seen *= tripled(mirror)
    np.add(seen, tripled(below) * lch(7.5, 12, 235), out=canvas[top:bottom])
