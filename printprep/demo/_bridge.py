"""A stone bridge across the river."""

from __future__ import annotations

import numpy as np

from printprep.demo._matter import masonry
from printprep.demo._paint import Floats, lch, step, tripled
from printprep.demo._space import Dabs, Light, Quad, Texture, panel, sheet

DEPTH = 26.0
"""Metres from the camera to the bridge's face."""
_LEFT, _RIGHT, _TOP = -7.2, 8.6, 5.7
ARCHES = ((-1.15, 2.35, 3.0), (4.65, 2.75, 3.45))
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
        stone = own * (0.35 + 0.65 * step(0.0, 0.06, 0.5 - joint)) * (1 - 0.6 * step(0.8, 0.2, y))
        albedo = albedo * tripled(1 - ring) + tripled(stone * ring) * lch(58, 9, 80)
        ring_tone *= 1 - 0.45 * np.exp(-(((outside - 0.50) / 0.05) ** 2)) * (outside > 0)
        cover = cover * step(-0.015, 0.015, outside)
    below = deck(x) - y
    course = np.exp(-(((below - 0.98) / 0.055) ** 2))
    coping = step(0.17, 0.15, below)
    albedo = albedo * tripled((1 + 0.45 * course + 0.30 * coping) * ring_tone)
    albedo *= tripled(1 - 0.5 * np.exp(-(((below - 1.12) / 0.06) ** 2)) - 0.4 * np.exp(-(((below - 0.20) / 0.03) ** 2)))
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
    points = np.stack(np.broadcast_arrays(middle + half * np.cos(t), tall * np.sin(t), DEPTH + back), axis=-1).astype(
        np.float32
    )
    rows, cols = max(40, int(height * 0.62)), max(12, int(height * 0.09))
    stone = masonry(47, (rows, cols), (8.0, 3.6), (0.42, 0.8)).albedo
    shade = (0.45 - 0.1 * back + 0 * t).astype(np.float32)
    return sheet(light, points, stone * 0.8, outward=(0.0, -1.0, 0.0), shade=np.clip(shade, 0.1, 1))
