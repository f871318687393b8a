"""A rowing boat: overlapping planks outside, ribs and seats inside."""

from __future__ import annotations

import numpy as np

from printprep.colour.lab import Floats
from printprep.demo._matter import boards, uv
from printprep.demo._paint import cloud, lch, painted, step
from printprep.demo._space import Matter, Prop, Texture

_LENGTH, _BEAM, _AT, _HEADING = 3.5, 1.26, (0.12, 5.45), 1.16
"""Metres; the middle in x and z; to the right of straight away from the camera, radians."""


def boat() -> list[Prop]:
    """Far side, floor, seats, near side, gunwales; in painting order."""
    v = np.linspace(0, 1, 13)
    parts = [Prop(_side(-1, 0.03), _planks(101, inside=True), 0.45, (24, 2))]
    across = np.linspace(-1, 1, 9)
    parts.append(_across(np.linspace(-0.93, 0.93, 25), 0.05, 0.74 * across, boards(107, 0.13), 0.22, (12, 1)))
    wood = boards(109, 0.3, ((52, 30, 68), (48, 28, 66)), upright=False)
    for where, wide in ((-0.52, 0.24), (0.02, 0.26), (0.55, 0.22)):
        span = where + np.array([-1, 0, 1]) * wide / _LENGTH
        high = 0.30 + 0.05 * abs(where)
        parts.append(_across(span[:1].repeat(3), high - 0.035 * v[::6], 0.90 * across, wood, 0.3, (1, 1)))
        parts.append(_across(span, high, 0.90 * across, wood, 0.7, (1, 1)))
    parts.append(Prop(_side(1, 0.0), _planks(105, inside=False), 0.55, (30, 3)))
    along, edge = np.meshgrid(np.linspace(-1, 1, 61), np.linspace(-1, 1, 5), indexing="ij")
    rim = boards(113, 0.08, ((57, 33, 70),))
    for hand in (-1, 1):
        aside = hand * (_half_beam(along) + 0.042 * edge - 0.012)
        net = _place(along * (_LENGTH / 2) * (1 + 0.06 * np.abs(along)), _sheer(along) + 0.022 - 0.012 * edge**2, aside)
        parts.append(Prop(net, rim, 0.9, (30, 1)))
    return parts


def _place(forward: Floats, up: Floats, right: Floats) -> Floats:
    """Metres in the scene of points in the boat's own frame."""
    c, s = np.cos(_HEADING), np.sin(_HEADING)
    x, z = _AT[0] + forward * s + right * c, _AT[1] + forward * c - right * s
    return np.stack(np.broadcast_arrays(x, up, z), axis=-1).astype(np.float32)


def _half_beam(along: Floats) -> Floats:
    return np.asarray(_BEAM / 2 * np.maximum(1 - np.abs(along) ** 2.5, 0) ** 0.75)


def _sheer(along: Floats) -> Floats:
    return np.asarray(0.40 + 0.24 * np.abs(along) ** 2.2 + 0.05 * along)


def _side(hand: int, inset: float) -> Floats:
    """A net over one side: along the boat, and from the water to the edge."""
    along, v = np.meshgrid(np.linspace(-1, 1, 73), np.linspace(0, 1, 19), indexing="ij")
    wide = (_half_beam(along) - inset) * (0.60 + 0.40 * np.sin(v * np.pi / 2) ** 0.8)
    up = -0.06 + (_sheer(along) + 0.06) * v
    return _place(along * (_LENGTH / 2) * (1 + 0.06 * v * np.abs(along)), up, hand * np.maximum(wide, 0.004))


def _across(
    along: Floats, up: Floats | float, share: Floats, wood: Matter, shade: float, pieces: tuple[int, int]
) -> Prop:
    """A board or a floor from side to side, `share` of the beam."""
    a = along[:, None]
    net = _place(a * _LENGTH / 2, np.reshape(up, (-1, 1)), _half_beam(a) * share)
    return Prop(net, wood, shade, pieces)


def _planks(seed: int, *, inside: bool) -> Matter:
    """A planked side: rows along the boat, columns upwards."""

    def made(size: tuple[int, int], metres: tuple[float, float]) -> Texture:
        v, u = uv(size)
        strake = v * 6.2
        inner = strake % 1
        grain, stain = cloud(seed, size, (9, 60), 4, 0.7), cloud(seed + 1, size, (9, 4), 4, 0.6)
        tones = np.array([0.85, 1.05, 0.92, 1.12, 0.98, 1.08, 1.0], np.float32)[strake.astype(int)]
        wood = lch(50, 29, 68) if inside else lch(45, 33, 62)
        base = painted(tones * (1 + 0.13 * grain + 0.16 * stain), wood)
        tone = 0.50 + 0.50 * step(0.0, 0.13, inner) + 0.16 * step(0.80, 1.0, inner)
        if inside:
            rib = np.abs((u * 15) % 1 - 0.5)
            tone = tone * (1 + 0.25 * step(0.10, 0.08, rib) - 0.45 * step(0.14, 0.11, rib) * step(0.09, 0.115, rib))
        else:
            paint = step(5.05, 5.12, strake) * (1 - 0.8 * step(1.0, 1.9, stain + 0.35 * grain))
            base = base * painted(1 - paint) + painted(paint * (1 + 0.10 * grain), lch(40, 30, 196))
            tone = tone * (1 - 0.55 * step(0.16, 0.04, v + 0.02 * stain))
        return Texture(np.maximum(base * painted(tone), 0.004))

    return made
