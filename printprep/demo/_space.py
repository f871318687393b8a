"""Where things are and how light reaches them: the camera, the lamps, and surfaces of any shape."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from printprep.colour.lab import Floats
from printprep.demo._paint import at_size, over, painted

EYE = 2.0
"""Metres of the camera above the water."""


@dataclass(frozen=True)
class Camera:
    """A level pinhole camera over the water; mirrored, it sees the scene upside down, as the water shows it.

    Metres: x to the right, y up from the water, z away from the camera. Pixels: y down. The focal length, and where the
    view direction meets the picture from the top left, are in picture heights.
    """

    width: int
    height: int
    focal: float = 1.25
    centre: tuple[float, float] = (0.62, 0.43)
    mirrored: bool = False

    def mirror(self, scale: float) -> Camera:
        """The view that the water reflects, at a fraction of the resolution."""
        return replace(self, width=round(self.width * scale), height=round(self.height * scale), mirrored=True)

    def project(self, points: ArrayLike) -> Floats:
        """Pixels (..., 2) of points in metres (..., 3)."""
        p = np.asarray(points, np.float32)
        y = -p[..., 1] if self.mirrored else p[..., 1]
        z = np.maximum(p[..., 2], 0.05)
        across = self.centre[0] + self.focal * p[..., 0] / z
        down = self.centre[1] - self.focal * (y - EYE) / z
        return np.stack([across, down], axis=-1).astype(np.float32) * np.float32(self.height)

    def size(self, net: Floats) -> tuple[int, int]:
        """Rows and columns that suit a surface: between what its nearest part and what most of it asks for."""
        edge = 0.05 * self.height
        xy = np.clip(self.project(net), -edge, np.array([self.width, self.height]) + edge)
        steps = [np.linalg.norm(np.diff(xy, axis=k), axis=-1) for k in (0, 1)]
        rows, cols = (s.shape[k] * np.sqrt(s.max() * s.mean()) for k, s in enumerate(steps))
        return int(np.clip(0.9 * rows, 3, 3000)), int(np.clip(0.9 * cols, 3, 3000))


@dataclass(frozen=True)
class Lamp:
    """A small light: its place, colour times strength, and the metres within which its light no longer grows."""

    place: Floats
    colour: Floats
    size: float


@dataclass(frozen=True)
class Light:
    """All that shines: the lamps, and the sky from above."""

    lamps: tuple[Lamp, ...]
    sky: Floats

    def on(self, points: Floats, normal: Floats, shade: float) -> tuple[Floats, Floats]:
        """Light on a surface that sees so much of the sky (0..1): irradiance (..., 3), linear RGB.

        Then the same as vectors (..., xyz, RGB), so that small relief can be lit.
        """
        p = np.asarray(points, np.float32).reshape(-1, 3)
        n = np.broadcast_to(normal, points.shape).reshape(-1, 3)
        places = np.stack([lamp.place for lamp in self.lamps]).astype(np.float32)
        colours = np.stack([lamp.colour for lamp in self.lamps]).astype(np.float32)
        sizes = np.array([lamp.size for lamp in self.lamps], np.float32)
        square = np.maximum((p * p).sum(1)[:, None] + (places * places).sum(1) - 2 * p @ places.T, 1e-4)
        distance = np.sqrt(square)
        cosine = (n @ places.T - (n * p).sum(1)[:, None]) / distance
        wide = np.clip(0.6 * sizes / distance, 0, 0.5)  # a wide lamp lights a little way round the corner
        facing = np.maximum(cosine + wide, 0) / (1 + wide)
        fall = 1 / (square + sizes**2)
        total = (facing * fall) @ colours + (0.5 + 0.5 * n[:, 1:2]) * shade * self.sky
        slant = np.empty((len(p), 3, 3), np.float32)
        for c in range(3):
            by = (facing > 0) * fall / distance * colours[:, c]
            slant[:, :, c] = by @ places - by.sum(1, keepdims=True) * p
        slant[:, 1, :] += 0.5 * shade * self.sky
        return total.astype(np.float32).reshape(points.shape), slant.reshape(*points.shape, 3)


@dataclass(frozen=True)
class Texture:
    """A surface: reflectance (h, w, 3), relief in texture pixels and cover, 0 where it has holes to 1, (h, w)."""

    albedo: Floats
    relief: Floats | None = None
    cover: Floats | None = None


Matter = Callable[[tuple[int, int], tuple[float, float]], Texture]
"""Makes a texture of a size in pixels for a surface of a size in metres, both down and across."""


@dataclass(frozen=True)
class Prop:
    """A piece of the scene: a net of points (a, b, 3) in metres, laid out as its texture is, and what it is made of.

    `shade` is how much of the sky it sees, 0 to 1, `pieces` how many flat ones it is drawn in, down and across: more
    where it bends or runs into the distance. The colours of what `glows` are light of its own.
    """

    net: Floats
    matter: Matter
    shade: float = 1.0
    pieces: tuple[int, int] = (1, 1)
    glows: bool = False

    def lit(self, light: Light, camera: Camera) -> LitProp:
        """As it looks from the camera's side, ready to be drawn."""
        import cv2

        net, size = self.net, camera.size(self.net)
        ways = [np.gradient(net, axis=1), -np.gradient(net, axis=0)]
        down, across = (float(np.linalg.norm(np.diff(net, axis=k), axis=-1).sum(axis=k).max()) for k in (0, 1))
        texture = self.matter(size, (down, across))
        if self.glows:
            return LitProp(texture.albedo, texture.cover, net, self.pieces)
        ways = [w / (np.linalg.norm(w, axis=-1, keepdims=True) + 1e-9) for w in ways]
        normal = np.cross(ways[0], ways[1])
        normal /= np.linalg.norm(normal, axis=-1, keepdims=True) + 1e-9
        if (((net - (0, EYE, 0)) * normal).sum(axis=-1) > 0).mean() > 0.5:  # away from the camera
            normal = -normal
        total, slant = light.on(net, normal, self.shade)
        colour = at_size(total, *size)
        colour *= texture.albedo
        if texture.relief is not None:
            share = slant.sum(axis=-1) / (total.sum(axis=-1, keepdims=True) + 1e-6)  # of the light, for each slope
            facing = np.ones(size, np.float32)
            for (dx, dy), way in zip(((1, 0), (0, 1)), ways, strict=True):
                slope = cv2.Sobel(texture.relief, cv2.CV_32F, dx, dy, ksize=1, scale=0.5 if dy else -0.5)
                facing += slope * at_size((share * way).sum(axis=-1).astype(np.float32), *size)
            colour *= painted(np.maximum(facing, 0))
        return LitProp(colour, texture.cover, net, self.pieces)


