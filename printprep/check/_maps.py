"""Loss as pictures: where in the picture each cause is at work, on a scale whose steps look equal."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import numpy as np
from numpy.typing import NDArray

from printprep.check._judge import VISIBLE, at_levels, difference, outside
from printprep.check._tone import LEVELS, Tones
from printprep.check.simulate import Shown, Simulation
from printprep.colour.difference import ciede2000
from printprep.colour.icc import device_from_lab
from printprep.colour.lab import lab_from_lch
from printprep.colour.profile import Profile

Array = NDArray[np.float32]

# The scale's way through CIELAB: L*, C*, hue angle; from a pale straw over terracotta to a dark plum. Lightness
# falls all the way, so that it reads without colour vision and in a black and white print (our own choice).
_WAY = np.array([[88.0, 14.0, 88.0], [72.0, 40.0, 66.0], [54.0, 52.0, 38.0], [36.0, 46.0, 5.0], [17.0, 30.0, -38.0]])
_STEPS = 256
_COVER = 0.84
"""How far the scale's colour covers the picture underneath: enough of it shines through to find the place."""

COLOUR_MOST, STEPS_MOST = 10.0, 1.0
"""Ends of the scales: CIEDE2000 from `VISIBLE` on, and JND that are missing to one."""


@dataclass(frozen=True)
class Maps:
    """One cause each, as pictures to lay over the edit, (rows, columns, 4) uint8 sRGB and opacity.

    Coloured is exactly what the figures count; the rest is clear.

    Parameters
    ----------
    colour : ndarray
        CIEDE2000 of the colour asked of the paper against the colour shown.
    shadows : ndarray
        JND for each L* of the edit, in the darker half.
    highlights : ndarray
        JND from paper white, of tones that the edit shows apart from white.
    """

    colour: NDArray[np.uint8] = field(repr=False)
    shadows: NDArray[np.uint8] = field(repr=False)
    highlights: NDArray[np.uint8] = field(repr=False)


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


def maps(shown: Shown, tones: Tones, edit: Tones, name: str, sim: Simulation) -> Maps:
    """The three causes on a reduced copy.

    Parameters
    ----------
    shown : Shown
        Colours of the copy, (rows, columns, 3).
    tones : Tones
        Of the print.
    edit : Tones
        Of the edit.
    name : {"plain", "ready"}
        Left alone or prepared.
    """
    return Maps(*(_painted(value) for value in lost(shown, tones, edit, name, sim)))


def lost(shown: Shown, tones: Tones, edit: Tones, name: str, sim: Simulation) -> tuple[Array, Array, Array]:
    """Loss of colour, shadows and highlights on their scales; 0 where it is too small to be counted."""
    got = shown.plain if name == "plain" else shown.ready
    L = shown.edit[..., 0]
    apart = difference(shown.toned, got)
    counted = (apart > VISIBLE) & outside(shown.toned, sim)
    colour = np.where(counted, apart / np.float32(COLOUR_MOST), 0).astype(np.float32)
    step, dark = _at(tones.per_step, L), at_levels(tones.merged_shadows, L)
    from_white, light = _at(tones.count[-1] - tones.count, L), at_levels(tones.merged_highlights(edit), L)
    return colour, _missing(step, dark), _missing(from_white, light)


def _missing(jnd: Array, counted: NDArray[np.bool_]) -> Array:
    """What is missing to one JND; a thousandth at least where it is counted."""
    return np.where(counted, np.maximum(1 - jnd / STEPS_MOST, 1e-3), 0).astype(np.float32)


def _at(values: NDArray[np.float64], L: Array) -> Array:
    return np.interp(L, LEVELS, values).astype(np.float32)


def _painted(value: Array) -> NDArray[np.uint8]:
    """Values above 0 on the scale, nearly opaque; clear elsewhere."""
    index = np.rint(np.clip(value, 0, 1) * (_STEPS - 1)).astype(np.intp)
    cover = np.where(value > 0, np.uint8(round(255 * _COVER)), np.uint8(0))[..., None]
    return np.concatenate([scale()[index], cover], axis=-1)
