"""Tones of a picture in steps that the eye can tell apart: in the edit, and on a print in its room."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from printprep.check.simulate import Simulation, stamp
from printprep.colour.icc import lab_from_device
from printprep.colour.lab import Array, luminance_from_lightness
from printprep.colour.visibility import jnd_index
from printprep.conditions.conditions import Conditions
from printprep.conditions.room import Room
from printprep.conditions.viewing import luminance
from printprep.files import cache

EDIT_LEVELS = np.linspace(0.0, 100.0, 401)
"""L* of the edit at which tones are followed."""

STEP = 1.0
"""L* of the edit that counts as a step: the rungs of a near-black ladder on a test print (common practice)."""

_HALF = 50.0


@dataclass(frozen=True, eq=False)
class Tones:
    """Greys of the edit at `EDIT_LEVELS`: L* on the print, and the count of JND up to each (DICOM PS3.14, 7.1)."""

    lightness: Array
    count: Array

    @property
    def per_step(self) -> Array:
        """JND that a step of one L* of the edit is seen as, at each level; (401,)."""
        low, high = np.clip(EDIT_LEVELS - STEP / 2, 0, 100 - STEP), np.clip(EDIT_LEVELS + STEP / 2, STEP, 100)
        return np.asarray(np.interp(high, EDIT_LEVELS, self.count) - np.interp(low, EDIT_LEVELS, self.count))

    def between(self, low: float, high: float) -> float:
        """JND between two lightnesses of the edit."""
        return float(np.interp(high, EDIT_LEVELS, self.count) - np.interp(low, EDIT_LEVELS, self.count))

    @property
    def merged_shadows(self) -> NDArray[np.bool_]:
        """Where, in the darker half, a step of one L* is seen as less than one JND; (401,)."""
        return np.asarray((self.per_step < 1) & (EDIT_LEVELS < _HALF))

    def merged_highlights(self, edit: Tones) -> NDArray[np.bool_]:
        """Where a tone that the edit shows apart from white is less than one JND from paper white; (401,)."""
        apart, merged = edit.count[-1] - edit.count >= 1, self.count[-1] - self.count < 1
        return np.asarray(apart & merged & (EDIT_LEVELS >= _HALF))


def lights(room: Room) -> tuple[Room, ...]:
    """The room by day, and by evening where it has two lights."""
    if room.evening_illuminance_lux is None:
        return (room,)
    by_day = replace(room, evening_illuminance_lux=None)
    return by_day, replace(by_day, illuminance_lux=room.evening_illuminance_lux)


def edit_tones(on: Conditions) -> Tones:
    """The edit as it was viewed: on the screen's white, or on a perfect white in the reference light; with its flare.

    The same for every paper.
    """
    reference = on.room.reference
    white = reference.white_luminance(1.0)
    light = luminance_from_lightness(EDIT_LEVELS)
    seen = white * (reference.flare + (1 - reference.flare) * light)
    return Tones(EDIT_LEVELS, jnd_index(seen))


@lru_cache(maxsize=3)  # each holds a simulation, some 40 MB, which should not outlive those kept elsewhere
def print_tones(sim: Simulation, room: Room) -> tuple[Tones, Tones]:
    """The print in a room: unprepared, and prepared."""
    key = sim.plan.fingerprint
    plain, ready = cache.made(f"tones {key} {stamp()}", lambda: _lightness(sim)) if key else _lightness(sim)

    def tones(L: NDArray[np.float32]) -> Tones:
        rising = np.maximum.accumulate(L.astype(np.float64))
        return Tones(rising, jnd_index(luminance(rising, sim.on.paper, room)))

    return tones(plain), tones(ready)


def _lightness(sim: Simulation) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """L* on both prints at each of `EDIT_LEVELS` in the edit."""
    codes = np.linspace(0, 1, 4097)
    lightness = lab_from_device(np.repeat(codes[:, None], 3, axis=1), sim.profile)[:, 0]
    at = np.interp(EDIT_LEVELS, np.maximum.accumulate(lightness), codes)
    shown = sim.exactly(np.repeat(at[:, None], 3, axis=1))
    return shown.plain[:, 0], shown.ready[:, 0]