@dataclass(frozen=True)
class LitProp:
    """A part with light on it."""

    colour: Floats
    cover: Floats | None
    net: Floats
    pieces: tuple[int, int]

    def draw(self, canvas: Floats, camera: Camera, left: int = 0) -> None:
        """Paint it piece by piece, in place, on a canvas whose first column is the view's column `left`."""
        height, width = self.colour.shape[:2]
        down, across = min(self.pieces[0], height), min(self.pieces[1], width)
        ends = ((self.net.shape[0] - 1, down), (self.net.shape[1] - 1, across), (height, down), (width, across))
        a, b, cut_y, cut_x = (np.rint(np.linspace(0, n, k + 1)).astype(int) for n, k in ends)
        xy = camera.project(self.net[np.ix_(a, b)]) - np.array([left, 0], np.float32)
        for i in range(down):
            for j in range(across):
                quad = np.stack([xy[i, j], xy[i, j + 1], xy[i + 1, j + 1], xy[i + 1, j]])
                part = np.s_[cut_y[i] : cut_y[i + 1], cut_x[j] : cut_x[j + 1]]
                cover = None if self.cover is None else self.cover[part]
                _draw(canvas, quad, self.colour[part], cover, (i < down - 1, j < across - 1))


def _draw(canvas: Floats, quad: Floats, colour: Floats, cover: Floats | None, on: tuple[bool, bool]) -> None:
    """Paint one flat piece; `on`: whether others follow below and to the right, which it reaches under."""
    import cv2

    within = np.array(canvas.shape[1::-1])
    if (quad.max(axis=0) < 0).any() or (quad.min(axis=0) > within).any():
        return
    left, top = np.floor(np.clip(quad.min(axis=0), 0, within)).astype(int) - 2
    right, bottom = np.ceil(np.clip(quad.max(axis=0), 0, within)).astype(int) + 2
    side = np.linalg.norm(quad - np.roll(quad, -1, axis=0), axis=1)
    want = (int(max(side[1], side[3], 2)), int(max(side[0], side[2], 2)))
    size = colour.shape[:2]
    if want[0] < 0.8 * size[0] or want[1] < 0.8 * size[1]:
        size = (min(size[0], want[0]), min(size[1], want[1]))
        colour, cover = at_size(colour, *size), None if cover is None else at_size(cover, *size)
    place = quad - np.array([left, top], np.float32)
    ends = np.array([[0, 0], [size[1], 0], [size[1], size[0]], [0, size[0]]], np.float32) - 0.5
    matrix = cv2.getPerspectiveTransform(ends, place - 0.5)
    area = (int(right - left), int(bottom - top))
    how = {"flags": cv2.INTER_LINEAR, "borderMode": cv2.BORDER_REPLICATE}
    coat = cv2.warpPerspective(colour, matrix, area, **how)
    outline = place.copy()
    for follows, a, b in ((on[0], (0, 1), (3, 2)), (on[1], (0, 3), (1, 2))):
        if follows:  # without this, what lies behind shows through the seam
            reach = place[list(b)] - place[list(a)]
            outline[list(b)] += 1.5 * reach / (np.linalg.norm(reach, axis=1, keepdims=True) + 1e-6)
    mask = np.zeros(area[::-1], np.uint8)
    cv2.fillConvexPoly(mask, np.rint((outline - 0.5) * 256).astype(np.int32), 255, lineType=cv2.LINE_AA, shift=8)
    alpha = mask * np.float32(1 / 255)
    if cover is not None:
        alpha *= cv2.warpPerspective(cover, matrix, area, **how)
    over(canvas, int(top), int(left), coat, alpha)


