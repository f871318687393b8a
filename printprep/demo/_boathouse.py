"""The boathouse on the right: dark boards, deep shadow with things in it, and the jetty beside it."""

from __future__ import annotations

import numpy as np

from printprep.demo._matter import TARRED, TIMBER, boards
from printprep.demo._paint import Floats, lch, step
from printprep.demo._space import Dabs, Light, Quad, Texture, curve, panel, pole, sheet, strand

LEFT, RIGHT, FRONT, BACK = 2.7, 6.9, 8.0, 13.0
EAVE, RIDGE, MIDDLE = 2.7, 4.7, 4.8


def boathouse(light: Light, height: int) -> list[Quad | Dabs]:
    """All parts of the boathouse as lit, in painting order.

    Parameters
    ----------
    light : Light
        What shines on it.
    height : int
        Height of the picture, pixels; sets how fine the boards are.
    """
    px = height / 2832

    def wood(
        seed: int, metres: tuple[float, float], density: float, board: float, kind: object = None, **more: object
    ) -> Texture:
        size = (max(8, int(metres[0] * density * px)), max(8, int(metres[1] * density * px)))
        return boards(seed, size, metres, board, kind or TARRED, **more)  # type: ignore[arg-type]

    inside: list[Quad | Dabs] = []
    deep = np.linspace(0.10, 0.02, 12, dtype=np.float32)[None] * np.ones((8, 1), np.float32)
    up = (0.0, EAVE, 0.0)
    back = panel(
        light,
        (LEFT, 0, BACK),
        (RIGHT - LEFT, 0, 0),
        (0, RIDGE, 0),
        _gabled(wood(61, (RIDGE, RIGHT - LEFT), 280, 0.17, TIMBER)),
        outward=(0, 0, -1),
        shade=0.03,
    )
    inside.append(back)
    inside.append(_window(light, px))
    right = panel(
        light,
        (RIGHT, 0, FRONT),
        (0, 0, BACK - FRONT),
        up,
        wood(62, (EAVE, BACK - FRONT), 400, 0.19, TIMBER),
        outward=(-1, 0, 0),
        shade=deep,
        pieces=2,
    )
    inside.append(right)
    slope = (MIDDLE - RIGHT, RIDGE - EAVE, 0.0)
    inside.append(
        panel(
            light,
            (RIGHT, EAVE, FRONT),
            (0, 0, BACK - FRONT),
            slope,
            wood(63, (2.9, BACK - FRONT), 300, 0.2, upright=False),
            outward=(-0.69, -0.72, 0),
            shade=deep * 0.6,
        )
    )
    left_slope = (MIDDLE - LEFT, RIDGE - EAVE, 0.0)
    inside.append(
        panel(
            light,
            (LEFT, EAVE, FRONT),
            (0, 0, BACK - FRONT),
            left_slope,
            wood(64, (2.9, BACK - FRONT), 300, 0.2, upright=False),
            outward=(0.69, -0.72, 0),
            shade=deep * 0.6,
        )
    )
    ties = (12.2, 10.9, 9.6)  # beams across, at these depths
    inside += [_beam(light, (LEFT, EAVE - 0.12, z), (RIGHT - LEFT, 0, 0), 0.2, px, 65) for z in ties]
    inside += _staging(light, px)
    inside += _gear(light, height)
    return inside + _front(light, px)


def _gabled(wall: Texture) -> Texture:
    """The wall cut to the slopes of the roof."""
    height, width = wall.albedo.shape[:2]
    y = np.linspace(RIDGE, 0, height, dtype=np.float32)[:, None]
    x = np.linspace(-1, 1, width, dtype=np.float32)[None]
    return Texture(
        wall.albedo, wall.relief, step(-0.01, 0.01, RIDGE - (RIDGE - EAVE) * np.abs(x) - y).astype(np.float32)
    )


