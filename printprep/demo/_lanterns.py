"""Paper lanterns: round ones that hang, square ones that float."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from printprep.demo._paint import Floats, blurred, cloud, dabs, lch, over, step
from printprep.demo._space import Camera, Lamp, Quad

PAPERS = {
    "amber": ((72, 92, 67), (92, 58, 84)),
    "orange": ((63, 100, 57), (88, 70, 76)),
    "red": ((49, 92, 40), (73, 84, 56)),
    "magenta": ((51, 92, 344), (76, 60, 350)),
    "violet": ((36, 96, 309), (66, 58, 310)),
    "blue": ((43, 88, 288), (74, 42, 268)),
    "cyan": ((66, 62, 222), (87, 36, 205)),
    "green": ((68, 92, 145), (90, 62, 128)),
    "lime": ((82, 95, 118), (94, 66, 108)),
    "cream": ((90, 44, 80), (98, 24, 92)),
}
"""Colour of the paper with light behind it, and of the place nearest the flame: L*, C*, hue."""


@dataclass(frozen=True)
class Lantern:
    """One lantern.

    Parameters
    ----------
    place : (x, y, z), metres
        Centre of a hanging lantern; middle of the foot of a floating one.
    paper : str
        A name in `PAPERS`.
    size : float, metres
        Radius of a hanging lantern; width of a floating one.
    power : float
        How brightly it burns; 1 is a fresh candle.
    floats : bool
        Floating, or hanging.
    turn : float
        Angle of a floating one, degrees; the seed of the paper's fibres too.
    """

    place: tuple[float, float, float]
    paper: str = "amber"
    size: float = 0.26
    power: float = 1.0
    floats: bool = False
    turn: float = 20.0

    @property
    def lamp(self) -> Lamp:
        """The light it gives to its surroundings."""
        body, core = (lch(*c) for c in PAPERS[self.paper])
        colour = (0.6 * body + 0.4 * core) * self.power * 1.35 * (self.size / 0.26) ** 2
        x, y, z = self.place
        lift = 0.7 * self.size if self.floats else 0.0
        r, g, b = (float(c) for c in colour)
        return Lamp((x, y + lift, z), (r, g, b), size=max(0.3, 1.2 * self.size))

    def draw(self, canvas: Floats, camera: Camera) -> None:
        """Paint it on the canvas, in place."""
        if self.floats:
            _floating(canvas, camera, self)
        else:
            _hanging(canvas, camera, self)


def _glow(lantern: Lantern, across: Floats, up: Floats, thick: Floats) -> Floats:
    """Light through the paper: strongest and palest near the flame, deeper in colour away from it."""
    body, core = (lch(*c) for c in PAPERS[lantern.paper])
    flame = np.exp(-((across / 0.60) ** 2) - ((up + 0.18) / 0.60) ** 2)
    level = (0.42 + 1.20 * flame) * thick * lantern.power
    mix = np.clip(0.80 * flame**1.4 * lantern.power, 0, 0.95)[..., None]
    return np.asarray((body * (1 - mix) + core * mix) * level[..., None], np.float32)


def _hanging(canvas: Floats, camera: Camera, lantern: Lantern) -> None:
    x, y, z = lantern.place
    radius = camera.pixels(lantern.size, z)
    if radius < 1.5:
        return
    tall = 0.90  # height against width
    margin = 1.18
    half = int(radius * margin) + 2
    cx, cy = (float(c) for c in camera.project(np.array([x, y, z])))
    left, top = int(np.floor(cx)) - half, int(np.floor(cy)) - half
    side = 2 * half + 1
    u = ((np.arange(side, dtype=np.float32) + 0.5 + left - cx) / radius)[None]
    v = -((np.arange(side, dtype=np.float32) + 0.5 + top - cy) / radius)[:, None]
    if camera.mirrored:
        v = -v
    ribs = 11 if radius > 22 else 7
    latitude = np.clip(v / tall, -1, 1)
    phase = (latitude * 0.5 + 0.5) * ribs
    puff = np.abs(np.sin(np.pi * phase))
    girth = np.sqrt(np.maximum(1 - np.abs(latitude) ** 2.3, 0)) * (0.985 + 0.022 * puff)
    soft = 1.3 / radius
    alpha = step(-soft, soft, girth - np.abs(u)) * step(-soft, soft, tall * 0.93 - np.abs(v))
    across = u / np.maximum(girth, 0.05)
    limb = np.sqrt(np.maximum(1 - np.clip(across, -1, 1) ** 2, 0))
    seams = 1 - 0.10 * np.exp(-((np.sin(np.arcsin(np.clip(across, -1, 1)) * 6 + lantern.turn) / 0.10) ** 2))
    shape = (side, side)
    seed = 700 + int(abs(lantern.turn) * 10)
    fibre = cloud(seed, shape, (26, 26), 5, 0.75) + 0.6 * cloud(seed + 1, shape, (9, 60), 4, 0.7)
    blotch = cloud(seed + 2, shape, (4, 5), 3)
    strength = min(1.0, radius / 60)
    paper = (1 + strength * (0.075 * fibre + 0.05 * blotch)) * seams
    wire = np.exp(-(((phase - np.rint(phase)) * 2 * tall * radius / ribs / max(0.9, 0.011 * radius)) ** 2))
    thick = (0.42 + 0.58 * limb) * (0.74 + 0.26 * puff) * (1 - 0.62 * strength * wire) * paper
    colour = _glow(lantern, across * 0.9, v, np.maximum(thick, 0.02))
    for end in (1, -1):
        cap = step(-soft, soft, 0.30 - np.abs(u)) * step(-soft, soft, 0.055 - np.abs(v - end * tall * 0.955))
        rim = (0.5 + 0.5 * np.cos(np.clip(u / 0.30, -1, 1) * 2.6)) * 0.05
        colour = colour * (1 - cap[..., None]) + (cap * rim)[..., None] * lch(52, 30, 66)
        alpha = np.maximum(alpha, cap)
    over(canvas, top, left, colour * alpha[..., None], alpha)
    _tassel(canvas, camera, lantern, radius, (cx, cy))


def _tassel(canvas: Floats, camera: Camera, lantern: Lantern, radius: float, at: tuple[float, float]) -> None:
    if radius < 18:
        return
    rng = np.random.default_rng(int(abs(lantern.turn) * 7) + 5)
    threads, steps = 36, max(20, int(radius * 0.9))
    t = np.linspace(0, 1, steps, dtype=np.float32)[None]
    spread = rng.normal(0, 0.035, (threads, 1)).astype(np.float32)
    sway = rng.normal(0, 0.02, (threads, 1)).astype(np.float32)
    length = rng.uniform(0.55, 0.72, (threads, 1)).astype(np.float32)
    x = (0.02 * np.sign(spread) + spread * (0.45 + 0.75 * t) + sway * t**2) * radius
    y = (0.93 + length * t) * radius * (-1 if camera.mirrored else 1)
    body = lch(*PAPERS[lantern.paper][0])
    colour = body * (0.30 * (1 - 0.75 * t) + 0.02)[..., None] * rng.uniform(0.5, 1.2, (threads, 1, 1))
    xy = np.stack([x + at[0], np.broadcast_to(y, x.shape) + at[1]], axis=-1)
    area = np.full(x.shape, 0.62 * radius / steps * max(1.0, radius / 110))
    dabs(canvas, xy, area, np.broadcast_to(colour, (*x.shape, 3)))


def _floating(canvas: Floats, camera: Camera, lantern: Lantern) -> None:
    x, y, z = lantern.place
    width = lantern.size
    pixels = camera.pixels(width, z)
    if pixels < 2:
        return
    angle = np.radians(lantern.turn % 90 - 45)
    right = np.array([np.cos(angle), 0, np.sin(angle)], np.float32) * width / 2
    back = np.array([-np.sin(angle), 0, np.cos(angle)], np.float32) * width / 2
    foot = np.array([x, y, z], np.float32)
    base, tall = 0.16 * width, 1.12 * width
    _raft(canvas, camera, foot, right, back, base, lantern)
    rows = int(np.clip(pixels * 1.1, 6, 520))
    cols = int(np.clip(pixels, 6, 480))
    faces = ((-back, right), (-right, -back), (right, back), (back, -right))
    view = np.array([0 - x, 0, 0 - z], np.float32)
    turned = [float(n @ view) / float(np.linalg.norm(n) * np.linalg.norm(view)) for n, _ in faces]
    for number in np.argsort(turned):  # those turned away first: their inside shows over the open top
        normal, along = faces[number]
        lit = _face(lantern, rows, cols, int(number), abs(turned[number]))
        if turned[number] < 0:
            lit[..., :3] *= 1.25
        corner = foot + 0.94 * normal - 0.94 * along + np.array([0, base, 0], np.float32)
        Quad(lit, corner, 1.88 * along, np.array([0, tall, 0], np.float32)).draw(canvas, camera)


def _face(lantern: Lantern, rows: int, cols: int, number: int, facing: float) -> Floats:
    v = np.linspace(1, -1, rows, dtype=np.float32)[:, None]
    u = np.linspace(-1, 1, cols, dtype=np.float32)[None]
    seed = 900 + int(abs(lantern.turn) * 13) + number
    fibre = cloud(seed, (rows, cols), (30, 30), 4, 0.75) + 0.8 * cloud(seed + 4, (rows, cols), (50, 12), 3, 0.7)
    strength = min(1.0, cols / 90)
    wrinkle = cloud(seed + 8, (rows, cols), (5, 7), 3)
    thick = (0.60 + 0.40 * facing) * (1 + strength * (0.06 * fibre + 0.09 * wrinkle))
    colour = _glow(lantern, u * 0.72, v * 0.80 + 0.30, np.maximum(thick * np.ones_like(u + v), 0.02))
    frame = np.maximum(step(0.90, 0.95, np.abs(u)), step(0.95, 0.975, np.abs(v)))
    colour *= (1 - 0.80 * frame)[..., None]
    return np.concatenate([colour, np.ones((rows, cols, 1), np.float32)], axis=-1).astype(np.float32)


def _raft(
    canvas: Floats, camera: Camera, foot: Floats, right: Floats, back: Floats, base: float, lantern: Lantern
) -> None:
    """The dark wooden float below, its upper side lit by the paper above."""
    body = lch(*PAPERS[lantern.paper][0])
    up = np.array([0, base, 0], np.float32)
    wood = lch(30, 24, 62)
    for normal, along in ((-back, right), (-right, -back), (right, back)):
        lit = np.ones((8, 24, 4), np.float32)
        lit[..., :3] = wood * (0.05 + 0.25 * body) * np.linspace(1.3, 0.5, 8, dtype=np.float32)[:, None, None]
        Quad(lit, foot + 1.25 * normal - 1.25 * along, 2.5 * along, up).draw(canvas, camera)
    lit = np.ones((16, 16, 4), np.float32)
    lit[..., :3] = wood * (0.1 + 1.0 * body) * lantern.power
    Quad(lit, foot + up - 1.25 * right - 1.25 * back, 2.5 * right, 2.5 * back).draw(canvas, camera)


def halo(canvas: Floats) -> None:
    """Light scattered by the air and the lens around whatever is bright; added in place."""
    import cv2

    height, width = canvas.shape[:2]
    small = cv2.resize(canvas, (max(2, width // 4), max(2, height // 4)), interpolation=cv2.INTER_AREA)
    peak = small.max(axis=-1, keepdims=True)
    bright = small * step(0.25, 1.0, peak)
    scatter = np.zeros_like(bright)
    for share, reach in ((0.16, 0.006), (0.10, 0.02), (0.085, 0.06), (0.035, 0.16)):
        factor = max(1, int(reach * height / 4 / 6))
        tiny = cv2.resize(
            bright, (max(2, bright.shape[1] // factor), max(2, bright.shape[0] // factor)), interpolation=cv2.INTER_AREA
        )
        tiny = blurred(tiny, reach * height / 4 / factor)
        scatter += share * cv2.resize(tiny, (bright.shape[1], bright.shape[0]), interpolation=cv2.INTER_LINEAR)
    canvas += cv2.resize(scatter, (width, height), interpolation=cv2.INTER_LINEAR)
