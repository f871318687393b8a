"""A stone bridge across the river, and those who watch from it."""

from __future__ import annotations

import numpy as np

from printprep.demo._matter import masonry
from printprep.demo._paint import Floats, dabs, lch, step
from printprep.demo._space import Camera, Dabs, Light, Quad, Texture, panel, sheet

DEPTH = 26.0
"""Metres from the camera to the bridge's face."""
_LEFT, _RIGHT, _TOP = -11.0, 15.0, 5.7
ARCHES = ((-1.15, 2.35, 3.0), (4.65, 2.75, 3.45), (10.6, 2.35, 3.0))
"""Middle, half width and height of the openings, metres."""


def deck(x: Floats | float) -> Floats:
    """Height of the parapet's top over the water, metres: a gentle hump."""
    return np.asarray(4.55 + 0.75 * np.cos(np.clip((np.asarray(x, np.float32) - 4.65) / 11.5, -1, 1) * np.pi / 2))


def bridge(light: Light, height: int) -> list[Quad | Dabs]:
    """The bridge as lit: inside of the arches first, then the face.

    Parameters
    ----------
    light : Light
        What shines on it.
    height : int
        Height of the picture, pixels; sets how fine the stone is.
    """
    scale = max(6.0, 1.25 * height / DEPTH * 1.15)  # texture pixels for one metre
    rows, cols = int(_TOP * scale), int((_RIGHT - _LEFT) * scale)
    x = np.linspace(_LEFT, _RIGHT, cols, dtype=np.float32)[None]
    y = np.linspace(_TOP, 0, rows, dtype=np.float32)[:, None]
    wall = masonry(41, (rows, cols), (_TOP, _RIGHT - _LEFT), (0.30, 0.62), wet=0.9, joint=0.022)
    albedo, relief = wall.albedo, wall.relief
    assert relief is not None
    cover = step(-0.02, 0.02, deck(x) - y)
    ring_tone = np.ones((rows, cols), np.float32)
    for middle, half, tall in ARCHES:
        around = np.hypot((x - middle) / half, y / tall)
        outside = (around - 1) * (half + tall) / 2
        angle = np.arctan2(y / tall, (x - middle) / half)
        stones = 19
        joint = np.abs((angle / np.pi * stones) % 1 - 0.5)
        ring = step(-0.01, 0.02, outside) * (1 - step(0.46, 0.49, outside))
        tone = np.random.default_rng(int(middle * 10) + 90).uniform(0.8, 1.25, stones + 2).astype(np.float32)
        own = tone[np.clip((angle / np.pi * stones).astype(int) % stones, 0, stones)]
        stone = lch(58, 9, 80) * (own * (0.35 + 0.65 * step(0.0, 0.06, 0.5 - joint)))[..., None]
        stone = stone * (1 - 0.6 * step(0.8, 0.2, y) * np.ones_like(x))[..., None]
        albedo = albedo * (1 - ring[..., None]) + stone * ring[..., None]
        ring_tone *= 1 - 0.45 * np.exp(-((outside - 0.50) / 0.05) ** 2) * (outside > 0)
        cover = cover * step(-0.015, 0.015, outside)
    below = deck(x) - y
    course = np.exp(-(((below - 0.98) / 0.055) ** 2))
    coping = step(0.17, 0.15, below)
    albedo = albedo * (1 + 0.45 * course + 0.30 * coping)[..., None] * ring_tone[..., None]
    albedo *= (1 - 0.5 * np.exp(-(((below - 1.12) / 0.06) ** 2)) - 0.4 * np.exp(-(((below - 0.20) / 0.03) ** 2)))[..., None]
    relief = relief + scale * 0.04 * (course + coping)
    face = Texture(albedo.astype(np.float32), relief.astype(np.float32), cover.astype(np.float32))
    along, up = (_RIGHT - _LEFT, 0, 0), (0, _TOP, 0)
    parts: list[Quad | Dabs] = []
    for middle, half, tall in ARCHES:
        parts.append(_barrel(light, middle, half, tall, height))
    parts.append(panel(light, (_LEFT, 0, DEPTH), along, up, face, outward=(0, 0, -1), shade=0.8))
    return parts


