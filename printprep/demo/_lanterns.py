"""Paper lanterns: round ones that hang, square ones that float."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from printprep.colour.lab import Floats
from printprep.demo._matter import coat, uv
from printprep.demo._paint import at_size, blurred, cloud, lch, painted, step
from printprep.demo._space import EYE, Lamp, Matter, Prop, Texture, flat

_PAPERS = {
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
    """One lantern, in metres: centre and radius where it hangs, foot and width where it floats, turned by degrees."""

    place: tuple[float, float, float]
    paper: str
    size: float
    turn: float | None = None

    @property
    def lamp(self) -> Lamp:
        """The light it gives to its surroundings."""
        body, core = (lch(*c) for c in _PAPERS[self.paper])
        lift = 0.0 if self.turn is None else 0.7 * self.size
        colour = (0.6 * body + 0.4 * core) * np.float32(1.2 * (self.size / 0.26) ** 2)
        return Lamp(np.add(self.place, (0, lift, 0)), colour, size=max(0.3, 1.2 * self.size))

    def parts(self) -> list[Prop]:
        """What it is made of, in painting order."""
        if self.turn is not None:
            return self._floating(self.turn)
        x, y, z = self.place
        size = self.size
        net = flat((x - 1.1 * size, y - 1.75 * size, z), (2.2 * size, 0, 0), (0, 2.85 * size, 0), 2, 2)
        return [Prop(net, self._hanging, glows=True)]

    def _glow(self, across: Floats, up: Floats, thick: Floats) -> Floats:
        """Light through the paper: strongest and palest near the flame, deeper in colour away from it."""
        body, core = (lch(*c) for c in _PAPERS[self.paper])
        flame = np.exp(-((across / 0.60) ** 2) - ((up + 0.18) / 0.60) ** 2)
        level = (0.42 + 1.20 * flame) * thick
        pale = 0.80 * flame**1.4 * level
        return painted(level - pale, body) + painted(pale, core)

    def _hanging(self, size: tuple[int, int], metres: tuple[float, float]) -> Texture:
        across, down = uv(size)
        u, v = (across - 0.5) * 2.2, 1.10 - down * 2.85
        radius, tall = size[1] / 2.2, 0.90
        fine = min(1.0, radius / 60)
        ribs = 11 if radius > 22 else 7
        latitude = np.clip(v / tall, -1, 1)
        phase = (latitude * 0.5 + 0.5) * ribs
        puff = np.abs(np.sin(np.pi * phase))
        girth = np.sqrt(np.maximum(1 - np.abs(latitude) ** 2.3, 0)) * (0.985 + 0.022 * puff)
        soft = 1.3 / radius
        cover = step(-soft, soft, girth - np.abs(u)) * step(-soft, soft, tall * 0.93 - np.abs(v))
        round_ = np.clip(u / np.maximum(girth, 0.05), -1, 1)
        limb = np.sqrt(np.maximum(1 - round_**2, 0))
        seams = 1 - 0.10 * np.exp(-((np.sin(np.arcsin(round_) * 6 + self.size * 99) / 0.10) ** 2))
        wire = np.exp(-(((phase - np.rint(phase)) * 2 * tall * radius / ribs / max(0.9, 0.011 * radius)) ** 2))
        thick = (0.42 + 0.58 * limb) * (0.74 + 0.26 * puff) * (1 - 0.62 * fine * wire) * seams
        colour = self._glow(round_ * 0.9, v, np.maximum(thick * (1 + 0.12 * fine * at_size(_paper(), *size)), 0.02))
        t = np.clip((-v - 0.93) / 0.66, 0, 1)  # down the tassel
        threads = np.abs(cloud(7, (2, size[1]), (2, 110), 1)[:1])
        tassel = step(-soft, soft, 0.035 + 0.05 * t - np.abs(u)) * step(0.2, 0.9, threads)
        tassel = tassel * (v < -0.93) * step(1.0, 0.75, t)
        colour += painted(tassel * (1 - cover) * (0.03 + 0.25 * (1 - t) ** 2), lch(*_PAPERS[self.paper][0]))
        cap = step(-soft, soft, 0.30 - np.abs(u)) * step(-soft, soft, 0.055 - np.abs(np.abs(v) - tall * 0.955))
        colour *= painted(1 - cap)
        colour += painted(cap * (0.5 + 0.5 * np.cos(np.clip(u / 0.30, -1, 1) * 2.6)) * 0.05, lch(52, 30, 66))
        return Texture(colour, cover=np.maximum(np.maximum(cover, cap), tassel).astype(np.float32))

    def _floating(self, turn: float) -> list[Prop]:
        """Four sheets of paper in a frame, on a raft; those turned away first, for they show over the open top."""
        foot, width = np.array(self.place, np.float32), self.size
        angle = np.radians(turn % 90 - 45)
        right = np.array([np.cos(angle), 0, np.sin(angle)]) * width / 2
        back = np.array([-np.sin(angle), 0, np.cos(angle)]) * width / 2
        up = np.array([0, 0.16 * width, 0])
        toward = np.array([0, EYE, 0]) - foot
        toward /= np.hypot(toward[0], toward[2]) * width / 2
        faces = sorted((float(n @ toward), k) for k, n in enumerate((-back, -right, back, right)))
        wood = coat((18, 15, 62))
        raft, papers = [], []
        for facing, k in faces:
            out, along = ((-back, right), (-right, -back), (back, -right), (right, back))[k]
            if facing > 0:
                raft.append(Prop(flat(foot + 1.25 * (out - along), 2.5 * along, up), wood))
            net = flat(foot + up + 0.94 * (out - along), 1.88 * along, (0, 1.12 * width, 0), 2, 2)
            papers.append(Prop(net, self._face(k, abs(facing), 1.25 if facing < 0 else 1.0), glows=True))
        raft.append(Prop(flat(foot + up - 1.25 * (right + back), 2.5 * right, 2.5 * back), wood))
        return raft + papers

    def _face(self, number: int, facing: float, light: float) -> Matter:
        def made(size: tuple[int, int], metres: tuple[float, float]) -> Texture:
            across, down = uv(size)
            u, v = 2 * across - 1, 1 - 2 * down
            fibre = min(1.0, size[1] / 90) * at_size(_paper(), *size)
            thick = np.maximum((0.60 + 0.40 * facing) * (1 + 0.13 * (fibre if number % 2 else fibre[::-1, ::-1])), 0.02)
            frame = np.maximum(step(0.90, 0.95, np.abs(u)), step(0.95, 0.975, np.abs(v)))
            return Texture(self._glow(u * 0.72, v * 0.80 + 0.30, thick) * painted(light * (1 - 0.80 * frame)))

        return made


@cache
def _paper() -> Floats:
    """Hand-made paper: fibres, and places where it is thicker."""
    side = (400, 400)
    long, thick = cloud(701, side, (9, 60), 4, 0.7), cloud(702, side, (4, 5), 3)
    return cloud(700, side, (26, 26), 5, 0.75) + 0.6 * (long + thick)


def halo(canvas: Floats) -> Floats:
    """Light scattered by the air and the lens around whatever is bright, at a quarter of the size."""
    height, width = canvas.shape[:2]
    small = at_size(canvas, max(2, height // 4), max(2, width // 4))
    small *= step(0.25, 1.0, small.max(axis=-1, keepdims=True))
    scatter = np.zeros_like(small)
    for share, reach in ((0.16, 0.006), (0.10, 0.02), (0.085, 0.06), (0.035, 0.16)):
        factor = max(1, int(reach * height / 4 / 6))
        tiny = at_size(small, max(2, small.shape[0] // factor), max(2, small.shape[1] // factor))
        scatter += share * at_size(blurred(tiny, reach * height / 4 / factor), *small.shape[:2])
    return scatter