def _window(light: Light, px: float) -> Quad:
    """A small window in the back wall: the last of the sky through old panes."""
    rows, cols = max(12, int(190 * px)), max(12, int(210 * px))
    v = np.linspace(0, 1, rows, dtype=np.float32)[:, None]
    u = np.linspace(0, 1, cols, dtype=np.float32)[None]
    sky = lch(40, 30, 276) * (1 - v[..., None]) + lch(52, 17, 285) * v[..., None] + 0 * u[..., None]
    bars = np.maximum(step(0.035, 0.02, np.abs(u - 0.5)), step(0.035, 0.02, np.abs(v - 0.5)))
    bars = np.maximum(bars, np.maximum(step(0.44, 0.46, np.abs(u - 0.5)), step(0.44, 0.46, np.abs(v - 0.5))))
    dust = 0.55 + 0.25 * np.sin(9 * u + 3 * v) * 0.2
    glass = sky * dust[..., None] * (1 - bars)[..., None] + lch(10, 6, 70) * bars[..., None]
    lit = np.concatenate([glass, np.ones((rows, cols, 1), np.float32)], axis=-1).astype(np.float32)
    place = np.array([4.55, 1.35, BACK - 0.02], np.float32)
    return Quad(lit, place, np.array([0.86, 0, 0], np.float32), np.array([0, 0.78, 0], np.float32))


def _beam(
    light: Light,
    corner: tuple[float, float, float],
    along: tuple[float, float, float],
    tall: float,
    px: float,
    seed: int,
) -> Quad:
    length = float(np.linalg.norm(along))
    size = (max(6, int(tall * 320 * px)), max(8, int(length * 200 * px)))
    texture = boards(seed, size, (tall, length), tall, TIMBER, upright=False)
    return panel(light, corner, along, (0, tall, 0), texture, outward=(0, 0, -1), shade=0.05)


def _staging(light: Light, px: float) -> list[Quad | Dabs]:
    """A plank walk along the inner wall, and along the back."""
    size = (max(8, int(480 * px)), max(8, int(1100 * px)))
    top = boards(66, size, (1.1, 5.0), 0.16, TIMBER, upright=False)
    walk = panel(
        light,
        (RIGHT - 1.1, 0.45, FRONT - 1.2),
        (0, 0, BACK - FRONT + 1.2),
        (1.1, 0, 0),
        top,
        outward=(0, 1, 0),
        shade=0.06,
    )
    edge_size = (max(6, int(150 * px)), max(8, int(1300 * px)))
    edge = boards(67, edge_size, (0.4, 5.0), 0.2, TARRED, upright=False)
    side = panel(
        light,
        (RIGHT - 1.1, 0.05, FRONT - 1.2),
        (0, 0, BACK - FRONT + 1.2),
        (0, 0.4, 0),
        edge,
        outward=(-1, 0, 0),
        shade=0.04,
    )
    rear_size = (max(6, int(200 * px)), max(8, int(900 * px)))
    rear = boards(68, rear_size, (0.45, RIGHT - LEFT), 0.22, TARRED, upright=False)
    foot = panel(light, (LEFT, 0, BACK - 0.6), (RIGHT - LEFT, 0, 0), (0, 0.45, 0), rear, outward=(0, 0, -1), shade=0.03)
    return [foot, side, walk]


