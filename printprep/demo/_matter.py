"""What things are made of: masonry, boards, paper, as reflectance and relief."""

from __future__ import annotations

import numpy as np

from printprep.demo._paint import cloud, lch, step, tripled
from printprep.demo._space import Texture

STONE = ((56, 9, 78), (50, 8, 60), (62, 11, 82), (47, 5, 95), (54, 14, 66))
"""L*, C*, hue of the stones in a wall."""
BRICK = ((44, 24, 46), (39, 22, 42), (48, 27, 52), (36, 17, 50), (43, 20, 58))
TIMBER = ((43, 22, 66), (38, 19, 62), (46, 25, 68), (35, 15, 66), (41, 17, 74))
TARRED = ((27, 8, 70), (24, 7, 62), (30, 10, 74), (22, 5, 80))


def masonry(
    seed: int,
    size: tuple[int, int],
    metres: tuple[float, float],
    block: tuple[float, float],
    colours: tuple[tuple[float, float, float], ...] = STONE,
    *,
    wet: float = 0.0,
    joint: float = 0.018,
) -> Texture:
    """A wall of courses with uneven blocks.

    Parameters
    ----------
    seed : int
        Equal seeds give equal walls.
    size : tuple of int
        Height and width in pixels.
    metres : tuple of float
        Height and width of the wall.
    block : tuple of float
        Height and mean width of a block, metres.
    colours : tuple of (L*, C*, hue)
        Colours that blocks are taken from.
    wet : float
        Metres from the foot that are dark and green from the water.
    joint : float
        Width of the mortar, metres.
    """
    rng = np.random.default_rng(seed)
    height, width = size
    courses = max(1, round(metres[0] / block[0]))
    y = (np.arange(height, dtype=np.float32) + 0.5) / height * courses
    wobble = cloud(seed + 1, (height, width), (3 * metres[0], 2 * metres[1]), 3)
    row = np.clip(y.astype(int), 0, courses - 1)
    tone = np.empty((height, width, 3), np.float32)
    edge = np.empty((height, width), np.float32)
    palette = np.stack([lch(*c) for c in colours])
    x_metres = (np.arange(width, dtype=np.float32) + 0.5) / width * metres[1]
    for course in range(courses):
        count = int(metres[1] / block[1] * 1.6) + 3
        ends = np.cumsum(block[1] * rng.uniform(0.62, 1.38, count).astype(np.float32)) - rng.uniform(0, block[1])
        own = palette[rng.integers(0, len(palette), count + 1)] * rng.uniform(0.72, 1.28, (count + 1, 1))
        rows = np.flatnonzero(row == course)
        if not len(rows):
            continue
        which = np.searchsorted(ends, x_metres)
        right = ends[np.minimum(which, count - 1)] - x_metres
        left = x_metres - np.where(which > 0, ends[np.maximum(which - 1, 0)], -9)
        across = np.minimum(left, right)
        down = (0.5 - np.abs(y[rows] - course - 0.5)) * (metres[0] / courses)
        edge[rows] = np.minimum(across[None], down[:, None])
        tone[rows] = own[which]
    near = edge + 0.004 * wobble
    stone = step(joint * 0.45, joint * 0.8, near)
    grain = cloud(seed + 2, (height, width), (22 * metres[0], 22 * metres[1]), 5, 0.7)
    stain = cloud(seed + 3, (height, width), (1.5 * metres[0], 0.8 * metres[1]), 4, 0.6)
    albedo = tone * tripled(1 + 0.10 * grain + 0.13 * stain)
    mortar = tripled((0.7 + 0.08 * grain) * (1 - stone)) * lch(46, 6, 80)
    albedo = mortar + albedo * tripled(stone)
    if wet > 0:
        foot = np.linspace(metres[0], 0, height, dtype=np.float32)[:, None] - 0.10 * stain
        damp = 1 - step(0.1 * wet, wet, foot)
        albedo = albedo * tripled(1 - 0.62 * damp) + tripled(damp * (0.5 + 0.25 * grain)) * lch(20, 14, 120)
    px = height / metres[0]
    relief = px * (0.016 * step(0, 2.6 * joint, near) + 0.0010 * grain)
    return Texture(np.maximum(albedo, 0.004).astype(np.float32), relief.astype(np.float32))


def boards(
    seed: int,
    size: tuple[int, int],
    metres: tuple[float, float],
    board: float,
    colours: tuple[tuple[float, float, float], ...] = TIMBER,
    *,
    upright: bool = True,
    worn: float = 1.0,
) -> Texture:
    """Boards side by side, with grain, knots and gaps.

    Parameters
    ----------
    seed, size, metres, colours
        As for `masonry`.
    board : float, metres
        Width of one board.
    upright : bool
        Boards run up; else along.
    worn : float
        How uneven in tone.
    """
    if not upright:
        turned = boards(seed, size[::-1], metres[::-1], board, colours, worn=worn)
        assert turned.relief is not None
        return Texture(np.ascontiguousarray(turned.albedo.transpose(1, 0, 2)), np.ascontiguousarray(turned.relief.T))
    rng = np.random.default_rng(seed)
    height, width = size
    count = max(1, round(metres[1] / board))
    x = (np.arange(width, dtype=np.float32) + 0.5) / width * count
    which = np.clip(x.astype(int), 0, count - 1)
    palette = np.stack([lch(*c) for c in colours])
    own = (palette[rng.integers(0, len(palette), count)] * rng.uniform(0.7, 1.25, (count, 1))).astype(np.float32)
    gap = 0.5 - np.abs(x - which - 0.5)
    bend = cloud(seed + 1, (height, width), (0.7 * metres[0], 2.2 * count), 2)
    fibre = cloud(seed + 2, (height, width), (1.2 * metres[0], 34 * count), 3, 0.7)
    rings = np.sin((x[None] * 11 + 2.3 * bend + rng.uniform(0, 9, count).astype(np.float32)[which]) * 2.6)
    stain = cloud(seed + 3, (height, width), (0.9 * metres[0], 0.9 * count), 3, 0.6)
    tone = np.maximum(1 + worn * (0.09 * fibre + 0.07 * rings + 0.14 * stain), 0.1)
    dark = step(0.005, 0.05, gap)
    albedo = tripled(tone) * (own[which] * (0.10 + 0.90 * dark)[:, None])[None]
    px = height / metres[0]
    relief = px * (0.006 * step(0.0, 0.10, gap)[None] + 0.0004 * fibre + 0.0005 * rings)
    return Texture(np.maximum(albedo, 0.003).astype(np.float32), relief.astype(np.float32))