def _barrel(light: Light, middle: float, half: float, tall: float, height: int) -> Dabs:
    t = np.linspace(0, np.pi, 40, dtype=np.float32)[:, None]
    back = np.linspace(0, 3.6, 10, dtype=np.float32)[None]
    points = np.stack(
        np.broadcast_arrays(middle + half * np.cos(t), tall * np.sin(t), DEPTH + back), axis=-1
    ).astype(np.float32)
    rows, cols = max(40, int(height * 0.62)), max(12, int(height * 0.09))
    stone = masonry(47, (rows, cols), (8.0, 3.6), (0.42, 0.8)).albedo
    shade = (0.45 - 0.1 * back + 0 * t).astype(np.float32)
    return sheet(light, points, stone * 0.8, outward=(0.0, -1.0, 0.0), shade=np.clip(shade, 0.1, 1))


def watchers(canvas: Floats, camera: Camera, light: Light) -> None:
    """People at the parapet, some with a small lantern: soft shapes, painted in place."""
    rng = np.random.default_rng(51)
    coats = ((20, 10, 285), (17, 14, 30), (24, 8, 90), (15, 12, 320), (28, 14, 60), (19, 14, 180))
    skin = ((66, 24, 62), (52, 27, 60), (38, 22, 58), (60, 26, 58), (45, 26, 60))
    x = -3.6
    while x < 10.5:
        x += float(rng.choice((0.48, 0.55, 0.9, 1.6, 2.3), p=(0.3, 0.2, 0.2, 0.2, 0.1)))
        tall = float(rng.uniform(0.42, 0.74))
        lean = float(rng.normal(0, 0.05))
        side = float(rng.uniform(-0.5, 0.5))
        base = float(deck(x)) - 0.05
        coat, face = coats[rng.integers(len(coats))], skin[rng.integers(len(skin))]
        place = np.array([x, base, DEPTH + 0.5], np.float32)
        _figure(canvas, camera, light, place, tall, lean, side, lch(*coat), lch(*face), rng)


def _figure(
    canvas: Floats,
    camera: Camera,
    light: Light,
    place: Floats,
    tall: float,
    lean: float,
    side: float,
    coat: Floats,
    face: Floats,
    rng: np.random.Generator,
) -> None:
    """Head, neck and shoulders above the parapet, as dabs lit from their side."""
    count = max(800, int(camera.height * 2.2))
    a = rng.uniform(0, 2 * np.pi, count)
    r = np.sqrt(rng.uniform(0, 1, count))
    head = np.stack([0.098 * r * np.cos(a) + lean, tall + 0.13 * r * np.sin(a)], axis=-1)
    bulge = np.stack([r * np.cos(a), r * np.sin(a), np.sqrt(1 - r**2)], axis=-1)
    body_v = rng.uniform(0, 1, 3 * count)
    width = 0.215 * (1 - np.exp(-(1 - body_v) * 7)) * (1 - 0.10 * body_v) + 0.055
    body_u = rng.uniform(-1, 1, 3 * count)
    body = np.stack([lean * body_v + width * body_u, body_v * (tall - 0.10)], axis=-1)
    round_body = np.stack([body_u, 0.35 * (body_v - 0.4), np.sqrt(1 - body_u**2)], axis=-1)
    for flat, bulk, paint, share in ((body, round_body, coat, 0.47 * tall / (3 * count)), (head, bulge, face, 0.0415 / count)):
        points = np.concatenate([flat + place[:2], np.full((len(flat), 1), place[2])], axis=1).astype(np.float32)
        normal = (bulk * (1, 1, -1)).astype(np.float32)
        total = light.on(points, normal, 0.9)
        colour = np.broadcast_to(paint, (len(flat), 3)) * total
        if paint is face:  # hair above and behind, the face towards the lights
            u, v = (flat[:, 0] - lean) / 0.098, (flat[:, 1] - tall) / 0.13
            hair = step(0.05, 0.32, v * 0.75 + 0.42 * side * u + 0.12 * np.abs(u))
            colour = colour * (1 - 0.82 * hair)[:, None] * (1 - 0.25 * step(-0.5, -0.95, v))[:, None]
        pixel = camera.pixels(1, float(place[2])) ** 2
        dabs(canvas, camera.project(points), np.full(len(flat), 1.35 * share * pixel), colour, soft=camera.height * 0.0005)