def _gear(light: Light, height: int) -> list[Quad | Dabs]:
    """What hangs and leans inside: oars, a coil of rope, floats on a line, a rack with a hull."""
    parts: list[Quad | Dabs] = []
    rng = np.random.default_rng(71)
    for number, (x, lean) in enumerate(((4.2, 0.10), (4.34, 0.03), (6.2, -0.10), (6.36, -0.03))):
        foot, head = np.array([x, 0.45, BACK - 0.35]), np.array([x + lean, 2.75, BACK - 0.12])
        parts.append(strand(light, pole(foot, head), 0.026, lch(58, 26, 72), height))
        blade = foot + (head - foot) * 0.78
        parts.append(_blade(light, blade, head, 0.085, lch(*((52, 40, 32), (60, 26, 76))[number % 2]), height))
    for turn in range(7):  # a coil of rope on a peg
        a = np.linspace(0, 2 * np.pi, 90)
        wide, tall = 0.22 + 0.012 * turn, 0.30 + 0.02 * turn
        ring = np.stack(
            [
                5.72 + wide * np.sin(a) + rng.normal(0, 0.004),
                1.75 - tall * np.cos(a) * (1 + 0.12 * np.sin(a / 2)),
                BACK - 0.1 - 0.012 * turn + 0 * a,
            ],
            axis=-1,
        )
        parts.append(strand(light, ring, 0.017, lch(62, 20, 80), height, twist=True))
    hull = np.linspace(-1, 1, 40)[:, None]  # an upturned hull on the rack by the wall
    v = np.linspace(0, np.pi, 24)[None]
    half = 0.42 * (1 - np.abs(hull) ** 2.5)
    points = np.stack(
        np.broadcast_arrays(RIGHT - 0.62 + half * np.cos(v), 1.32 + 0.75 * half * np.sin(v), 10.5 + 1.9 * hull), axis=-1
    ).astype(np.float32)
    rows, cols = max(20, int(height * 0.30)), max(20, int(height * 0.22))
    strakes = np.linspace(0, 12, cols, dtype=np.float32)[None] % 1
    paint = lch(50, 26, 205) * (0.45 + 0.55 * step(0.0, 0.22, strakes))[..., None] * np.ones((rows, 1, 1), np.float32)
    parts.append(sheet(light, points, paint.astype(np.float32), outward=(-0.4, 0.9, 0), shade=0.05))
    return parts + [_beam(light, (RIGHT - 1.1, 1.2, z), (1.1, 0, 0), 0.1, height / 2832, 73) for z in (9.2, 11.7)]


def _blade(light: Light, foot: Floats, head: Floats, radius: float, paint: Floats, height: int) -> Dabs:
    t = np.linspace(0, 1, 16)[:, None]
    wide = radius * np.sin(np.pi * np.clip(0.12 + 0.80 * t, 0, 1)) ** 0.6
    a = np.linspace(-1, 1, 5)[None]
    middle = foot + (head - foot) * t
    points = np.stack([middle[:, :1] + wide * a, middle[:, 1:2] + 0 * a, middle[:, 2:] - 0.02 + 0 * a], axis=-1)
    rows, cols = max(10, int(height * 0.10)), max(6, int(height * 0.035))
    return sheet(
        light, points.astype(np.float32), np.ones((rows, cols, 1), np.float32) * paint, outward=(0, 0, -1), shade=0.05
    )


