"""The boathouse on the right: dark boards, deep shadow with things in it, and the jetty beside it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from printprep.demo._matter import TARRED, boards, coat, cut, uv
from printprep.demo._paint import lch, painted, step
from printprep.demo._space import Matter, Prop, Texture, flat, rod, straight

_LEFT, _RIGHT, _FRONT, _BACK = 2.7, 6.9, 8.0, 13.0
_EAVE, _RIDGE, _MIDDLE = 2.7, 4.7, 4.8

_Row = tuple[ArrayLike, ArrayLike, ArrayLike, Matter, float | None]


def boathouse() -> list[Prop]:
    """Its inside, what hangs there, then its front and long side; in painting order."""
    wide, deep, rise = _RIGHT - _LEFT, _BACK - _FRONT, _RIDGE - _EAVE
    half, walk = _MIDDLE - _LEFT, deep + 1.2
    inside: tuple[_Row, ...] = (  # corner, along, up, matter, sky that is seen
        ((_LEFT, 0, _BACK), (wide, 0, 0), (0, _RIDGE, 0), _under_roof(boards(61, 0.17), wide, _RIDGE, _EAVE), 0.03),
        ((4.55, 1.35, _BACK - 0.02), (0.86, 0, 0), (0, 0.78, 0), _window, None),
        ((_RIGHT, 0, _FRONT), (0, 0, deep), (0, _EAVE, 0), boards(62, 0.19), 0.06),
        ((_RIGHT, _EAVE, _FRONT), (0, 0, deep), (-half, rise, 0), boards(63, 0.2, TARRED, upright=False), 0.04),
        ((_LEFT, _EAVE, _FRONT), (0, 0, deep), (half, rise, 0), boards(64, 0.2, TARRED, upright=False), 0.04),
        *(((_LEFT, _EAVE - 0.12, z), (wide, 0, 0), (0, 0.2, 0), _BEAM, 0.05) for z in (12.2, 10.9, 9.6)),
        ((_LEFT, 0, _BACK - 0.6), (wide, 0, 0), (0, 0.45, 0), boards(68, 0.22, TARRED, upright=False), 0.03),
        ((_RIGHT - 1.1, 0.05, _FRONT - 1.2), (0, 0, walk), (0, 0.4, 0), boards(67, 0.2, TARRED, upright=False), 0.04),
        ((_RIGHT - 1.1, 0.45, _FRONT - 1.2), (0, 0, walk), (1.1, 0, 0), boards(66, 0.16, upright=False), 0.06),
    )
    gable = _under_roof(boards(82, 0.16, TARRED), wide + 0.5, rise + 0.17, 0.02)
    slope = np.array([half + 0.62, rise + 0.52, 0])
    front: list[_Row] = [
        ((_LEFT, 0, _FRONT), (0, 0, deep), (0, 2.9, 0), boards(81, 0.21, TARRED, upright=False), 0.55),
        ((_LEFT - 0.25, _EAVE, _FRONT), (wide + 0.5, 0, 0), (0, rise + 0.17, 0), gable, 0.5),
        ((_LEFT - 0.15, _EAVE - 0.14, _FRONT - 0.04), (wide + 0.4, 0, 0), (0, 0.22, 0), _BEAM, 0.4),
    ]
    for x in (_LEFT - 0.09, _RIGHT - 0.05):
        front += [((x, 0, _FRONT - 0.05), along, (0, 2.6, 0), _POST, 0.4) for along in ((0.18, 0, 0), (0, 0, 0.18))]
    for x, along in ((_LEFT - 0.62, slope), (_RIGHT + 0.62, slope * (-1, 1, 1))):
        corner = (x, _EAVE - 0.42, _FRONT - 0.65)
        front.append((corner, along, (0, 0, 0.65), boards(85, 0.16, TARRED, upright=False), 0.3))
        front.append((corner, along, (0, 0.26, 0), boards(86, 0.24, upright=False), 0.7))
    return [*map(_panel, inside), *_gear(), *map(_panel, front)]


_BEAM, _POST = boards(65, 0.2, upright=False), boards(84, 0.18)


def _panel(row: _Row) -> Prop:
    corner, along, up, matter, shade = row
    return Prop(flat(corner, along, up), matter, shade or 0.0, (1, 2), glows=shade is None)


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


def _gear() -> list[Prop]:
    """What hangs and leans inside: oars, and a coil of rope."""
    parts: list[Prop] = []
    t = np.linspace(0, 1, 16)
    for x, lean, paint in ((6.2, -0.10, (52, 40, 32)), (6.36, -0.03, (60, 26, 76))):
        foot, head = np.array([x, 0.45, _BACK - 0.35]), np.array([x + lean, 2.75, _BACK - 0.12])
        blade = 0.09 * np.sin(np.pi * np.clip(0.12 + 0.80 * t, 0, 1)) ** 0.6
        parts.append(Prop(rod(straight(foot, head), 0.026), coat((58, 26, 72)), 0.05))
        parts.append(Prop(rod(straight(foot + 0.78 * (head - foot), head, 16), blade), coat(paint), 0.05, (15, 1)))
    a = np.linspace(0, 2 * np.pi, 60)
    for turn in range(5):
        wide, tall = 0.22 + 0.016 * turn, 0.30 + 0.024 * turn
        ring = np.stack([5.72 + wide * np.sin(a), 1.75 - tall * np.cos(a), _BACK - 0.1 - 0.012 * turn + 0 * a], -1)
        parts.append(Prop(rod(ring, 0.018), coat((62, 20, 80), lay=0.05), 0.05, (30, 1)))
    return parts


def jetty() -> list[Prop]:
    """The jetty in the right foreground: worn planks on piles."""
    left, wide, near, long, top = 1.7, 1.3, 3.2, 4.8, 0.42
    deck = flat((left, top, near), (0, 0, long), (wide, 0, 0), 12, 40)
    edge = flat((left, top - 0.2, near), (0, 0, long), (0, 0.2, 0), 4, 40)
    parts = [
        Prop(edge, boards(92, 0.2, TARRED, upright=False), 0.5, (1, 3)),
        Prop(deck, boards(91, 0.2), 0.75, (1, 4)),
    ]
    x, y, r = left + 0.04, 0.9, 0.075
    end = cut(coat((45, 20, 72)), lambda across, up: step(1.0, 0.97, np.hypot(across / r - 1, up / r - 1)))
    for z in (7.1, 5.9, 4.5, 3.4):
        parts.append(Prop(rod(straight((x, -0.06, z), (x, y, z)), r), boards(93, 0.3, ((36, 16, 68),)), 0.6))
        parts.append(Prop(flat((x - r, y, z - r), (2 * r, 0, 0), (0, 0, 2 * r)), end, 0.9))
    return parts
