"""The sky after sunset, and the town that stands against it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from printprep.demo._paint import Floats, blurred, cloud, dabs, lch, over, resized, step
from printprep.demo._space import Camera

RAMP = (  # height above the horizon as a share of the picture's height; L*, C*, hue
    (-0.02, 74, 34, 66),
    (0.06, 72, 34, 62),
    (0.125, 66, 27, 52),
    (0.175, 58, 17, 20),
    (0.215, 50, 20, 302),
    (0.27, 40, 31, 282),
    (0.34, 29, 37, 280),
    (0.46, 18, 35, 284),
)


def backdrop(camera: Camera) -> Floats:
    """Sky and town over the whole canvas; painted at half its size, since all of it is smooth or far away.

    Returns
    -------
    (height, width, 3) ndarray of float32
        Linear ROMM RGB.
    """
    small = replace(camera, width=(camera.width + 1) // 2, height=(camera.height + 1) // 2)
    canvas = sky(small)
    town(canvas, small)
    return resized(canvas, camera.height, camera.width)


def sky(camera: Camera) -> Floats:
    """The sky over the whole canvas, with the glow on the left, thin cloud and the first stars.

    Returns
    -------
    (height, width, 3) ndarray of float32
        Linear ROMM RGB.
    """
    height, width = camera.height, camera.width
    small = (max(8, height // 6), max(12, width // 6))
    horizon = camera.centre[1]
    y = np.linspace(0, 1, small[0], dtype=np.float32)[:, None]
    x = np.linspace(0, width / height, small[1], dtype=np.float32)[None]
    up = y - horizon if camera.mirrored else horizon - y
    aside = x - 0.47
    level = up + 0.05 * aside**2 - 0.012
    keys = np.array([r[0] for r in RAMP])
    logs = np.log(np.stack([lch(*r[1:]) for r in RAMP]) + 1e-5)
    colour = np.empty((*small, 3), np.float32)
    for c in range(3):
        colour[..., c] = np.exp(np.interp(level, keys, logs[:, c]))
    colour = blurred(colour, small[0] * 0.018)
    _clouds(colour, x, up, aside)
    colour *= (1 - 0.28 * step(0.25, 0.9, np.abs(aside)))[..., None]
    full = resized(colour, height, width)
    if not camera.mirrored:
        _stars(full, camera)
    return full


def _clouds(colour: Floats, x: Floats, up: Floats, aside: Floats) -> None:
    """Long thin cloud: lit from below near the glow, darker than the sky higher up."""
    shape = colour.shape[:2]
    streaks = cloud(11, shape, (9, 3), 5, 0.62) + 0.5 * cloud(12, shape, (24, 5), 4, 0.6)
    place = np.exp(-(((up - 0.185 - 0.025 * np.sin(2.1 * x)) / 0.06) ** 2))
    amount = step(0.15, 1.9, streaks) * place * (0.75 + 0.25 * np.exp(-((aside / 0.5) ** 2)))
    warm = lch(60, 34, 38) * np.exp(-((aside / 0.42) ** 2))[..., None] + lch(33, 16, 300) * 0.8
    colour += amount[..., None] * 0.62 * (warm - colour)
    high = step(0.5, 2.4, cloud(13, shape, (5, 3), 5, 0.55)) * step(0.16, 0.3, up) * 0.35
    colour *= 1 - high[..., None] * np.array([0.35, 0.3, 0.25], np.float32)


def _stars(canvas: Floats, camera: Camera) -> None:
    rng = np.random.default_rng(21)
    count = 46
    height, width = camera.height, camera.width
    place = rng.uniform((0.02, 0.01), (width / height - 0.02, 0.27), (count, 2))
    bright = rng.pareto(2.2, count) * 0.5 + 0.25
    bright *= 1 - step(0.05, 0.28, place[:, 1])
    for (x, y), b in zip(place, bright, strict=True):
        scatter = rng.normal(0, height * 0.00034 * (1 + 0.25 * b), (260, 2)) + np.array([x, y]) * height
        dabs(
            canvas,
            scatter,
            np.full(260, 0.004 * min(b, 1.6) * (height / 1414) ** 2),
            np.tile(lch(97, 6, 275, 1.3), (260, 1)),
        )


def town(canvas: Floats, camera: Camera) -> None:
    """Hills, roofs and a tower with a few lit windows, far away and in haze; painted in place."""
    _ridge(canvas, camera, 31, 0.060, 0.020, lch(39, 20, 288), 0.6)
    _ridge(canvas, camera, 33, 0.034, 0.016, lch(25, 17, 284), 0.85)
    _roofs(canvas, camera)


def _ridge(canvas: Floats, camera: Camera, seed: int, top: float, rough: float, colour: Floats, cover: float) -> None:
    height, width = camera.height, camera.width
    line = cloud(seed, (4, width), (2, 7), 6, 0.5)[1] * rough + top
    _fill_up(canvas, camera, line, colour, cover, soft=height * 0.0008)


def _fill_up(canvas: Floats, camera: Camera, line: Floats, colour: Floats, cover: float, soft: float) -> None:
    """Fill from the horizon to a line given as heights, in picture heights."""
    height = camera.height
    horizon = camera.centre[1] * height
    reach = int(float(line.max()) * height) + 6
    rows = np.arange(-6, reach, dtype=np.float32)[:, None]
    alpha = np.clip(line[None] * height - rows + 0.5, 0, 1) * cover
    shade = colour * (1 + 0.45 * np.exp(-np.maximum(rows, 0) / (0.03 * height)))[..., None]
    paint = alpha[..., None] * np.broadcast_to(shade, (*alpha.shape, 3))
    if not camera.mirrored:
        alpha, paint = alpha[::-1], paint[::-1]
    alpha, paint = blurred(np.ascontiguousarray(alpha), soft), blurred(np.ascontiguousarray(paint), soft)
    top = round(horizon) - reach if not camera.mirrored else round(horizon) - 6
    over(canvas, top, 0, paint.astype(np.float32), alpha.astype(np.float32))


def _roofs(canvas: Floats, camera: Camera) -> None:
    rng = np.random.default_rng(35)
    height, width = camera.height, camera.width
    x = np.arange(width, dtype=np.float32) / height
    line = np.full(width, 0.012, np.float32)
    left, windows = 0.0, []
    while left < width / height:
        wide, tall = rng.uniform(0.028, 0.062), rng.uniform(0.022, 0.05)
        gable = rng.uniform(0.25, 0.5) * wide
        inside = (x >= left) & (x < left + wide)
        roof = tall + gable * (1 - np.abs(2 * (x - left) / wide - 1))
        line[inside] = np.maximum(line[inside], roof[inside])
        windows += [(left + wide * f, tall * g) for f in (0.3, 0.68) for g in (0.42, 0.78) if rng.random() < 0.34]
        left += wide * rng.uniform(0.78, 1.0)
    for place, wide, tall in ((0.775, 0.017, 0.125), (0.36, 0.012, 0.085)):
        tower = np.abs(x - place) < wide / 2
        spire = np.maximum(0, 1 - np.abs(x - place) / (wide * 0.62)) * wide * 2.6
        line = np.maximum(line, np.where(tower, tall, 0))
        line = np.maximum(line, np.where(spire > 0, tall - 0.004 + spire, 0))
    trees = cloud(37, (4, width), (2, 26), 5, 0.62)[1] * 0.008 + 0.066 + 0.005 * np.sin(5.1 * x + 0.6)
    line = np.maximum(line, trees)
    _fill_up(canvas, camera, line, lch(15, 13, 283), 0.97, soft=height * 0.0006)
    sign = 1 if camera.mirrored else -1
    for px, py in windows:
        spot = rng.uniform((-0.0016, -0.0024), (0.0016, 0.0024), (220, 2)) * height
        spot += ((px * height), (camera.centre[1] + sign * py) * height)
        dabs(canvas, spot, np.full(220, 0.07), np.tile(lch(72, 52, 72, 0.9), (220, 1)), soft=height * 0.0005)
