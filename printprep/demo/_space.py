"""Where things are and how light reaches them: the camera, the lamps, flat panels and curved sheets."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.demo._paint import Floats, dabs, over, resized, tripled


@dataclass(frozen=True)
class Camera:
    """A level pinhole camera over the water.

    Metres: x to the right, y up from the water, z away from the camera. Pixels: y down.
    """

    width: int
    height: int
    focal: float = 1.25
    """Focal length in picture heights."""
    centre: tuple[float, float] = (0.62, 0.43)
    """Where the view direction meets the picture, in picture heights from the top left."""
    eye: float = 2.0
    """Metres above the water."""
    mirrored: bool = False
    """See the scene upside down, as the water shows it."""

    def mirror(self, scale: float) -> Camera:
        """The view that the water reflects, at a fraction of the resolution."""
        return replace(self, width=round(self.width * scale), height=round(self.height * scale), mirrored=True)

    def project(self, points: ArrayLike) -> Floats:
        """Pixels (..., 2) of points in metres (..., 3)."""
        p = np.asarray(points, np.float32)
        y = -p[..., 1] if self.mirrored else p[..., 1]
        z = np.maximum(p[..., 2], 0.05)
        across = self.centre[0] + self.focal * p[..., 0] / z
        down = self.centre[1] - self.focal * (y - self.eye) / z
        return np.stack([across, down], axis=-1).astype(np.float32) * np.float32(self.height)

    def pixels(self, metres: float, depth: float) -> float:
        """Length in pixels of something so many metres long at that depth."""
        return self.focal * metres / depth * self.height


@dataclass(frozen=True)
class Lamp:
    """A small source of light: place in metres, linear colour times strength."""

    place: tuple[float, float, float]
    colour: tuple[float, float, float]
    size: float = 0.25
    """Metres within which its light no longer grows."""


@dataclass(frozen=True)
class Light:
    """All that shines: the lamps, and the sky from above."""

    lamps: tuple[Lamp, ...]
    sky: tuple[float, float, float]

    def on(self, points: Floats, normal: Floats, shade: Floats | float = 1.0) -> Floats:
        """Light on a surface.

        Parameters
        ----------
        points : (..., 3) ndarray
            Metres.
        normal : (..., 3) or (3,) ndarray
            Unit normals of the surface.
        shade : (...) ndarray or float
            How much of the sky is seen, 0 to 1.

        Returns
        -------
        (..., 3) ndarray
            Irradiance, linear RGB.
        """
        return self._gather(points, normal, shade, slanted=False)[0]

    def slanted(self, points: Floats, normal: Floats, shade: Floats | float = 1.0) -> tuple[Floats, Floats]:
        """The same as `on`, and as a vector for each channel (..., xyz, rgb), so that small relief can be lit."""
        return self._gather(points, normal, shade, slanted=True)

    def _gather(self, points: Floats, normal: Floats, shade: Floats | float, *, slanted: bool) -> tuple[Floats, Floats]:
        p = np.asarray(points, np.float32).reshape(-1, 3)
        n = np.broadcast_to(normal, points.shape).reshape(-1, 3)
        seen = np.broadcast_to(np.asarray(shade, np.float32), points.shape[:-1]).reshape(-1, 1)
        places = np.array([lamp.place for lamp in self.lamps], np.float32)
        colours = np.array([lamp.colour for lamp in self.lamps], np.float32)
        sizes = np.array([lamp.size for lamp in self.lamps], np.float32)
        square = (p * p).sum(1)[:, None] + (places * places).sum(1) - 2 * p @ places.T
        square = np.maximum(square, 1e-4)
        distance = np.sqrt(square)
        cosine = (n @ places.T - (n * p).sum(1)[:, None]) / distance
        wide = np.clip(0.6 * sizes / distance, 0, 0.5)  # a wide lamp lights a little way round the corner
        facing = np.maximum(cosine + wide, 0) / (1 + wide)
        strength = facing / (square + sizes**2)
        sky = np.asarray(self.sky, np.float32)
        total = strength @ colours + (0.5 + 0.5 * n[:, 1:2]) * seen * sky
        slant = np.zeros((1, 3, 3), np.float32)
        if slanted:
            slant = np.empty((len(p), 3, 3), np.float32)
            for c in range(3):
                by = (facing > 0) / ((square + sizes**2) * distance) * colours[:, c]
                slant[:, :, c] = by @ places - by.sum(1, keepdims=True) * p
            slant[:, 1, :] += 0.5 * seen * sky
            slant = slant.reshape(*points.shape, 3)
        return total.astype(np.float32).reshape(points.shape), slant


@dataclass(frozen=True)
class Texture:
    """What a surface is made of: reflectance, relief, and where it has holes."""

    albedo: Floats
    """(h, w, 3) linear."""
    relief: Floats | None = None
    """(h, w) height, in texture pixels."""
    cover: Floats | None = None
    """(h, w) 0..1."""


@dataclass(frozen=True)
class Quad:
    """A flat piece as lit: colours multiplied by coverage, and where its corners are."""

    lit: Floats
    """(h, w, 4)."""
    corner: Floats
    along: Floats
    up: Floats
    pieces: int = 1

    def draw(self, canvas: Floats, camera: Camera) -> None:
        """Paint it on the canvas, in place."""
        width = self.lit.shape[1]
        for piece in range(self.pieces):
            a, b = piece / self.pieces, (piece + 1) / self.pieces
            cut = self.lit[:, round(a * width) : round(b * width)]
            _warp(canvas, camera, self.corner + a * self.along, (b - a) * self.along, self.up, cut)


@dataclass(frozen=True)
class Dabs:
    """A curved piece as lit: many points with colours, in a net that tells how much each covers."""

    colour: Floats
    """(h, w, 3)."""
    points: Floats
    """(a, b, 3) metres, a coarse net."""
    soft: float = 0.0
    """Blur, in picture heights."""

    def draw(self, canvas: Floats, camera: Camera) -> None:
        """Paint it on the canvas, in place."""
        net = camera.project(self.points)
        spans = [np.linalg.norm(np.diff(net, axis=k), axis=-1).sum(axis=k).max() for k in (0, 1)]
        dense = 1.6 if min(spans) > 60 else 3.0  # narrow slanted strips need more, or gaps show
        rows, cols = (int(np.clip(dense * span, 4, 4000)) for span in spans)
        colour = resized(self.colour, rows, cols)
        xy = resized(net, rows, cols)
        dx, dy = np.gradient(xy, axis=1), np.gradient(xy, axis=0)
        area = np.abs(dx[..., 0] * dy[..., 1] - dx[..., 1] * dy[..., 0])
        dabs(canvas, xy, area, colour, soft=self.soft * camera.height, solid=True)


def panel(
    light: Light,
    corner: ArrayLike,
    along: ArrayLike,
    up: ArrayLike,
    texture: Texture,
    *,
    outward: ArrayLike,
    shade: Floats | float = 1.0,
    pieces: int = 1,
) -> Quad:
    """Light a flat, textured rectangle.

    Parameters
    ----------
    light : Light
        What shines on it.
    corner, along, up : (3,) array_like, metres
        The texture's lower left corner, and its two edges from there.
    texture : Texture
        Its first row is the upper edge.
    outward : (3,) array_like
        Unit normal on the side that is seen.
    shade : float or (a, b) ndarray
        How much of the sky is seen over the panel; an array is stretched over it.
    pieces : int
        Cut along the first edge, each with its own resolution, for panels that run into the distance.
    """
    start, edge, rise = (np.asarray(v, np.float32) for v in (corner, along, up))
    height, width = texture.albedo.shape[:2]
    rows, cols = max(2, min(48, height // 4)), max(2, min(80, width // 4))
    v, u = np.meshgrid(np.linspace(1, 0, rows), np.linspace(0, 1, cols), indexing="ij")
    points = (start + u[..., None] * edge + v[..., None] * rise).astype(np.float32)
    if not isinstance(shade, float):
        shade = resized(np.asarray(shade, np.float32), rows, cols)
    total, slant = light.slanted(points, np.asarray(outward, np.float32), shade)
    irradiance = resized(total, height, width)
    if texture.relief is not None:
        slopes = (np.gradient(texture.relief, axis=1), -np.gradient(texture.relief, axis=0))
        for slope, way in zip(slopes, (edge, rise), strict=True):
            toward = np.einsum("...ic,i", slant, way / np.linalg.norm(way)).astype(np.float32)
            irradiance -= tripled(slope) * resized(toward, height, width)
        np.maximum(irradiance, 0, out=irradiance)
    lit = np.empty((height, width, 4), np.float32)
    np.multiply(texture.albedo, irradiance, out=lit[..., :3])
    lit[..., 3] = 1.0
    if texture.cover is not None:
        lit[..., :3] *= tripled(texture.cover)
        lit[..., 3] = texture.cover
    return Quad(lit, start, edge, rise, pieces)


def _warp(canvas: Floats, camera: Camera, corner: Floats, along: Floats, up: Floats, lit: Floats) -> None:
    import cv2

    quad = camera.project(np.stack([corner + up, corner + up + along, corner + along, corner]))
    left, top = np.floor(np.maximum(quad.min(axis=0), 0)).astype(int) - 1
    right, bottom = np.ceil(np.minimum(quad.max(axis=0), (camera.width, camera.height))).astype(int) + 1
    if right <= left or bottom <= top:
        return
    side = np.linalg.norm(quad - np.roll(quad, -1, axis=0), axis=1)
    height, width = lit.shape[:2]
    want = (int(max(side[1], side[3], 2)), int(max(side[0], side[2], 2)))
    if want[0] < 0.8 * height or want[1] < 0.8 * width:
        height, width = min(height, want[0]), min(width, want[1])
        lit = np.asarray(cv2.resize(lit, (width, height), interpolation=cv2.INTER_AREA), np.float32)
    place = quad - np.array([left, top], np.float32)
    ends = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32) - 0.5
    matrix = cv2.getPerspectiveTransform(ends, place - 0.5)
    size = (int(right - left), int(bottom - top))
    coat = cv2.warpPerspective(lit, matrix, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    mask = np.zeros(size[::-1], np.uint8)
    cv2.fillConvexPoly(mask, np.rint((place - 0.5) * 256).astype(np.int32), 255, lineType=cv2.LINE_AA, shift=8)
    alpha = mask.astype(np.float32) / 255
    over(canvas, int(top), int(left), coat[..., :3] * tripled(alpha), coat[..., 3] * alpha)


def sheet(
    light: Light,
    points: Floats,
    albedo: Floats,
    *,
    outward: ArrayLike,
    shade: Floats | float = 1.0,
    soft: float = 0.0,
) -> Dabs:
    """Light a curved sheet.

    Parameters
    ----------
    light : Light
        What shines on it.
    points : (a, b, 3) ndarray, metres
        A coarse net over the sheet.
    albedo : (h, w, 3) ndarray
        Reflectance, stretched over the sheet: one dab for each, about two for each pixel side.
    outward : (3,) array_like
        A direction on the side that is seen.
    shade : float or (a, b) ndarray
        How much of the sky is seen.
    soft : float
        Blur, in picture heights.
    """
    normal = np.cross(np.gradient(points, axis=1), np.gradient(points, axis=0))
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True) + 1e-9
    normal *= np.where(np.einsum("...i,i", normal, np.asarray(outward, np.float32)) < 0, -1, 1)[..., None]
    total = light.on(points, normal.astype(np.float32), shade)
    return Dabs(albedo * resized(total, *albedo.shape[:2]), points, soft)


def pole(foot: ArrayLike, head: ArrayLike) -> Floats:
    """A straight line between two points, for `strand`."""
    a, b = np.asarray(foot, np.float32), np.asarray(head, np.float32)
    return np.asarray(a + (b - a) * np.linspace(0, 1, 24, dtype=np.float32)[:, None], np.float32)


def strand(light: Light, line: Floats, radius: float, paint: Floats, height: int, *, twist: bool = False) -> Dabs:
    """A round pole or rope along a line.

    Parameters
    ----------
    light : Light
        What shines on it.
    line : (n, 3) ndarray, metres
        Its middle.
    radius : float, metres
        Half its thickness.
    paint : (3,) ndarray
        Reflectance.
    height : int
        Height of the picture, pixels.
    twist : bool
        Show the lay of a rope.
    """
    tangent = np.gradient(np.asarray(line, float), axis=0)
    toward = np.array([0, 2.0, 0]) - line  # the side that the camera sees
    side = np.cross(tangent, toward)
    side /= np.linalg.norm(side, axis=-1, keepdims=True) + 1e-9
    front = np.cross(side, tangent)
    front /= np.linalg.norm(front, axis=-1, keepdims=True) + 1e-9
    a = np.linspace(-1, 1, 9) * np.pi / 2
    bulge = radius * (side[:, None] * np.sin(a)[None, :, None] + front[:, None] * np.cos(a)[None, :, None])
    points = (line[:, None] + bulge).astype(np.float32)
    length = float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())
    rows = int(np.clip(1.25 * height * length / float(line[:, 2].min()) * 1.2, 12, 3000))
    tone = np.ones((rows, 9), np.float32)
    if twist:
        phase = np.linspace(0, length / 0.05, rows)[:, None] + np.linspace(0, 1.2, 9)[None]
        tone = (0.55 + 0.45 * np.sin(phase * np.pi) ** 2).astype(np.float32)
    total = light.on(points, (bulge / radius).astype(np.float32), 0.6)
    return Dabs((tone[..., None] * paint * resized(total, rows, 9)).astype(np.float32), points)


def curve(points: ArrayLike, count: int) -> NDArray[np.float32]:
    """A smooth curve through control points (n, d), as `count` points (Catmull-Rom)."""
    p = np.asarray(points, np.float32)
    p = np.concatenate([2 * p[:1] - p[1:2], p, 2 * p[-1:] - p[-2:-1]])
    t = np.linspace(0, len(p) - 3 - 1e-4, count)
    i = t.astype(int)
    f = (t - i)[:, None]
    a, b, c, d = p[i], p[i + 1], p[i + 2], p[i + 3]
    blend = 2 * b + (c - a) * f + (2 * a - 5 * b + 4 * c - d) * f**2 + (3 * b - a - 3 * c + d) * f**3
    return np.asarray(blend / 2, np.float32)
