"""A lantern festival on a river at blue hour: a picture of our own, painted by procedure.

Deep shadows with detail (the boathouse, the reeds, under the bridge), paper lanterns whose
colours no paper holds, with fibres and ribs in them that show when colours are cut flat, stone,
wood and faces in the middle tones, a smooth sky, broken reflections, fine texture.
"""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from printprep.demo import _banks, _boat, _boathouse, _bridge, _lanterns, _people, _sky, _water
from printprep.demo._lanterns import Lantern
from printprep.demo._paint import Floats, blurred, encode, lch
from printprep.demo._space import Camera, Dabs, Lamp, Light, Quad

MEGAPIXELS = 12.0
"""Size of the scene as the demo paints it."""
POSTS = (9.0, 12.2, 15.8, 20.0, 24.6)
"""Depths of the lantern posts on the quay, metres."""


def paint(megapixels: float = MEGAPIXELS) -> NDArray[np.uint16]:
    """Paint the scene.

    Parameters
    ----------
    megapixels : float
        Size of the picture, 3:2; the composition is the same at every size.

    Returns
    -------
    (height, width, 3) ndarray of uint16
        ROMM RGB (ISO 22028-2), the same at every call.
    """
    height = max(48, round((megapixels * 1e6 / 1.5) ** 0.5))
    camera = Camera(width=round(height * 1.5), height=height)
    lanterns = _hung() + _floating()
    light = _light(lanterns)
    builders = (
        (_bridge.DEPTH, lambda: _bridge.bridge(light, height)),
        (25.0, lambda: _banks.quay(light, height) + _banks.posts(light, height, POSTS, 2.35)),
        (13.0, lambda: _boathouse.boathouse(light, height)),
        (8.0, lambda: _boathouse.jetty(light, height)),
        (5.0, lambda: _boat.boat(light, height, (0.12, 5.45), 1.16)),
    )
    with ThreadPoolExecutor() as pool:
        parts = [pool.submit(build) for _, build in builders]
        solids = [(depth, part.result()) for (depth, _), part in zip(builders, parts, strict=True)]
    with ThreadPoolExecutor(1) as pool:
        below = pool.submit(_draw, camera.mirror(0.4), light, solids, lanterns, None)
        canvas = _draw(camera, light, solids, lanterns, below)
    _lanterns.halo(canvas)
    return _develop(canvas)


def _hung() -> list[Lantern]:
    """Lanterns on lines: from the boathouse across the river, along the quay, along the bridge, and one inside."""
    near = [
        Lantern((1.80, 2.28, 6.35), "orange", 0.27, 1.05, turn=3),
        Lantern((1.05, 2.52, 6.6), "magenta", 0.25, 0.95, turn=11),
        Lantern((0.30, 2.72, 6.9), "blue", 0.25, 1.0, turn=17),
        Lantern((-0.52, 2.95, 7.2), "amber", 0.26, 1.0, turn=23),
        Lantern((-1.42, 3.22, 7.5), "green", 0.25, 0.95, turn=31),
        Lantern((-2.45, 3.58, 7.8), "red", 0.26, 1.0, turn=37),
        Lantern((3.35, 2.28, 7.5), "violet", 0.22, 0.9, turn=43),
        Lantern((5.95, 2.40, 10.75), "amber", 0.13, 1.0, turn=47),
    ]
    papers = ("amber", "orange", "red", "amber", "magenta", "green", "amber", "orange", "blue", "amber", "red", "lime")
    quay = []
    for number, z in enumerate(np.linspace(POSTS[0] + 0.5, POSTS[-1], 13)):
        sag = 0.32 * abs(np.sin(number * 1.9))
        quay.append(Lantern((_banks.EDGE - 0.1, 3.5 - sag, float(z)), papers[number % 12], 0.19, 1.0, turn=50 + number))
    over = []
    for number, x in enumerate(np.arange(-3.2, 11.6, 1.15)):
        top = float(_bridge.deck(float(x))) - 0.42 - 0.12 * (number % 2)
        over.append(
            Lantern((float(x), top, _bridge.DEPTH - 0.25), papers[(5 * number + 3) % 12], 0.17, 0.95, turn=80 + number)
        )
    return near + quay + over


def _floating() -> list[Lantern]:
    """A drift of lanterns coming down the river."""
    rng = np.random.default_rng(5)
    papers = (
        "amber",
        "amber",
        "orange",
        "cream",
        "amber",
        "magenta",
        "orange",
        "cyan",
        "amber",
        "green",
        "red",
        "violet",
    )
    drift = [
        Lantern((2.45, 0.42, 5.55), "amber", 0.25, 0.9, True, 28),
        Lantern((-1.62, 0, 4.75), "amber", 0.29, 1.0, True, 62),
        Lantern((0.62, 0, 4.0), "orange", 0.28, 0.95, True, 20),
        Lantern((1.25, 0, 7.0), "magenta", 0.28, 1.0, True, 80),
        Lantern((-2.3, 0, 6.2), "orange", 0.29, 1.0, True, 15),
        Lantern((-0.2, 0, 7.6), "cyan", 0.28, 0.9, True, 70),
        Lantern((-1.4, 0, 8.4), "cream", 0.28, 0.9, True, 33),
        Lantern((1.0, 0, 9.3), "red", 0.28, 1.0, True, 50),
    ]
    placed = [(d.place[0], d.place[2]) for d in drift]
    number = 0
    while len(drift) < 40:
        z = float(rng.uniform(0, 1) ** 0.8 * 14.5 + 9.5)
        x = float(rng.normal(-0.4 + 0.055 * z, 1.35))
        if not -3.6 < x < 5.2 or any((x - a) ** 2 + (0.5 * (z - b)) ** 2 < 0.22 for a, b in placed):
            continue
        if z < 14 and x > 1.9:
            continue
        placed.append((x, z))
        drift.append(
            Lantern(
                (x, 0, z),
                papers[number % 12],
                float(rng.uniform(0.24, 0.30)),
                float(rng.uniform(0.8, 1.1)),
                True,
                float(rng.uniform(0, 90)),
            )
        )
        number += 1
    return drift