def flat(corner: ArrayLike, along: ArrayLike, up: ArrayLike, rows: int = 10, cols: int = 16) -> Floats:
    """A net over a rectangle, from its lower left corner and its two edges; the first row is the upper edge."""
    start, edge, rise = (np.asarray(v, np.float32) for v in (corner, along, up))
    u, v = np.linspace(0, 1, cols, dtype=np.float32)[:, None], np.linspace(1, 0, rows, dtype=np.float32)[:, None, None]
    return np.asarray(start + u * edge + v * rise, np.float32)


def rod(line: ArrayLike, radius: ArrayLike) -> Floats:
    """A net over the side that is seen of a round rod, along a line (n, 3) of metres."""
    middle = np.asarray(line, np.float32)
    tangent = np.gradient(middle, axis=0)
    side = np.cross(tangent, np.array([0, EYE, 0], np.float32) - middle)
    side /= np.linalg.norm(side, axis=-1, keepdims=True) + 1e-9
    front = np.cross(side, tangent)
    front /= np.linalg.norm(front, axis=-1, keepdims=True) + 1e-9
    a = np.linspace(-1, 1, 9, dtype=np.float32)[None, :, None] * np.pi / 2
    wide = np.broadcast_to(np.asarray(radius, np.float32), len(middle))[:, None, None]
    return np.asarray(middle[:, None] + wide * (side[:, None] * np.sin(a) + front[:, None] * np.cos(a)), np.float32)


def straight(foot: ArrayLike, head: ArrayLike, count: int = 12, sag: float = 0.0) -> Floats:
    """Points (count, 3) on a line between two, which may sag."""
    a, b = np.asarray(foot, np.float32), np.asarray(head, np.float32)
    t = np.linspace(0, 1, count, dtype=np.float32)[:, None]
    return np.asarray(a + (b - a) * t - np.array([0, 4 * sag, 0], np.float32) * t * (1 - t), np.float32)
