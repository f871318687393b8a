"""Test pictures by procedure, each made for one thing that can go wrong where colours leave a paper.

All are media-relative Lab (D50) before black point compensation, (rows, columns, 3) float32; `romm` makes device values
of them. Those with areas also give an array that tells which area a pixel belongs to; 0 belongs to none.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from printprep.colour.lab import D50, xyz_from_lab

Lab = NDArray[np.float32]
Areas = NDArray[np.uint8]

STRONG = {"red": (48.0, 80.0, 58.0), "green": (62.0, -72.0, 50.0), "blue": (32.0, 32.0, -88.0)}
"""Colours that no paper of the presets holds."""

SKINS = ((66.0, 12.0, 17.0), (55.0, 14.0, 19.0), (38.0, 12.0, 15.0))
"""Light, medium and dark skin; about the means of measured groups, from memory."""

WHITE, GREY = (96.0, 0.0, 0.0), (55.0, 0.0, 0.0)

CALM = (WHITE, GREY, *SKINS)
"""What must stay as it is beside and inside strong colours."""


def romm(lab: Lab) -> NDArray[np.uint16]:
    """Lab as device values of ROMM RGB, 16 bits (ISO 22028-2); what that does not hold is cut off."""
    primaries = np.array([[0.7347, 0.2653], [0.1596, 0.8404], [0.0366, 0.0001]])
    to_xyz = np.column_stack([primaries, 1 - primaries.sum(axis=1)]).T
    to_xyz = to_xyz * np.linalg.solve(to_xyz, D50)
    linear = np.clip(xyz_from_lab(lab.astype(np.float64)) @ np.linalg.inv(to_xyz).T, 0, 1)
    encoded = np.where(linear < 16 ** (1.8 / (1 - 1.8)), 16 * linear, linear ** (1 / 1.8))
    return np.asarray(np.rint(encoded * 65535), np.uint16)


def flat(colour: tuple[float, float, float], rows: int = 200, columns: int = 300) -> Lab:
    """One flat colour: has no surroundings, so that it must come out as the colour alone does."""
    return np.full((rows, columns, 3), colour, np.float32)


def beside(strong: str) -> tuple[Lab, Areas]:
    """White, grey and three skins beside and inside a strong colour: none may take part in what befalls it.

    Areas 1 to 5 are those beside it and 6 to 10 those inside it, in the order of `CALM`; 11 is the strong colour.
    """
    lab, areas = flat((70, 0, 0), 240, 360), np.zeros((240, 360), np.uint8)
    lab[:, 150:], areas[:, 150:] = STRONG[strong], 11
    for number, colour in enumerate(CALM):
        top = 10 + 46 * number
        for first, columns in ((1, slice(110, 150)), (6, slice(240, 280))):
            lab[top : top + 36, columns], areas[top : top + 36, columns] = colour, first + number
    return lab, areas


def thin_type(strong: str, ink: tuple[float, float, float] = WHITE) -> tuple[Lab, Areas]:
    """Lines of type with strokes of 1 to 3 pixels on a strong colour; areas: 1 the type, 2 what it stands on."""
    letter = np.array([[1, 1, 1], [1, 0, 0], [1, 1, 0], [1, 0, 0], [1, 1, 1]], bool)
    areas = np.full((240, 360), 2, np.uint8)
    for stroke, top in ((1, 20), (2, 70), (3, 150)):
        shape = np.kron(letter, np.ones((stroke, stroke), bool))
        for left in range(20, 330, shape.shape[1] + 2 * stroke):
            areas[top : top + shape.shape[0], left : left + shape.shape[1]][shape] = 1
    lab = flat(STRONG[strong], 240, 360)
    lab[areas == 1] = ink
    return lab, areas


def noisy_darks(seed: int = 0) -> Lab:
    """Darks of L* 3 to 14 with the chroma noise of a high ISO speed: counts as saturated, and must stay as it is."""
    random = np.random.default_rng(seed)
    y, x = np.mgrid[:240, :360]
    sown = random.normal(0, 1, (242, 362, 3))
    spread = [sown[i : i + 240, j : j + 360] for i, j in product(range(3), repeat=2)]  # as demosaicing does
    grain = np.sum(spread, axis=0) / 3
    L = 8.5 + 5 * np.sin(x / 60) * np.cos(y / 45) + 0.8 * grain[..., 0]
    return np.stack([np.clip(L, 1, 16), 9 * grain[..., 1], 9 * grain[..., 2]], axis=-1).astype(np.float32)


def twice(colour: tuple[float, float, float]) -> tuple[Lab, Areas]:
    """One colour at two places, small among greys (area 1) and large (area 2): may differ no more than is unseen."""
    lab, areas = flat((60, 0, 0), 240, 360), np.zeros((240, 360), np.uint8)
    lab[:, :110] = (80, -4, 10)
    for number, part in ((1, np.s_[100:124, 40:64]), (2, np.s_[20:220, 150:340])):
        lab[part], areas[part] = colour, number
    return lab, areas


def to_neutral(L: float, hue: float, chroma: float = 100.0) -> Lab:
    """A ramp from saturated (left) to neutral at one lightness and hue: chroma must fall all the way."""
    C, h = np.linspace(chroma, 0, 360), np.radians(hue)
    row = np.stack([np.full(360, L), C * np.cos(h), C * np.sin(h)], axis=-1)
    return np.broadcast_to(row, (120, 360, 3)).astype(np.float32)


def blown_sky() -> Lab:
    """A blue sky into blown white: no grey rim may part the two."""
    y, x = np.mgrid[:240, :360]
    part = np.clip((x / 360 + 0.25 * np.sin(y / 60)) * 1.15, 0, 1)
    return _mixed((58, -6, -48), (100, 0, 0), part**0.8)


def sun_with_glow() -> Lab:
    """A clipped sun with its glow, white by way of yellow into red."""
    y, x = np.mgrid[:240, :360]
    away = np.hypot(x - 180, y - 110)
    knots, stops = (22, 45, 90, 230), np.array([(100, 0, 0), (94, 0, 70), (72, 38, 85), (35, 45, 40)])
    return np.stack([np.interp(away, knots, stops[:, k]) for k in range(3)], axis=-1).astype(np.float32)


def yellow_petals() -> Lab:
    """Petals of strong yellow with sheen towards white: yellow at L* 84 to 98, where papers hold little."""
    y, x = np.mgrid[:240, :360]
    turn = np.arctan2(y - 120, x - 180)
    sheen = (0.5 + 0.5 * np.cos(8 * turn)) ** 3 * np.clip(np.hypot(x - 180, y - 120) / 150, 0, 1)
    return _mixed((84, 2, 105), (98, -7, 48), sheen)


def cream_blur() -> Lab:
    """A background out of focus in creams and light yellows, L* 88 to 99, without any edge."""
    y, x = np.mgrid[:240, :360]
    part = 0.5 + 0.25 * np.sin(x / 37 + y / 90) + 0.25 * np.cos(y / 31 - x / 110)
    return _mixed((88, 13, 46), (99, -2, 18), part)


INTO_WHITE = {"sky": blown_sky, "sun": sun_with_glow, "petals": yellow_petals, "cream": cream_blur}
"""Coloured ramps into white."""


def edges() -> tuple[Lab, Areas]:
    """Step edges of saturated against neutral, eight hues by three greys: neither may get a seam (halos).

    Areas: every rectangle its own.
    """
    lab, areas = flat((0, 0, 0), 240, 384), np.zeros((240, 384), np.uint8)
    for (row, grey), (column, hue) in product(enumerate((25, 55, 90)), enumerate(np.radians(range(10, 360, 45)))):
        part = np.s_[80 * row : 80 * row + 80, 48 * column : 48 * column + 24]
        lab[part], areas[part] = (55, 85 * np.cos(hue), 85 * np.sin(hue)), 1 + 2 * (8 * row + column)
        part = np.s_[80 * row : 80 * row + 80, 48 * column + 24 : 48 * column + 48]
        lab[part], areas[part] = (grey, 0, 0), 2 + 2 * (8 * row + column)
    return lab, areas


def glow(hue: float) -> tuple[Lab, Areas]:
    """A lamp of one hue (degrees) in the dark, its core near white: the order of its glow must stay.

    Areas: bands of about 3.5 L* from the core (1) outwards, each darker than the one before.
    """
    y, x = np.mgrid[:240, :360]
    away = np.hypot((x - 180) / 180, (y - 120) / 180)
    L = 14 + 82 * np.exp(-((away / 0.42) ** 1.6))
    C = 100 * np.clip((97 - L) / 40, 0, 1) ** 0.8 * np.clip((L - 10) / 45, 0, 1) ** 0.9
    lab = np.stack([L, C * np.cos(np.radians(hue)), C * np.sin(np.radians(hue))], axis=-1).astype(np.float32)
    bands = np.where(L > 19, 1 + np.floor((96 - L) / 3.5), 0)
    return lab, bands.astype(np.uint8)


def three_heads(rows: int = 480, columns: int = 720) -> Lab:
    """Heads of three skins in light from the left, with white collars, before folds of red cloth."""
    y, x = np.mgrid[:rows, :columns] / rows
    fold = np.sin(14 * x + 2 * np.sin(3 * y)) + 0.4 * np.sin(37 * x + y)
    lab = np.stack([38 + 9 * fold, 68 + 9 * fold, 46 + 9 * fold], axis=-1)
    for skin, middle in zip(SKINS, (0.25, 0.75, 1.25), strict=True):
        across, up = (x - middle) / 0.17, (0.45 - y) / 0.24
        out = np.sqrt(np.clip(1 - across**2 - up**2, 0, None))
        lit = np.clip(-0.6 * across + 0.45 * up + 0.66 * out, 0, 1)
        shine = np.clip(-0.32 * across + 0.25 * up + 0.91 * out, 0, 1) ** 60
        a, b = skin[1] * (0.75 + 0.3 * lit) - 5 * shine, skin[2] * (0.7 + 0.35 * lit) - 6 * shine
        head = np.stack([skin[0] * (0.35 + 0.78 * lit) + 16 * shine, a, b], axis=-1)
        collar = (np.abs(x - middle) < 0.13 + 0.35 * (y - 0.68)) & (y > 0.68)
        lab[collar] = np.stack([60 + 36 * np.clip(0.7 - 1.6 * (x - middle), 0, 1), 0 * x, 1 + 0 * x], axis=-1)[collar]
        face = across**2 + up**2 < 1
        lab[face] = head[face]
    return np.asarray(lab, np.float32)


def _mixed(one: tuple[float, float, float], other: tuple[float, float, float], part: NDArray[np.float64]) -> Lab:
    """Lab between two colours."""
    first, second = np.array(one, np.float64), np.array(other, np.float64)
    return np.asarray(first + part[..., None] * (second - first), np.float32)
