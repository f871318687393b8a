"""Running water: waves, and the scene that they break into streaks."""

from __future__ import annotations

import numpy as np

from printprep.demo._paint import Floats, blurred, cloud, lch, step
from printprep.demo._space import Camera

_TILE = 512


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
    import cv2

    height, width = camera.height, camera.width
    first = int(np.ceil(camera.centre[1] * height)) + 1
    down = (np.arange(first, height, dtype=np.float32) + 0.5) / height - camera.centre[1]
    across = (np.arange(width, dtype=np.float32) + 0.5) / height - camera.centre[0]
    z = (camera.focal * camera.eye / down)[:, None]
    x = across[None] * z / camera.focal
    z_all = np.broadcast_to(z, x.shape)
    footprint = z[:, 0] ** 2 / (camera.focal * camera.eye * height)  # metres along the view in one row
    slope_x, slope_z = np.zeros_like(x), np.zeros_like(x)
    rough = np.zeros_like(z)
    for seed, tile, longest, shortest, steep in ((5, 23.0, 0.3, 0.012, 0.020), (6, 3.7, 0.25, 0.010, 0.020)):
        sx, sz = _waves(seed, longest, shortest, steep)
        turn = 0.35 if seed == 5 else -0.2
        u = ((x * np.cos(turn) + z_all * np.sin(turn)) * (_TILE / tile)).astype(np.float32)
        w = ((z_all * np.cos(turn) - x * np.sin(turn)) * (_TILE / tile)).astype(np.float32)
        u %= _TILE
        w %= _TILE
        keep = np.exp(-((footprint / (0.05 * tile)) ** 2))[:, None]
        how = dict(interpolation=cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
        slope_x += keep * cv2.remap(sx, u, w, **how)
        slope_z += keep * cv2.remap(sz, u, w, **how)
        rough = rough + (1 - keep) * steep
    calm = 0.55 + 0.45 * np.clip(z / 12, 0, 1)
    beyond = np.where(z < far, far, 12 * far)
    reach = np.clip(1 - z / beyond, 0.05, 1) * calm
    shift_y = 2 * camera.focal * height * reach * slope_z
    shift_x = 2 * camera.focal * height * reach * slope_x * 0.35
    ratio = mirrored.shape[0] / height
    rows = (np.arange(first, height, dtype=np.float32) + 0.5)[:, None]
    horizon = camera.centre[1] * height
    map_y = ((horizon + np.abs(rows + shift_y - horizon)) * ratio - 0.5).astype(np.float32)
    map_x = ((np.arange(width, dtype=np.float32) + 0.5)[None] + shift_x) * ratio - 0.5
    map_x = np.asarray(map_x, np.float32)
    smooth = cv2.GaussianBlur(mirrored, (0, 0), sigmaX=0.6, sigmaY=max(1.0, 0.006 * mirrored.shape[0]))
    edge = dict(interpolation=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    seen = cv2.remap(mirrored, map_x, map_y, **edge)
    loose = cv2.remap(smooth, map_x, map_y, **edge)
    mix = np.clip(rough / 0.020 * reach, 0, 0.85)[..., None]
    seen += mix * (loose - seen)
    facing = np.clip(camera.eye / np.sqrt(camera.eye**2 + z**2 + x**2) - 1.0 * slope_z, 0, 1)
    share = (0.03 + 0.97 * (1 - facing) ** 5) ** 0.72
    drift = 1 + 0.10 * blurred(cloud(8, (64, 96), (7, 5), 3), 0.5)
    body = lch(7.5, 12, 235) * cv2.resize(drift, (width, height - first), interpolation=cv2.INTER_LINEAR)[..., None]
    place = canvas[first:]
    np.multiply(seen, share[..., None], out=place)
    place += body * (1 - share)[..., None] * (0.6 + 0.4 * step(0, 0.5, down))[:, None, None]
