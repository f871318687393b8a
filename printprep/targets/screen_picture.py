"""A picture to check a screen with: near-black, near-white, greys, and lines that show its tone curve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from printprep.colour.icc import device_from_lab
from printprep.colour.lab import lightness_from_luminance
from printprep.colour.profile import Profile
from printprep.parameters import Checked
from printprep.targets.shapes import Box, Lab, Lines, Raster, Shape, Words

DARK_CODES = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 18, 22)
"""8-bit codes on black (0)."""
LIGHT_CODES = (254, 253, 252, 251, 250, 249, 247, 245, 243, 240, 237, 233)
"""8-bit codes on white (255)."""
HALF_LIGHT = 188
"""The code that gives half the light of white: sRGB, IEC 61966-2-1, encodes 0.5 as 187.5."""


@dataclass(frozen=True)
class _Size(Checked):
    width: Annotated[int, Meta(ge=640, le=16_384, description="pixels")]
    height: Annotated[int, Meta(ge=400, le=16_384, description="pixels")]


def _grey(code: float) -> Lab:
    v = code / 255
    light = v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4
    return float(lightness_from_luminance(light)), 0.0, 0.0


def check_picture(width: int, height: int) -> NDArray[np.uint8]:
    """Draw the picture.

    Parameters
    ----------
    width, height : int, pixels

    Returns
    -------
    (height, width, 3) ndarray of uint8
        sRGB.
    """
    size = _Size(width, height)
    width, height = size.width, size.height
    shapes: list[Shape] = []
    u = min(width / 1920, height / 1080)
    upper = round(height * 0.62)
    half = width // 2
    shapes.append(Box(0, 0, half, upper, _grey(0)))
    shapes.append(Box(half, 0, width - half, upper, _grey(255)))
    dark = "In the light you work in, most of these should just part from black."
    light = "All of these should part from white; if not, lower the contrast."
    _patches(shapes, DARK_CODES, 0, half, upper, u, ("Near black", dark), _grey(118), _grey(90))
    _patches(shapes, LIGHT_CODES, half, width - half, upper, u, ("Near white", light), _grey(80), _grey(120))
    _lower(shapes, upper, width, height, u)
    data = Profile.named("sRGB").data
    raster = Raster(shapes, width, height, 1.0, lambda lab: np.asarray(device_from_lab(lab, data), np.float64))
    return np.rint(raster.whole() / 257.0).astype(np.uint8)


def _patches(
    shapes: list[Shape], codes: tuple[int, ...], x: int, w: int, h: int, u: float, texts: tuple[str, str], ink: Lab,
    quiet: Lab,
) -> None:  # fmt: skip
    margin = round(70 * u)
    shapes.append(Words(x + margin, margin + 26 * u, texts[0], 34 * u, bold=True, lab=ink))
    shapes.append(Words(x + margin, margin + 66 * u, texts[1], 19 * u, lab=ink))
    top = margin + round(104 * u)
    gap, down = round(22 * u), round(52 * u)
    wide = (w - 2 * margin - 5 * gap) // 6
    high = (h - top - margin // 2 - 2 * down) // 2
    for i, code in enumerate(codes):
        left, up = x + margin + (i % 6) * (wide + gap), top + (i // 6) * (high + down)
        shapes.append(Box(left, up, wide, high, _grey(code)))
        shapes.append(Words(left + wide / 2, up + high + 26 * u, str(code), 20 * u, "centre", lab=quiet))


def _lower(shapes: list[Shape], top: int, width: int, height: int, u: float) -> None:
    """Greys to look for casts in, and lines of 1 pixel around the grey that gives as much light."""
    margin = round(70 * u)
    shapes.append(Box(0, top, width, height - top, _grey(HALF_LIGHT)))
    ink = _grey(40)
    side = height - top - 2 * margin
    field = width - margin - side * 1.6, top + margin, round(side * 1.6) // 2 * 2, side // 2 * 2
    left, up = round(field[0]), round(field[1])
    shapes.append(Lines(left, up, field[2], field[3], 2.0, 1.0, _grey(0), _grey(255), across=True))
    inner = field[3] // 2
    shapes.append(Box(left + (field[2] - inner) // 2, up + (field[3] - inner) // 2, inner, inner, _grey(HALF_LIGHT)))
    note = "Unscaled, from afar: the square should melt into the lines."
    shapes.append(Words(left + field[2], up + field[3] + 34 * u, note, 19 * u, "right", lab=ink))
    room = left - 2 * margin
    wide = room // 21
    high = round(side * 0.42)
    shapes.append(Words(margin, top + margin + 12 * u, "Greys, L* 0 to 100: no step may be tinted.", 19 * u, lab=ink))
    for i in range(21):
        lightness = (5.0 * i, 0.0, 0.0)
        shapes.append(Box(margin + i * wide, top + margin + round(34 * u), wide, high, lightness))
        at = margin + (i + 0.5) * wide
        shapes.append(Words(at, top + margin + high + round(62 * u), str(5 * i), 18 * u, "centre", lab=ink))
    note = "White should have the luminance that printprep screen names; measure it with a meter."
    shapes.append(Words(margin, top + margin + high + round(120 * u), note, 17 * u, lab=ink))