def _light(lanterns: list[Lantern]) -> Light:
    """The light of all lanterns, far ones in groups, and of the sky."""
    lamps: list[Lamp] = []
    far: dict[tuple[int, int, int], list[Lamp]] = {}
    for lantern in lanterns:
        lamp = lantern.lamp
        x, y, z = lamp.place
        if z < 9.5 or (not lantern.floats and z < 20 and x > 0):
            lamps.append(lamp)
        else:
            far.setdefault((round(x / 3), round(y / 2), round(z / 4)), []).append(lamp)
    for group in far.values():
        place = tuple(float(c) for c in np.mean([g.place for g in group], axis=0))
        colour = tuple(float(c) for c in np.sum([g.colour for g in group], axis=0))
        lamps.append(Lamp(place, colour, 0.6))  # type: ignore[arg-type]
    sky = lch(40, 30, 278) * 0.55
    return Light(tuple(lamps), (float(sky[0]), float(sky[1]), float(sky[2])))


def _draw(
    camera: Camera,
    light: Light,
    solids: list[tuple[float, list[Quad | Dabs]]],
    lanterns: list[Lantern],
    below: Future[Floats] | None,
) -> Floats:
    """All that is seen through a camera, from far to near; with the river where its mirror image is given."""
    canvas = _sky.backdrop(camera)
    if below is not None:
        _water.water(canvas, below.result(), camera, _bridge.DEPTH)
    waiting = sorted(lanterns, key=lambda lantern: -lantern.place[2])
    for depth, parts in solids:
        if depth == _bridge.DEPTH:
            _people.watchers(canvas, camera, light)
        else:
            waiting = _lanterns_beyond(canvas, camera, waiting, depth)
        if depth == 13.0:
            _lines(canvas, camera)
        for part in parts:
            part.draw(canvas, camera)
    waiting = _lanterns_beyond(canvas, camera, waiting, 0.0)
    _banks.willow(canvas, camera, light)
    if not camera.mirrored:
        _banks.reeds(canvas, camera, light)
    return canvas


def _lines(canvas: Floats, camera: Camera) -> None:
    """The lines that the lanterns hang from."""
    heads = [np.array([_banks.EDGE - 0.12, _banks.QUAY + 2.32, z]) for z in POSTS]
    for a, b in pairwise(heads):
        _banks.cord(canvas, camera, a, b, 0.35)
    near = _hung()[:6]
    tops = [np.array(lantern.place) + np.array([0, 0.95 * lantern.size, 0]) for lantern in near]
    tops = [np.array([2.6, 2.45, 7.4]), *tops, np.array([-4.6, 4.6, 8.4])]
    for a, b in pairwise(tops):
        _banks.cord(canvas, camera, a, b, 0.03)


def _lanterns_beyond(canvas: Floats, camera: Camera, waiting: list[Lantern], depth: float) -> list[Lantern]:
    """Paint the lanterns that are farther than `depth`; return the others."""
    for lantern in waiting:
        if lantern.place[2] > depth:
            lantern.draw(canvas, camera)
    return [lantern for lantern in waiting if lantern.place[2] <= depth]


def _develop(canvas: Floats) -> NDArray[np.uint16]:
    """From light to a finished edit: vignette, grain, shoulder, 16-bit codes; in bands on all cores."""
    height, width = canvas.shape[:2]
    rng = np.random.default_rng(3)
    tile = blurred(rng.standard_normal((1024, 1024), np.float32), 0.55)
    tile *= 0.012 * np.sqrt(height / 2832) / tile.std()
    across = np.arange(width) % 1024
    x = (np.arange(width, dtype=np.float32) / width - 0.5) * 1.5
    roots = np.linspace(0, 2, 65536)  # codes are looked up by the root of the light: fine steps in the shadows
    light = roots**2
    soft = 0.55 + 0.45 * (1 - np.exp(-(np.maximum(light, 0.55) - 0.55) / 0.45))
    codes = np.rint(encode(np.where(light < 0.55, light, soft)) * 65535).astype(np.uint16)
    out = np.empty((height, width, 3), np.uint16)

    def band(top: int) -> None:
        bottom = min(height, top + 64)
        y = (np.arange(top, bottom, dtype=np.float32) / height - 0.5)[:, None]
        root = canvas[top:bottom] * (1 - 0.30 * (x * x + y * y))[..., None]
        np.sqrt(np.clip(root, 0, 4, out=root), out=root)
        grain = tile[np.arange(top, bottom) % 1024][:, across]
        root += 0.5 * grain[..., None]  # on the root of the light, grain is even: photons arrive by chance
        np.clip(root, 0, 2, out=root)
        root *= 65535 / 2
        np.take(codes, root.astype(np.uint16), out=out[top:bottom])

    with ThreadPoolExecutor() as pool:
        list(pool.map(band, range(0, height, 64)))
    return out
