"""The river's banks: the quay on the left, its posts and lines, the bridge, and the people who watch from it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from printprep.colour.lab import Floats
from printprep.demo._matter import BRICK, coat, masonry, uv
from printprep.demo._paint import lch, painted, step
from printprep.demo._space import Matter, Prop, Texture, flat, rod, straight

EDGE, QUAY, NEAR, FAR = -4.2, 1.45, 7.5, 26.0
"""Where the quay's edge runs (x), its height, and the stretch that is seen (z); metres."""
DEPTH = 26.0
"""Metres from the camera to the bridge's face."""
_LEFT, _RIGHT, _TOP = -7.2, 8.6, 5.7
_ARCHES = ((-1.15, 2.35, 3.0), (4.65, 2.75, 3.45))
"""Middle, half width and height of the openings, metres."""
_COATS = ((23, 14, 285), (20, 22, 28), (31, 12, 80), (17, 10, 320), (36, 24, 52), (24, 18, 200), (42, 14, 75))
_SKINS = ((68, 24, 60), (54, 28, 60), (40, 23, 58), (62, 26, 58), (47, 27, 60))
_HAIRS = ((10, 6, 60), (16, 12, 60), (8, 4, 280), (28, 20, 66), (38, 4, 80))


def deck(x: Floats | float) -> Floats:
    """Height of the parapet's top over the water, metres: a gentle hump."""
    return np.asarray(4.55 + 0.75 * np.cos(np.clip((np.asarray(x, np.float32) - 4.65) / 11.5, -1, 1) * np.pi / 2))


def bridge() -> list[Prop]:
    """People behind the parapet, the insides of the arches, the face; in painting order."""
    inside = []
    t, back = np.meshgrid(np.linspace(0, np.pi, 25), np.linspace(0, 3.6, 6), indexing="ij")
    for middle, half, tall in _ARCHES:
        net = np.stack([middle + half * np.cos(t), tall * np.sin(t), DEPTH + back], axis=-1).astype(np.float32)
        inside.append(Prop(net, masonry(47, (0.42, 0.8)), 0.3, (16, 1)))
    face = flat((_LEFT, 0, DEPTH), (_RIGHT - _LEFT, 0, 0), (0, _TOP, 0), 20, 60)
    return _watchers() + inside + [Prop(face, _face, 0.8)]


def _face(size: tuple[int, int], metres: tuple[float, float]) -> Texture:
    wall = masonry(41, (0.30, 0.62), wet=0.9, joint=0.022)(size, metres)
    across, down = uv(size)
    x, y = _LEFT + across * metres[1], (1 - down) * metres[0]
    albedo, below = wall.albedo, deck(x) - y
    cover = step(-0.02, 0.02, below)
    for number, (middle, half, tall) in enumerate(_ARCHES):
        outside = (np.hypot((x - middle) / half, y / tall) - 1) * (half + tall) / 2
        turn = np.arctan2(y / tall, (x - middle) / half) / np.pi * 19
        ring = step(-0.01, 0.02, outside) * (1 - step(0.46, 0.49, outside))
        own = np.random.default_rng(90 + number).uniform(0.8, 1.25, 21).astype(np.float32)
        stone = own[np.clip(turn, 0, 20).astype(int)] * (0.35 + 0.65 * step(0.0, 0.06, 0.5 - np.abs(turn % 1 - 0.5)))
        albedo *= painted((1 - ring) * (1 - 0.45 * np.exp(-(((outside - 0.50) / 0.05) ** 2))))
        albedo += painted(ring * stone * (1 - 0.6 * step(0.8, 0.2, y)), lch(58, 9, 80))
        cover *= step(-0.015, 0.015, outside)
    course = np.exp(-(((below - 0.98) / 0.055) ** 2)) + step(0.17, 0.15, below)  # two bands of stone that stand out
    under = np.exp(-(((below - 1.12) / 0.06) ** 2)) + np.exp(-(((below - 0.22) / 0.03) ** 2))
    albedo *= painted((1 + 0.4 * course) * (1 - 0.45 * under))
    assert wall.relief is not None
    return Texture(albedo, wall.relief + size[0] / metres[0] * 0.04 * course, cover.astype(np.float32))


