"""The left bank: the quay wall, the garden wall behind it, lantern posts and the line between them."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from printprep.demo._matter import BRICK, masonry, plain
from printprep.demo._paint import Floats
from printprep.demo._space import Part, flat, rod, straight

EDGE, QUAY, NEAR, FAR = -4.2, 1.45, 7.5, 26.0
"""Where the quay's edge runs (x), its height, and the stretch that is seen (z); metres."""
POSTS = (24.6, 20.0, 15.8, 12.2, 9.0)
"""Depths of the lantern posts, metres."""


def quay() -> list[Part]:
    """Garden wall, pavement, quay wall and its edge, posts and the line from post to post, in painting order."""
    long = FAR - NEAR
    walls = (
        ((EDGE - 2.6, QUAY, NEAR), (0, 2.0, 0), masonry(141, (0.085, 0.24), BRICK, joint=0.012), 0.6),
        ((EDGE - 2.6, QUAY + 1.95, NEAR), (0, 0.12, 0), masonry(142, (0.12, 0.6)), 0.9),
        ((EDGE - 2.6, QUAY, NEAR), (2.6, 0, 0), masonry(143, (0.65, 0.9)), 0.8),
        ((EDGE, 0, NEAR), (0, QUAY, 0), masonry(145, (0.29, 0.72), joint=0.02, wet=0.75), 0.7),
        ((EDGE + 0.05, QUAY - 0.14, NEAR), (0, 0.17, 0), masonry(147, (0.17, 1.1)), 1.0),
    )
    parts = [Part(flat(at, (0, 0, long), up, 10, 60), stone, shade, (1, 8)) for at, up, stone, shade in walls]
    heads = [np.array([EDGE - 0.12, QUAY + 2.35, z]) for z in POSTS]
    parts += [Part(rod(straight(h - (0, 2.35, 0), h), 0.035), plain((30, 12, 62)), 0.6) for h in heads]
    return parts + [line(a, b, 0.35) for a, b in pairwise(heads)]


def line(a: Floats, b: Floats, sag: float) -> Part:
    """A line that lanterns hang from."""
    return Part(rod(straight(a, b, 24, sag), 0.0045 + 0.0001 * min(a[2], b[2])), plain((9, 6, 60)), pieces=(12, 1))
