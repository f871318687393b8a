"""A lantern festival on a river at blue hour: a picture of our own, painted by procedure.

Deep shadows with detail (the boathouse, under the bridge), paper lanterns whose colours no paper holds, with fibres
and ribs that show when colours are cut flat, stone, wood and faces in the middle tones, a smooth sky, fine texture.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from printprep.colour.icc import device_from_lab
from printprep.colour.lab import Floats, lightness_from_luminance
from printprep.colour.profile import Profile
from printprep.demo._backdrop import hills, sky, water
from printprep.demo._banks import DEPTH, EDGE, bridge, deck, line, quay
from printprep.demo._boat import boat
from printprep.demo._boathouse import boathouse, jetty
from printprep.demo._lanterns import Lantern, halo
from printprep.demo._paint import blurred, lch
from printprep.demo._space import Camera, Light, LitProp, Prop
from printprep.photo.bands import thread_count

MEGAPIXELS = 12.0
"""Size of the scene as the demo paints it."""
_CODES = np.float32(65535 / 2)
_ASIDE = 4
"""Parts side by side that threads paint; always as many, so that the picture is the same for any number of threads."""
_MIXED = ("amber", "orange", "red", "amber", "magenta", "green", "amber", "orange", "blue", "amber", "red", "lime")
_DRIFT = ("amber", "cream", "orange", "cyan", "magenta", "amber", "green", "red", "orange", "violet")


def paint(megapixels: float = MEGAPIXELS, threads: int | None = None) -> NDArray[np.uint16]:
    """Paint the scene: (height, width, 3) of uint16, ROMM RGB (ISO 22028-2), the same at every call.

    The picture is 3:2, of so many megapixels, and its composition the same at every size.
    """
    import cv2

    height = max(48, round((megapixels * 1e6 / 1.5) ** 0.5))
    camera = Camera(width=round(height * 1.5), height=height)
    before = cv2.getNumThreads()
    cv2.setNumThreads(1)  # thousands of small pieces: to wake threads for each costs more than it brings
    try:
        with ThreadPoolExecutor(thread_count(threads)) as pool:
            canvas = _painted(camera, pool)
            return _develop(canvas, halo(canvas), pool)
    finally:
        cv2.setNumThreads(before)


def _painted(camera: Camera, pool: ThreadPoolExecutor) -> Floats:
    """The scene as light: first upside down, for the river to mirror, then as it is seen."""
    lanterns = _near() + _along() + _floating()
    light = Light(tuple(each.lamp for each in lanterns), lch(40, 30, 278) * np.float32(0.42))
    beyond, *surfaces = pool.map(lambda part: part.lit(light, camera), [hills(), *_parts(lanterns)])
    mirror = camera.mirror(0.4)
    below, canvas = (np.zeros((view.height, view.width, 3), np.float32) for view in (mirror, camera))

    def draw(picture: Floats, view: Camera, what: list[LitProp]) -> None:
        edges = [view.width * k // _ASIDE for k in range(_ASIDE + 1)]

        def part(left: int, right: int) -> None:
            for surface in what:
                surface.draw(picture[:, left:right], view, left)

        list(pool.map(part, edges[:-1], edges[1:]))

    for view, picture in ((mirror, below), (camera, canvas)):
        sky(picture, view)
        draw(picture, view, [beyond])
        if view is camera:
            water(canvas, below, camera, DEPTH, pool)
        draw(picture, view, surfaces)
    return canvas


def _near() -> list[Lantern]:
    """Lanterns on a line from the boathouse across the river, and two in the boathouse."""
    hung = (
        (1.80, 2.28, 6.35, "orange", 0.27),
        (1.05, 2.52, 6.6, "magenta", 0.25),
        (0.30, 2.72, 6.9, "blue", 0.25),
        (-0.52, 2.95, 7.2, "amber", 0.26),
        (-1.42, 3.22, 7.5, "green", 0.25),
        (-2.45, 3.58, 7.8, "red", 0.26),
        (3.35, 2.28, 7.5, "violet", 0.22),
        (5.95, 2.40, 10.75, "amber", 0.13),
    )
    return [Lantern((x, y, z), paper, size) for x, y, z, paper, size in hung]


def _along() -> list[Lantern]:
    """Lanterns along the quay and the bridge."""
    quay = [(EDGE - 0.1, 3.5 - 0.32 * abs(np.sin(n * 1.9)), z, 0.19) for n, z in enumerate(np.linspace(9.5, 24.6, 13))]
    over = [(x, deck(x) - 0.48 - 0.06 * (-1) ** n, DEPTH - 0.25, 0.17) for n, x in enumerate(np.arange(-3.2, 8, 1.15))]
    return [Lantern((x, y, z), _MIXED[5 * n % 12], size) for n, (x, y, z, size) in enumerate(quay + over)]


def _floating() -> list[Lantern]:
    """A drift of lanterns coming down the river, and one on the jetty."""
    near = (
        (2.45, 0.42, 5.55, "amber", 28),
        (-1.62, 0, 4.75, "amber", 62),
        (0.62, 0, 4.0, "orange", 20),
        (1.25, 0, 7.0, "magenta", 80),
        (-2.3, 0, 6.2, "orange", 15),
        (-0.2, 0, 7.6, "cyan", 70),
        (-1.4, 0, 8.4, "cream", 33),
        (1.0, 0, 9.3, "red", 50),
    )
    far = ((-0.4 + 0.055 * z + 1.5 * np.sin(2.4 * n), z, n) for n, z in enumerate(np.linspace(9.8, 24, 28)))
    drift = [Lantern((x, 0, z), _DRIFT[n % 10], 0.25 + 0.02 * (n % 3), 37.0 * n) for x, z, n in far]
    return drift + [Lantern((x, y, z), paper, 0.28, turn) for x, y, z, paper, turn in near]


def _parts(lanterns: list[Lantern]) -> list[Prop]:
    """All that is drawn, from far to near: lanterns between the other things by their distance."""
    tops = [np.add(each.place, (0, 0.95 * each.size, 0)) for each in lanterns[:6]]
    tops = [np.array([2.6, 2.45, 7.4]), *tops, np.array([-4.6, 4.6, 8.4])]
    things: tuple[tuple[float, list[Prop]], ...] = (
        (DEPTH, bridge()),
        (25.0, quay()),
        (13.0, [*(line(a, b, 0.03) for a, b in pairwise(tops)), *boathouse()]),
        (8.0, jetty()),
        (5.0, boat()),
        (0.0, []),
    )
    parts, waiting = list[Prop](), sorted(lanterns, key=lambda each: -each.place[2])
    for depth, own in things:
        while waiting and waiting[0].place[2] > depth:
            parts += waiting.pop(0).parts()
        parts += own
    return parts


def _develop(canvas: Floats, scatter: Floats, pool: ThreadPoolExecutor) -> NDArray[np.uint16]:
    """From light to a finished edit: halos, vignette, grain, shoulder, 16-bit codes; in bands that fit the cache."""
    import cv2

    height, width = canvas.shape[:2]
    grain = blurred(np.random.default_rng(3).standard_normal((256, width), np.float32), 0.55)
    grain = np.repeat(grain * np.float32(_CODES * 0.006 * np.sqrt(height / 2832) / grain.std()), 3, axis=1)
    aside = np.repeat(((np.arange(width, dtype=np.float32) / width - 0.5) * 1.5) ** 2, 3)
    roots = np.linspace(0, 2, 65536)  # codes are looked up by the root of the light: fine steps in the shadows
    light = roots**2
    soft = 0.55 + 0.45 * (1 - np.exp(-(np.maximum(light, 0.55) - 0.55) / 0.45))
    greys = np.asarray(lightness_from_luminance(np.where(light < 0.55, light, soft)), np.float64)[:, None] * (1, 0, 0)
    codes = np.rint(device_from_lab(greys, Profile.named("ROMM RGB").data)[:, 0] * 65535).astype(np.uint16)
    down, across = scatter.shape[0] / height, scatter.shape[1] / width
    enlarge = {"flags": cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, "borderMode": cv2.BORDER_REPLICATE}
    out = np.empty((height, width, 3), np.uint16)

    def band(top: int) -> None:
        rows = np.arange(top, min(height, top + 32))
        place = np.array([[across, 0, across / 2 - 0.5], [0, down, (top + 0.5) * down - 0.5]])
        root = cv2.warpAffine(scatter, place, (width, len(rows)), **enlarge)
        root += canvas[top : top + 32]
        root = root.reshape(len(rows), -1)
        root *= _CODES**2 * (1 - 0.42 * (aside + (rows[:, None].astype(np.float32) / height - 0.5) ** 2))
        np.sqrt(root, out=root)
        root += grain[rows % 256]  # on the root of the light, grain is even: photons arrive by chance
        np.clip(root, 0, 65535, out=root)
        np.take(codes, root.astype(np.uint16), out=out[top : top + 32].reshape(len(rows), -1))

    list(pool.map(band, range(0, height, 32)))
    return out
