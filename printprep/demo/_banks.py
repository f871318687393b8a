"""The left bank: the quay wall, the garden wall behind it, lantern posts, a willow, reeds in front."""

from __future__ import annotations

import numpy as np

from printprep.demo._matter import BRICK, masonry
from printprep.demo._paint import Floats, dabs, lch, step
from printprep.demo._space import Camera, Dabs, Light, Quad, Texture, panel, pole, strand

EDGE, QUAY, NEAR, FAR = -4.2, 1.45, 7.5, 26.0
"""Where the quay's edge runs (x), its height, and the stretch that is seen (z); metres."""


def quay(light: Light, height: int) -> list[Quad | Dabs]:
    """Garden wall, pavement and quay wall as lit, in painting order."""
    px = height / 2832
    long = FAR - NEAR
    brick_size = (max(8, int(2.1 * 220 * px)), max(16, int(long * 125 * px)))
    bricks = masonry(141, brick_size, (2.1, long), (0.085, 0.24), BRICK, joint=0.012)
    capped = bricks.albedo.copy()
    capped[: max(1, brick_size[0] // 22)] = lch(56, 9, 78)
    garden = Texture(capped, bricks.relief)
    wall = panel(
        light,
        (EDGE - 2.6, QUAY, NEAR + 2),
        (0, 0, long - 2),
        (0, 2.1, 0),
        garden,
        outward=(1, 0, 0),
        shade=0.6,
        pieces=5,
    )
    flags = masonry(143, (max(8, int(2.6 * 160 * px)), max(16, int(long * 90 * px))), (2.6, long), (0.65, 0.9))
    pavement = panel(
        light, (EDGE, QUAY, NEAR), (0, 0, long), (-2.6, 0, 0), flags, outward=(0, 1, 0), shade=0.8, pieces=5
    )
    stone = masonry(
        145,
        (max(8, int(QUAY * 300 * px)), max(16, int(long * 160 * px))),
        (QUAY, long),
        (0.29, 0.72),
        wet=0.75,
        joint=0.02,
    )
    albedo = stone.albedo.copy()
    top = max(1, int(albedo.shape[0] * 0.11))
    albedo[:top] = albedo[:top] * 0.5 + lch(60, 9, 80) * 0.55
    albedo[top : top + max(1, top // 4)] *= 0.35
    face = panel(
        light,
        (EDGE, 0, NEAR),
        (0, 0, long),
        (0, QUAY, 0),
        Texture(albedo, stone.relief),
        outward=(1, 0, 0),
        shade=0.7,
        pieces=6,
    )
    return [wall, pavement, face]


def posts(light: Light, height: int, places: tuple[float, ...], tall: float) -> list[Quad | Dabs]:
    """Thin dark posts on the quay's edge, as lit."""
    x = EDGE - 0.12
    paint = lch(30, 12, 62)
    return [strand(light, pole((x, QUAY, z), (x, QUAY + tall, z)), 0.035, paint, height) for z in places[::-1]]


def cord(canvas: Floats, camera: Camera, a: Floats, b: Floats, sag: float) -> None:
    """A slack line between two points, painted in place."""
    count = int(camera.height * 2)
    t = np.linspace(0, 1, count)
    line = a + (np.asarray(b) - a) * t[:, None]
    line[:, 1] -= 4 * sag * t * (1 - t)
    xy = camera.project(line)
    wide = np.maximum(camera.pixels(1, 1) * 0.011 / line[:, 2], 0.35)
    stepping = np.linalg.norm(np.gradient(xy, axis=0), axis=1)
    offset = np.linspace(-0.5, 0.5, 9)
    xy = xy[:, None] + np.stack([0 * offset, offset], axis=-1)[None] * wide[:, None, None]
    area = np.repeat(1.15 * wide * stepping / 9, 9)
    dabs(canvas, xy, area, np.tile(lch(9, 6, 60), (count * 9, 1)))


def willow(canvas: Floats, camera: Camera, light: Light) -> None:
    """Strands of a willow hanging over the quay at the upper left; painted in place."""
    rng = np.random.default_rng(161)
    coarse = max(1, camera.height // 950)
    strands = 150
    roots = np.stack(
        [rng.normal(-4.9, 0.95, strands), rng.uniform(5.0, 6.4, strands), rng.uniform(7.6, 10.5, strands)], axis=-1
    )
    length = rng.uniform(1.0, 3.4, strands) * np.clip(1.25 - 0.25 * np.abs(roots[:, 0] + 4.9), 0.4, 1)
    order = np.argsort(-roots[:, 2])
    leaves = 90
    for group in np.array_split(order, 3):
        t = np.linspace(0, 1, leaves)[None, :, None]
        sway = rng.normal(0, 0.22, (len(group), 1, 1))
        base = roots[group][:, None]
        drop = length[group][:, None, None] * t
        stem = np.concatenate(
            [base[..., :1] + sway * t**1.6 + 0.35 * np.sin(2.2 * t), base[..., 1:2] - drop, base[..., 2:] + 0 * t],
            axis=-1,
        )
        stem = stem + rng.normal(0, 0.03, stem.shape)
        angle = rng.uniform(-1.1, 1.1, (len(group), leaves)) - np.pi / 2
        size = rng.uniform(0.06, 0.13, (len(group), leaves))
        along = np.linspace(0, 1, 16)
        wide = np.sin(np.pi * np.clip(along * 0.9 + 0.07, 0, 1)) * 0.11
        ends = []
        for hand in (-0.6, 0.0, 0.6):
            dx = np.cos(angle)[..., None] * along - np.sin(angle)[..., None] * wide * hand
            dy = np.sin(angle)[..., None] * along + np.cos(angle)[..., None] * wide * hand
            ends.append(np.stack([dx, dy, 0 * dx], axis=-1) * size[..., None, None])
        leaf = np.stack(ends, axis=3)
        points = (stem[:, :, None, None] + leaf).astype(np.float32)
        middle = stem.reshape(-1, 3).astype(np.float32)
        total = light.on(middle, np.array([0.35, -0.35, -0.87], np.float32), 0.5)
        tone = lch(42, 34, 118) * rng.uniform(0.5, 1.4, (len(middle), 1)) * total
        back = light.on(middle, np.array([0.2, -0.2, 0.95], np.float32), 0.0)
        tone = tone + 0.35 * lch(52, 50, 110) * back
        colour = np.repeat(tone, 48, axis=0)
        pixel = camera.pixels(1, 9.0) ** 2
        area = np.repeat((size.reshape(-1) ** 2) * 0.11 * 1.2 * pixel / 48, 48)
        dabs(
            canvas, camera.project(points), area, colour * np.float32(0.62), soft=camera.height * 0.0007, coarse=coarse
        )


def reeds(canvas: Floats, camera: Camera, light: Light) -> None:
    """Reeds close to the camera at the lower left, a little out of focus; painted in place."""
    rng = np.random.default_rng(171)
    coarse = max(1, camera.height // 950)
    for depth, count, soft in ((3.3, 80, 0.0010), (2.6, 70, 0.0016), (2.0, 34, 0.0030)):
        spread = depth / 3
        foot = np.stack(
            [
                rng.normal(-1.42, 0.42, count) * spread - 0.12,
                np.full(count, 0.1),
                depth + rng.uniform(-0.2, 0.2, count),
            ],
            axis=-1,
        )
        tall = rng.uniform(0.75, 1.42, count) * np.clip(1.12 - 0.35 * np.abs(foot[:, 0] / spread + 1.5), 0.4, 1.1)
        lean = rng.normal(0.10, 0.22, count) + 0.05
        steps = 260
        t = np.linspace(0, 1, steps)[None]
        bend = lean[:, None] * t**2 * tall[:, None] + rng.normal(0, 0.12, (count, 1)) * t**4
        x = foot[:, :1] + bend
        y = foot[:, 1:2] + tall[:, None] * (t - 0.10 * np.abs(lean[:, None]) * t**3)
        blade = 0.018 * (1 - t) ** 0.55 * rng.uniform(0.7, 1.3, (count, 1))
        heads = rng.random(count) < 0.22
        bulge = 0.021 * np.exp(-(((t - 0.86) / 0.075) ** 4))
        blade = np.where(heads[:, None], np.maximum(0.0045 * (1 - 0.3 * t), bulge), blade)
        strip = np.linspace(-1, 1, 7)
        points = np.stack(
            np.broadcast_arrays(x[..., None] + blade[..., None] * strip, y[..., None], foot[:, 2:, None]), axis=-1
        ).astype(np.float32)
        centre = np.stack([x, y, np.broadcast_to(foot[:, 2:], x.shape)], axis=-1)[:, ::10].astype(np.float32)
        front = light.on(centre, np.array([0.3, 0.1, -0.95], np.float32), 0.6)
        rim = light.on(centre, np.array([0.55, 0.0, 0.83], np.float32), 0.1)
        front, rim = (np.repeat(p, 10, axis=1)[:, :steps] for p in (front, rim))
        paint = np.where(heads[:, None, None] & (np.abs(t - 0.86) < 0.1)[..., None], lch(30, 26, 58), lch(46, 34, 112))
        paint = paint * rng.uniform(0.6, 1.25, (count, 1, 1))
        edge = step(0.1, 1.0, strip)[None, None, :, None]
        colour = paint[:, :, None] * (front[:, :, None] * 0.8 + rim[:, :, None] * (0.10 + 0.75 * edge))
        pixel = camera.pixels(1, depth) ** 2
        area = (2 * blade * (tall[:, None] / steps) / 7 * 2.0 * pixel)[..., None] * np.ones(7)
        dabs(canvas, camera.project(points), area, colour, soft=camera.height * soft, coarse=coarse)
