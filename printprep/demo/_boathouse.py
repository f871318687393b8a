"""The boathouse on the right: dark boards, deep shadow with things in it, and the jetty beside it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from printprep.demo._matter import TARRED, boards, cut, plain, uv
from printprep.demo._paint import lch, painted, step
from printprep.demo._space import Matter, Part, Texture, flat, rod, straight

LEFT, RIGHT, FRONT, BACK = 2.7, 6.9, 8.0, 13.0
EAVE, RIDGE, MIDDLE = 2.7, 4.7, 4.8

_Row = tuple[ArrayLike, ArrayLike, ArrayLike, Matter, float | None]


def boathouse() -> list[Part]:
    """Its inside, what hangs there, then its front and long side; in painting order."""
    wide, deep, rise = RIGHT - LEFT, BACK - FRONT, RIDGE - EAVE
    half, walk = MIDDLE - LEFT, deep + 1.2
    inside: tuple[_Row, ...] = (  # corner, along, up, matter, sky that is seen
        ((LEFT, 0, BACK), (wide, 0, 0), (0, RIDGE, 0), _under_roof(boards(61, 0.17), wide, RIDGE, EAVE), 0.03),
        ((4.55, 1.35, BACK - 0.02), (0.86, 0, 0), (0, 0.78, 0), _window, None),
        ((RIGHT, 0, FRONT), (0, 0, deep), (0, EAVE, 0), boards(62, 0.19), 0.06),
        ((RIGHT, EAVE, FRONT), (0, 0, deep), (-half, rise, 0), boards(63, 0.2, TARRED, upright=False), 0.04),
        ((LEFT, EAVE, FRONT), (0, 0, deep), (half, rise, 0), boards(64, 0.2, TARRED, upright=False), 0.04),
        *(((LEFT, EAVE - 0.12, z), (wide, 0, 0), (0, 0.2, 0), _BEAM, 0.05) for z in (12.2, 10.9, 9.6)),
        ((LEFT, 0, BACK - 0.6), (wide, 0, 0), (0, 0.45, 0), boards(68, 0.22, TARRED, upright=False), 0.03),
        ((RIGHT - 1.1, 0.05, FRONT - 1.2), (0, 0, walk), (0, 0.4, 0), boards(67, 0.2, TARRED, upright=False), 0.04),
        ((RIGHT - 1.1, 0.45, FRONT - 1.2), (0, 0, walk), (1.1, 0, 0), boards(66, 0.16, upright=False), 0.06),
    )
    gable = _under_roof(boards(82, 0.16, TARRED), wide + 0.5, rise + 0.17, 0.02)
    slope = np.array([half + 0.62, rise + 0.52, 0])
    front: list[_Row] = [
        ((LEFT, 0, FRONT), (0, 0, deep), (0, 2.9, 0), boards(81, 0.21, TARRED, upright=False), 0.55),
        ((LEFT - 0.25, EAVE, FRONT), (wide + 0.5, 0, 0), (0, rise + 0.17, 0), gable, 0.5),
        ((LEFT - 0.15, EAVE - 0.14, FRONT - 0.04), (wide + 0.4, 0, 0), (0, 0.22, 0), _BEAM, 0.4),
    ]
    for x in (LEFT - 0.09, RIGHT - 0.05):
        front += [((x, 0, FRONT - 0.05), along, (0, 2.6, 0), _POST, 0.4) for along in ((0.18, 0, 0), (0, 0, 0.18))]
    for x, along in ((LEFT - 0.62, slope), (RIGHT + 0.62, slope * (-1, 1, 1))):
        corner = (x, EAVE - 0.42, FRONT - 0.65)
        front.append((corner, along, (0, 0, 0.65), boards(85, 0.16, TARRED, upright=False), 0.3))
        front.append((corner, along, (0, 0.26, 0), boards(86, 0.24, upright=False), 0.7))
    return [*map(_panel, inside), *_gear(), *map(_panel, front)]


_BEAM, _POST = boards(65, 0.2, upright=False), boards(84, 0.18)


def _panel(row: _Row) -> Part:
    corner, along, up, matter, shade = row
    return Part(flat(corner, along, up), matter, shade or 0.0, (1, 2), glows=shade is None)


def _under_roof(matter: Matter, wide: float, top: float, eave: float) -> Matter:
    """A wall cut to the slopes of the roof."""
    return cut(matter, lambda x, y: step(-0.01, 0.01, top - (top - eave) * np.abs(2 * x / wide - 1) - y))


def _window(size: tuple[int, int], metres: tuple[float, float]) -> Texture:
    """The last of the sky through old panes."""
    u, v = uv(size)
    bars = [np.maximum(step(0.035, 0.02, np.abs(a)), step(0.44, 0.46, np.abs(a))) for a in (u - 0.5, v - 0.5)]
    open_ = 1 - np.maximum(*bars)
    glass = lch(40, 30, 276) * (1 - v[..., None]) + lch(52, 17, 285) * v[..., None]
    return Texture((0.55 * painted(open_) * glass + painted(1 - open_, lch(10, 6, 70))).astype(np.float32))


def _gear() -> list[Part]:
    """What hangs and leans inside: oars, and a coil of rope."""
    parts: list[Part] = []
    t = np.linspace(0, 1, 16)
    for x, lean, paint in ((6.2, -0.10, (52, 40, 32)), (6.36, -0.03, (60, 26, 76))):
        foot, head = np.array([x, 0.45, BACK - 0.35]), np.array([x + lean, 2.75, BACK - 0.12])
        blade = 0.09 * np.sin(np.pi * np.clip(0.12 + 0.80 * t, 0, 1)) ** 0.6
        parts.append(Part(rod(straight(foot, head), 0.026), plain((58, 26, 72)), 0.05))
        parts.append(Part(rod(straight(foot + 0.78 * (head - foot), head, 16), blade), plain(paint), 0.05, (15, 1)))
    a = np.linspace(0, 2 * np.pi, 60)
    for turn in range(5):
        wide, tall = 0.22 + 0.016 * turn, 0.30 + 0.024 * turn
        ring = np.stack([5.72 + wide * np.sin(a), 1.75 - tall * np.cos(a), BACK - 0.1 - 0.012 * turn + 0 * a], -1)
        parts.append(Part(rod(ring, 0.018), plain((62, 20, 80), lay=0.05), 0.05, (30, 1)))
    return parts


def jetty() -> list[Part]:
    """The jetty in the right foreground: worn planks on piles."""
    left, wide, near, long, top = 1.7, 1.3, 3.2, 4.8, 0.42
    deck = flat((left, top, near), (0, 0, long), (wide, 0, 0), 12, 40)
    edge = flat((left, top - 0.2, near), (0, 0, long), (0, 0.2, 0), 4, 40)
    parts = [
        Part(edge, boards(92, 0.2, TARRED, upright=False), 0.5, (1, 3)),
        Part(deck, boards(91, 0.2), 0.75, (1, 4)),
    ]
    x, y, r = left + 0.04, 0.9, 0.075
    end = cut(plain((45, 20, 72)), lambda across, up: step(1.0, 0.97, np.hypot(across / r - 1, up / r - 1)))
    for z in (7.1, 5.9, 4.5, 3.4):
        parts.append(Part(rod(straight((x, -0.06, z), (x, y, z)), r), boards(93, 0.3, ((36, 16, 68),)), 0.6))
        parts.append(Part(flat((x - r, y, z - r), (2 * r, 0, 0), (0, 0, 2 * r)), end, 0.9))
    return parts
