"""What things are made of: stones or boards laid in courses, paint; each fits itself to the surface it is laid on."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from printprep.colour.lab import Floats
from printprep.demo._paint import cloud, lch, painted, step
from printprep.demo._space import Matter, Texture

Colours = Sequence[tuple[float, float, float]]

STONE: Colours = ((56, 9, 78), (50, 8, 60), (62, 11, 82), (47, 5, 95), (54, 14, 66))
"""L*, C*, hue of the stones in a wall."""
BRICK: Colours = ((44, 24, 46), (39, 22, 42), (48, 27, 52), (36, 17, 50), (43, 20, 58))
TIMBER: Colours = ((40, 22, 66), (35, 19, 62), (43, 25, 68), (32, 15, 66), (38, 17, 74))
TARRED: Colours = ((24, 8, 70), (21, 7, 62), (27, 10, 74), (19, 5, 80))


def uv(size: tuple[int, int]) -> tuple[Floats, Floats]:
    """Across (1, w) and down (h, 1), both 0..1 in the middle of each pixel."""
    down, across = ((np.arange(n, dtype=np.float32) + 0.5) / n for n in size)
    return across[None], down[:, None]


def masonry(
    seed: int, block: tuple[float, float], colours: Colours = STONE, *, joint: float = 0.018, wet: float = 0.0
) -> Matter:
    """Courses of uneven blocks: metres of a block (high, wide), of a joint, and up to where the wall is wet."""

    def made(size: tuple[int, int], metres: tuple[float, float]) -> Texture:
        tone, near = _laid(seed, size, metres, block, colours)
        near = near + 0.004 * cloud(seed + 1, size, (3 * metres[0], 2 * metres[1]), 3)
        grain = cloud(seed + 2, size, (22 * metres[0], 22 * metres[1]), 4, 0.7)
        stain = cloud(seed + 3, size, (1.5 * metres[0], 0.8 * metres[1]), 4, 0.6)
        stone = step(joint * 0.45, joint * 0.8, near)
        albedo = tone * painted(stone * (1 + 0.10 * grain + 0.13 * stain))
        albedo += painted((0.7 + 0.08 * grain) * (1 - stone), lch(46, 6, 80))
        if wet:
            damp = 1 - step(0.1 * wet, wet, (1 - uv(size)[1]) * metres[0] - 0.10 * stain)
            albedo *= painted(1 - 0.62 * damp)
            albedo += painted(damp * (0.5 + 0.25 * grain), lch(20, 14, 120))
        relief = size[0] / metres[0] * (0.016 * step(0, 2.6 * joint, near) + 0.0010 * grain)
        return Texture(np.maximum(albedo, 0.004), relief.astype(np.float32))

    return made


def boards(seed: int, board: float, colours: Colours = TIMBER, *, upright: bool = True) -> Matter:
    """Boards side by side, so many metres wide, with grain and gaps; upright, or along."""

    def made(size: tuple[int, int], metres: tuple[float, float]) -> Texture:
        count = max(1, round(metres[0] / board))
        tone, near = _laid(seed, size, metres, (board, 1e3), colours)
        near = near / board
        fibre = cloud(seed + 2, size, (34 * count, 1.2 * metres[1]), 3, 0.7)
        stain = cloud(seed + 3, size, (0.9 * count, 0.9 * metres[1]), 3, 0.6)
        rings = np.sin(6 * cloud(seed + 1, size, (2.2 * count, 0.7 * metres[1]), 2) + 28.6 * count * uv(size)[1])
        worn = np.maximum(1 + 0.09 * fibre + 0.07 * rings + 0.14 * stain, 0.1)
        relief = size[0] / metres[0] * board * (0.03 * step(0.0, 0.10, near) + 0.002 * (fibre + rings))
        return Texture(tone * painted(worn * (0.10 + 0.90 * step(0.005, 0.05, near))), relief.astype(np.float32))

    def turned(size: tuple[int, int], metres: tuple[float, float]) -> Texture:
        wood = made(size[::-1], metres[::-1])
        assert wood.relief is not None
        albedo = np.ascontiguousarray(wood.albedo.transpose(1, 0, 2))
        return Texture(albedo, np.ascontiguousarray(wood.relief.T))

    return turned if upright else made


def _laid(
    seed: int, size: tuple[int, int], metres: tuple[float, float], block: tuple[float, float], colours: Colours
) -> tuple[Floats, Floats]:
    """Colour of the block at each place, and metres to its edge."""
    rng = np.random.default_rng(seed)
    across, down = uv(size)
    place = across[0] * metres[1]
    courses = max(1, round(metres[0] / block[0]))
    row = np.minimum((down[:, 0] * courses).astype(int), courses - 1)
    count = int(metres[1] / block[1] * 1.6) + 3
    palette = np.stack([lch(*c) for c in colours])
    tone, aside = np.empty((courses, size[1], 3), np.float32), np.empty((courses, size[1]), np.float32)
    for course in range(courses):
        ends = np.cumsum(block[1] * rng.uniform(0.62, 1.38, count)) - rng.uniform(0, block[1])
        own = palette[rng.integers(0, len(palette), count + 1)] * rng.uniform(0.72, 1.26, (count + 1, 1))
        which = np.searchsorted(ends, place)
        left = place - np.where(which > 0, ends[np.maximum(which - 1, 0)], -9)
        aside[course] = np.minimum(ends[np.minimum(which, count - 1)] - place, left)
        tone[course] = own[which]
    level = (0.5 - np.abs(down * courses - row[:, None] - 0.5)) * (metres[0] / courses)
    return tone[row], np.minimum(aside[row], level)


def coat(colour: tuple[float, float, float], lay: float = 0.0) -> Matter:
    """Paint, a little uneven; or rope, with strands that are laid so many metres apart."""

    def made(size: tuple[int, int], metres: tuple[float, float]) -> Texture:
        tone = 1 + 0.12 * cloud(7, size, (20 * metres[0], 20 * metres[1]), 4, 0.7)
        if lay:
            across, down = uv(size)
            tone = tone * (0.4 + 0.6 * np.sin(np.pi * (down * metres[0] / lay + across)) ** 2)
        return Texture(painted(tone, lch(*colour)))

    return made


def cut(matter: Matter, shape: Callable[[Floats, Floats], Floats]) -> Matter:
    """Matter cut to a shape: cover, 0..1, of metres to the right and up from the lower left corner."""

    def made(size: tuple[int, int], metres: tuple[float, float]) -> Texture:
        texture = matter(size, metres)
        across, down = uv(size)
        cover = shape(across * metres[1], (1 - down) * metres[0])
        return Texture(texture.albedo, texture.relief, np.broadcast_to(cover, size).astype(np.float32))

    return made