def _front(light: Light, px: float) -> list[Quad | Dabs]:
    """Posts, gable and the long outer wall; the eaves last."""
    parts: list[Quad | Dabs] = []
    size = (max(8, int(2.9 * 330 * px)), max(8, int(5 * 300 * px)))
    wall = boards(81, size, (2.9, 5.0), 0.21, TARRED, upright=False)
    parts.append(
        panel(
            light, (LEFT, 0, FRONT), (0, 0, BACK - FRONT), (0, 2.9, 0), wall, outward=(-1, 0, 0), shade=0.55, pieces=2
        )
    )
    wide, tall = RIGHT - LEFT + 0.5, RIDGE - EAVE + 0.15
    rows, cols = max(8, int(tall * 440 * px)), max(8, int(wide * 440 * px))
    gable = boards(82, (rows, cols), (tall, wide), 0.16, TARRED)
    u = np.linspace(-1, 1, cols, dtype=np.float32)[None]
    v = np.linspace(tall, 0, rows, dtype=np.float32)[:, None]
    cover = step(-0.01, 0.01, tall * (1.0 - np.abs(u)) + 0.02 - v)
    front = Texture(gable.albedo * 1.15, gable.relief, cover.astype(np.float32))
    parts.append(
        panel(light, (LEFT - 0.25, EAVE, FRONT), (wide, 0, 0), (0, tall, 0), front, outward=(0, 0, -1), shade=0.5)
    )
    parts.append(_beam(light, (LEFT - 0.15, EAVE - 0.14, FRONT - 0.04), (RIGHT - LEFT + 0.4, 0, 0), 0.22, px * 1.6, 83))
    for x in (LEFT - 0.09, RIGHT - 0.05):
        post = boards(84, (max(8, int(1200 * px)), max(6, int(90 * px))), (2.7, 0.18), 0.18, TIMBER)
        parts.append(panel(light, (x, 0, FRONT - 0.05), (0.18, 0, 0), (0, 2.6, 0), post, outward=(0, 0, -1), shade=0.4))
        parts.append(panel(light, (x, 0, FRONT - 0.05), (0, 0, 0.18), (0, 2.6, 0), post, outward=(-1, 0, 0), shade=0.4))
    run = np.array([MIDDLE - LEFT + 0.62, RIDGE - EAVE + 0.52, 0])
    for start, along in (((LEFT - 0.62, EAVE - 0.42), run), ((RIGHT + 0.62, EAVE - 0.42), run * (-1, 1, 1))):
        length = float(np.linalg.norm(along))
        soffit = boards(85, (max(8, int(300 * px)), max(8, int(1300 * px))), (0.7, length), 0.16, TARRED, upright=False)
        out = (0.6 * np.sign(along[0]), -0.8, 0)
        parts.append(panel(light, (*start, FRONT - 0.65), along, (0, 0, 0.65), soffit, outward=out, shade=0.3))
        barge = boards(86, (max(8, int(110 * px)), max(8, int(1500 * px))), (0.24, length), 0.24, TIMBER, upright=False)
        parts.append(panel(light, (*start, FRONT - 0.66), along, (0, 0.26, 0), barge, outward=(0, 0, -1), shade=0.7))
    return parts


def _pile(light: Light, top: tuple[float, float, float], radius: float, height: int) -> list[Quad | Dabs]:
    """A round post in the water, and the rings of its cut end."""
    x, y, z = top
    post = strand(light, pole((x, -0.06, z), (x, y, z)), radius, lch(34, 15, 68), height)
    turn, out = np.meshgrid(np.linspace(0, 2 * np.pi, 40), np.linspace(0.02, 1, 8), indexing="ij")
    disc = np.stack([x + radius * out * np.cos(turn), y + 0 * out, z + radius * out * np.sin(turn)], axis=-1)
    side = max(12, int(height * 0.12 / z))
    rings = 1 + 0.22 * np.sin(np.linspace(0, 34, side, dtype=np.float32))[None, :, None]
    paint = lch(45, 20, 72) * rings * np.ones((side, 1, 1), np.float32)
    end = sheet(light, disc.astype(np.float32), paint, outward=(0, 1, 0), shade=0.9)
    return [post, end]


def jetty(light: Light, height: int) -> list[Quad | Dabs]:
    """The jetty in the right foreground: worn planks on piles."""
    px = height / 2832
    left, right, near, far, top = 1.7, 3.0, 3.2, 8.0, 0.42
    deck = boards(91, (max(8, int(1100 * px)), max(8, int(2300 * px))), (1.3, 4.8), 0.2, TIMBER, worn=0.9)
    planks = panel(
        light,
        (left, top, near),
        (0, 0, far - near),
        (right - left, 0, 0),
        deck,
        outward=(0, 1, 0),
        shade=0.75,
        pieces=4,
    )
    side = boards(92, (max(8, int(190 * px)), max(8, int(2300 * px))), (0.2, 4.8), 0.2, TARRED, upright=False)
    edge = panel(
        light, (left, top - 0.2, near), (0, 0, far - near), (0, 0.2, 0), side, outward=(-1, 0, 0), shade=0.5, pieces=3
    )
    parts: list[Quad | Dabs] = []
    for z in (7.1, 5.9, 4.5, 3.4):
        parts += _pile(light, (left + 0.04, 0.9, z), 0.075, height)
    rope = curve([(left, 0.78, 5.9), (left - 0.16, 0.52, 5.7), (1.42, 0.66, 5.42)], 60)
    return [edge, planks, *parts, strand(light, rope, 0.014, lch(58, 18, 78), height, twist=True)]