def _watchers() -> list[Prop]:
    rng = np.random.default_rng(58)
    x, people = -3.5, []
    while x < 7.6:
        x += float(rng.choice((0.36, 0.44, 0.55, 1.1, 1.9), p=(0.24, 0.26, 0.2, 0.16, 0.14)))
        tall = float(rng.uniform(0.40, 0.80))
        net = flat((x - 0.3, float(deck(x)) - 0.06, DEPTH + 0.5), (0.6, 0, 0), (0, tall + 0.1, 0))
        people.append(Prop(net, _person(int(rng.integers(1 << 30)), tall), 0.9))
    return people


def _person(seed: int, tall: float) -> Matter:
    """Coat, head and hair; their roundness is relief."""
    rng = np.random.default_rng(seed)
    coat, skin, hair = (lch(*paints[rng.integers(len(paints))]) for paints in (_COATS, _SKINS, _HAIRS))
    turn = rng.uniform(-0.22, 0.22)

    def made(size: tuple[int, int], metres: tuple[float, float]) -> Texture:
        across, down = uv(size)
        u, v = (across - 0.5) * metres[1], (1 - down) * metres[0]
        soft = 12 * metres[0] / size[0]
        hu, hv = u / 0.080, (v - tall + 0.115) / 0.112
        head, body = 1 - np.hypot(hu, hv), 1 - (np.abs(u / 0.195) ** 2.6 + (v / (tall - 0.2)) ** 3.6) ** 0.4
        cap = np.minimum(1.06 - np.hypot(hu - turn, hv - 0.16), hv + 0.55 * np.abs(hu) - 0.33 - 2.5 * turn * hu)
        colour, cover = np.full((*size, 3), coat), step(-soft, soft, body)
        for shape, paint in ((step(-soft, soft, head), skin), (step(-soft, soft, cap), hair)):
            colour = colour * painted(1 - shape) + painted(shape, paint)
            cover = np.maximum(cover, shape)
        bulge = np.where(head > 0, 0.03 * np.sqrt(np.maximum(head, 0)), 0.06 * np.sqrt(np.maximum(body, 0)))
        return Texture(colour, (bulge * size[0] / metres[0]).astype(np.float32), cover.astype(np.float32))

    return made


def quay() -> list[Prop]:
    """Garden wall, pavement, quay wall and its edge, posts and the line from post to post, in painting order."""
    long = FAR - NEAR
    walls = (
        ((EDGE - 2.6, QUAY, NEAR), (0, 2.0, 0), masonry(141, (0.085, 0.24), BRICK, joint=0.012), 0.6),
        ((EDGE - 2.6, QUAY + 1.95, NEAR), (0, 0.12, 0), masonry(142, (0.12, 0.6)), 0.9),
        ((EDGE - 2.6, QUAY, NEAR), (2.6, 0, 0), masonry(143, (0.65, 0.9)), 0.8),
        ((EDGE, 0, NEAR), (0, QUAY, 0), masonry(145, (0.29, 0.72), joint=0.02, wet=0.75), 0.7),
        ((EDGE + 0.05, QUAY - 0.14, NEAR), (0, 0.17, 0), masonry(147, (0.17, 1.1)), 1.0),
    )
    parts = [Prop(flat(at, (0, 0, long), up, 10, 60), stone, shade, (1, 8)) for at, up, stone, shade in walls]
    heads = [np.array([EDGE - 0.12, QUAY + 2.35, z]) for z in (24.6, 20.0, 15.8, 12.2, 9.0)]
    parts += [Prop(rod(straight(h - (0, 2.35, 0), h), 0.035), coat((30, 12, 62)), 0.6) for h in heads]
    return parts + [line(a, b, 0.35) for a, b in pairwise(heads)]


def line(a: Floats, b: Floats, sag: float) -> Prop:
    """A line that lanterns hang from."""
    return Prop(rod(straight(a, b, 24, sag), 0.0045 + 0.0001 * min(a[2], b[2])), coat((9, 6, 60)), pieces=(12, 1))
