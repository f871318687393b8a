"""Loss as pictures: where in the picture each cause is at work, on a scale whose steps look equal."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from printprep.check._judge import VISIBLE, Print
from printprep.check._tone import LEVELS
from printprep.check.sampled import Sample
from printprep.colour.difference import ciede2000
from printprep.colour.icc import device_from_lab
from printprep.colour.lab import lab_from_lch
from printprep.colour.profile import Profile

Array = NDArray[np.float32]

# The scale's way through CIELAB: L*, C*, hue angle; from straw over terracotta to a dark plum. Lightness
# falls all the way, so that it reads without colour vision and in a black and white print (our own choice).
_WAY = np.array([[82.0, 44.0, 86.0], [70.0, 48.0, 64.0], [54.0, 52.0, 38.0], [36.0, 46.0, 5.0], [17.0, 30.0, -38.0]])
_STEPS = 256
_COVER = 0.84
"""How far the scale's colour covers the picture underneath: enough of it shines through to find the place."""

COLOUR_MOST = 10.0
"""End of the scale of colour, which begins at `VISIBLE`, CIEDE2000; that of tones goes from one JND to none."""

_LEAST = 1e-3
"""On a scale, of what is counted; 0 is what is not."""


@cache
def scale() -> NDArray[np.uint8]:
    """The scale's 256 colours, sRGB, from nothing to most; CIEDE2000 between neighbours is the same throughout."""
    fine = np.linspace(0, 1, 4001)
    knots = np.linspace(0, 1, len(_WAY))  # they bend so little that one polynomial through all of them does not swing
    lch = np.stack([np.polyval(np.polyfit(knots, _WAY[:, k], len(_WAY) - 1), fine) for k in range(3)], -1)
    lab = lab_from_lch(lch)
    length = np.concatenate([[0], np.cumsum(ciede2000(lab[:-1], lab[1:]))])
    even = np.interp(np.linspace(0, length[-1], _STEPS), length, fine)
    picked = np.stack([np.interp(even, fine, lab[:, k]) for k in range(3)], -1)
    return _srgb(picked)


def _srgb(lab: NDArray[np.floating]) -> NDArray[np.uint8]:
    values = device_from_lab(lab, Profile.named("sRGB").data)
    return np.asarray(np.rint(np.clip(values, 0, 1) * 255), np.uint8)


def maps(taken: Sample, print_: Print) -> dict[str, NDArray[np.uint8]]:
    """The three causes, each to be laid over the edit, (rows, columns, 4) sRGB and opacity.

    Coloured is exactly what the figures count; the rest is clear.
    """
    return {cause: _painted(value) for cause, value in lost(taken, print_).items()}


def lost(taken: Sample, print_: Print) -> dict[str, Array]:
    """Loss of colour, shadows and highlights on their scales, (rows, columns); 0 where it is not counted."""
    tones, L = print_.tones, taken.shown.edit[..., 0]
    over = np.maximum((print_.apart - VISIBLE) / (COLOUR_MOST - VISIBLE), _LEAST)
    return {
        "colour": np.where(print_.colour, over, 0).astype(np.float32),
        "shadows": _missing(_at(tones.per_step, L), print_.shadows),
        "highlights": _missing(_at(tones.count[-1] - tones.count, L), print_.highlights),
    }


def _missing(jnd: Array, counted: NDArray[np.bool_]) -> Array:
    """What is missing to one JND."""
    return np.where(counted, np.maximum(1 - jnd, _LEAST), 0).astype(np.float32)


def _at(values: NDArray[np.float64], L: Array) -> Array:
    return np.interp(L, LEVELS, values).astype(np.float32)


def _painted(value: Array) -> NDArray[np.uint8]:
    """Values above 0 on the scale, nearly opaque; clear elsewhere."""
    index = np.rint(np.clip(value, 0, 1) * (_STEPS - 1)).astype(np.intp)
    cover = np.where(value > 0, np.uint8(round(255 * _COVER)), np.uint8(0))[..., None]
    return np.concatenate([scale()[index], cover], axis=-1)
