"""A rowing boat: overlapping planks outside, ribs and seats inside."""

from __future__ import annotations

import numpy as np

from printprep.demo._paint import Floats, cloud, lch, step
from printprep.demo._space import Dabs, Light, Quad, sheet

_LENGTH, _BEAM = 3.5, 1.26


def _place(local: Floats, at: tuple[float, float], heading: float) -> Floats:
    """Metres in the scene of points in the boat's own frame: forward, up, to the right."""
    c, s = np.cos(heading), np.sin(heading)
    forward, up, right = local[..., 0], local[..., 1], local[..., 2]
    return np.stack([at[0] + forward * s + right * c, up, at[1] + forward * c - right * s], axis=-1).astype(np.float32)


def _half_beam(along: Floats) -> Floats:
    return _BEAM / 2 * np.maximum(1 - np.abs(along) ** 2.5, 0) ** 0.75


def _sheer(along: Floats) -> Floats:
    return 0.40 + 0.24 * np.abs(along) ** 2.2 + 0.05 * along


def _side(hand: int, inset: float) -> Floats:
    """A net over one side: along the boat, and from the water to the edge."""
    along = np.linspace(-1, 1, 72, dtype=np.float32)[:, None]
    v = np.linspace(0, 1, 20, dtype=np.float32)[None]
    wide = (_half_beam(along) - inset) * (0.60 + 0.40 * np.sin(v * np.pi / 2) ** 0.8)
    up = -0.06 + (_sheer(along) + 0.06) * v
    rake = 1 + 0.06 * v * np.abs(along)
    forward = np.broadcast_to(along * (_LENGTH / 2), up.shape) * rake
    return np.stack([forward, up, hand * np.maximum(wide, 0.004)], axis=-1).astype(np.float32)


def _planking(seed: int, rows: int, cols: int, inside: bool) -> Floats:
    """Reflectance of a planked side: rows along the boat, columns upwards."""
    v = np.linspace(0, 1, cols, dtype=np.float32)[None]
    u = np.linspace(0, 1, rows, dtype=np.float32)[:, None]
    strake = v * 6.2
    inner = strake % 1
    grain = cloud(seed, (rows, cols), (9, 60), 4, 0.7)
    stain = cloud(seed + 1, (rows, cols), (9, 4), 4, 0.6)
    tones = np.array([0.85, 1.05, 0.92, 1.12, 0.98, 1.08, 1.0, 1.0], np.float32)[strake.astype(int)]
    wood = lch(45, 33, 62) if not inside else lch(50, 29, 68)
    base = wood * (tones * (1 + 0.13 * grain + 0.16 * stain))[..., None]
    if not inside:
        top = step(5.05, 5.12, strake) * np.ones_like(u)
        wear = step(1.0, 1.9, stain + 0.35 * grain)
        paint = lch(40, 30, 196) * (1 + 0.10 * grain)[..., None]
        amount = (top * (1 - 0.8 * wear))[..., None]
        base = base * (1 - amount) + paint * amount
        wet = step(0.16, 0.04, v + 0.02 * stain)[..., None]
        base = base * (1 - 0.55 * wet)
    lap = 0.50 + 0.50 * step(0.0, 0.13, inner) + 0.16 * step(0.80, 1.0, inner)
    base = base * lap[..., None]
    if inside:
        rib = np.abs((u * 15) % 1 - 0.5)
        base = base * (1 - 0.45 * step(0.14, 0.11, rib) * step(0.09, 0.115, rib))[..., None]
        base = base * (1 + 0.25 * step(0.10, 0.08, rib))[..., None]
    else:
        nail = np.exp(-((((u * 46) % 1 - 0.5) / 0.10) ** 2) - (((inner - 0.90) / 0.05) ** 2))
        base = base * (1 - 0.5 * nail)[..., None]
    return np.asarray(np.maximum(base, 0.004), np.float32)


