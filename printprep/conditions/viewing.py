"""The light that reaches the eye from a print in its room."""

from __future__ import annotations

from dataclasses import replace
from math import pi
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.colour.lab import lightness_from_luminance, luminance_from_lightness

if TYPE_CHECKING:
    from printprep.conditions.paper import Paper
    from printprep.conditions.room import Room


def hung(paper: Paper, room: Room) -> Room:
    """The room as this paper hangs in it: canvas hangs without a pane (common practice, no source)."""
    return replace(room, glazing="none") if paper.surface == "canvas" else room


def on_print(edit: ArrayLike, black: float) -> NDArray[np.float64]:
    """L* that an edit's tones have on a print with this black, L*: black point compensated (ISO 18619)."""
    low = luminance_from_lightness(black)
    Y = luminance_from_lightness(np.asarray(edit, np.float64))
    return np.asarray(lightness_from_luminance(low + (1 - low) * Y), np.float64)


def in_edit(lightness: NDArray[np.float64], black: float) -> NDArray[np.float64]:
    """Undo `on_print`."""
    low = luminance_from_lightness(black)
    return np.asarray(lightness_from_luminance((luminance_from_lightness(lightness) - low) / (1 - low)), np.float64)


def luminance(lightness: ArrayLike, paper: Paper, room: Room) -> NDArray[np.float64]:
    """Luminance, cd/m2, of print-referred tones L* (0..100) in a room; canvas hangs without a pane.

    ``L = E / pi * (t * rho + veil)``: a matte (Lambertian) surface under ``E`` lux, seen through a pane that light
    passes twice (``t``), which adds what it mirrors. The same sum as DICOM PS3.14 clause 7.3, ``L = La + L0 * 10**-D``.
    Light thrown back and forth between print and pane (at most 8 %) is left out.
    """
    room = hung(paper, room)
    Y = luminance_from_lightness(np.asarray(lightness, np.float64))
    rho = paper.white_reflectance * Y
    return np.asarray(room.prepared_lux / pi * (room.transmittance * rho + room.veil))


def white_luminance(paper: Paper, room: Room) -> float:
    """Luminance of paper white in the room, cd/m2, the pane's veil included."""
    return float(luminance(100.0, paper, room))


def effective_black(paper: Paper, room: Room) -> float:
    """L* of the paper's black against paper white as the eye gets them, the pane's veil included.

    A gloss black of L* 4.5 behind a pane that faces a light wall is seen as about L* 27.
    """
    black = luminance(paper.neutral_black, paper, room)
    return float(lightness_from_luminance(black / white_luminance(paper, room)))


def contrast(paper: Paper, room: Room) -> float:
    """Luminance of paper white over that of the darkest neutral the paper holds, as the eye gets them in the room."""
    return white_luminance(paper, room) / float(luminance(paper.neutral_black, paper, room))