def boat(light: Light, height: int, at: tuple[float, float], heading: float) -> list[Quad | Dabs]:
    """The boat as lit, in painting order.

    Parameters
    ----------
    light : Light
        What shines on it.
    height : int
        Height of the picture, pixels.
    at : (x, z), metres
        Its middle.
    heading : float, radians
        0 points away from the camera; positive turns to the right.
    """
    rows, cols = max(60, int(height * 0.95)), max(24, int(height * 0.21))
    near = 1 if np.sin(heading) > 0 else -1  # the side towards the camera
    toward = (0.0, 0.25, -1.0)
    parts: list[Quad | Dabs] = []
    depth = np.linspace(0.12, 0.75, 20, dtype=np.float32)[None] * np.ones((72, 1), np.float32)
    far_inside = _place(_side(-near, 0.03), at, heading)
    parts.append(sheet(light, far_inside, _planking(101, rows, cols, True), outward=toward, shade=depth))
    parts.append(_floor(light, height, at, heading))
    for where, wide in ((-0.52, 0.24), (0.02, 0.26), (0.55, 0.22)):
        parts += _seat(light, height, at, heading, where, wide)
    near_outside = _place(_side(near, 0.0), at, heading)
    parts.append(sheet(light, near_outside, _planking(105, rows, cols, False), outward=toward, shade=0.55))
    for hand in (-near, near):
        parts.append(_gunwale(light, height, at, heading, hand))
    return parts


def _floor(light: Light, height: int, at: tuple[float, float], heading: float) -> Dabs:
    along = np.linspace(-0.93, 0.93, 40, dtype=np.float32)[:, None]
    v = np.linspace(-1, 1, 12, dtype=np.float32)[None]
    wide = _half_beam(along) * 0.74 * v
    local = np.stack(np.broadcast_arrays(along * _LENGTH / 2, np.float32(0.05), wide), axis=-1)
    rows, cols = max(40, int(height * 0.7)), max(20, int(height * 0.16))
    grain = cloud(107, (rows, cols), (6, 50), 4, 0.7)
    gap = np.abs((np.linspace(0, 7, cols, dtype=np.float32)) % 1 - 0.5)
    paint = lch(38, 24, 66) * ((1 + 0.16 * grain) * (0.3 + 0.7 * step(0.0, 0.06, 0.5 - gap))[None])[..., None]
    return sheet(
        light, _place(local.astype(np.float32), at, heading), paint.astype(np.float32), outward=(0, 1, 0), shade=0.22
    )


def _seat(
    light: Light, height: int, at: tuple[float, float], heading: float, where: float, wide: float
) -> list[Quad | Dabs]:
    along = where + np.linspace(-1, 1, 8, dtype=np.float32)[:, None] * wide / _LENGTH
    v = np.linspace(-1, 1, 12, dtype=np.float32)[None]
    half = _half_beam(along) * 0.90 * v
    local = np.stack(np.broadcast_arrays(along * _LENGTH / 2, np.float32(0.30 + 0.05 * abs(where)), half), axis=-1)
    rows, cols = max(24, int(height * 0.10)), max(40, int(height * 0.35))
    grain = cloud(109 + int(10 * where), (rows, cols), (40, 5), 4, 0.7)
    paint = lch(52, 30, 68) * (1 + 0.15 * grain)[..., None]
    top = sheet(
        light, _place(local.astype(np.float32), at, heading), paint.astype(np.float32), outward=(0, 1, 0), shade=0.7
    )
    edge = local[:1].repeat(2, axis=0).copy()
    edge[1, :, 1] -= 0.035
    front = _place(edge.astype(np.float32), at, heading)
    tone = np.ones((max(6, int(height * 0.02)), cols, 1), np.float32) * lch(42, 28, 66)
    return [sheet(light, front, tone.astype(np.float32), outward=(0, 0, -1), shade=0.4), top]


def _gunwale(light: Light, height: int, at: tuple[float, float], heading: float, hand: int) -> Dabs:
    along = np.linspace(-1, 1, 90, dtype=np.float32)[:, None]
    across = np.linspace(-1, 1, 6, dtype=np.float32)[None]
    wide = hand * (np.maximum(_half_beam(along), 0.0) + 0.042 * across - 0.012)
    up = _sheer(along) + 0.012 * (1 - across**2) + 0.01
    forward = np.broadcast_to(along * (_LENGTH / 2) * (1 + 0.06 * np.abs(along)), wide.shape)
    local = np.stack([forward, np.broadcast_to(up, wide.shape), wide], axis=-1).astype(np.float32)
    rows, cols = max(80, int(height * 1.5)), max(8, int(height * 0.022))
    grain = cloud(113 + hand, (rows, cols), (30, 4), 4, 0.7)
    paint = lch(57, 33, 70) * (1 + 0.14 * grain)[..., None]
    return sheet(light, _place(local, at, heading), paint.astype(np.float32), outward=(0, 1, -0.2), shade=0.9)
