"""The tone curves of shadow-lift and room-brightness, and the rule by which they share one budget."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import pi

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Lab
from printprep.colour.lab import lightness_from_luminance, luminance_from_lightness
from printprep.colour.visibility import jnd_index
from printprep.conditions.conditions import Conditions

Array = NDArray[np.float64]

NODES = 2049

LIFT_STRENGTH = 1.0
"""Default strength of shadow-lift."""

ROOM_STRENGTH = 0.8
"""Default strength of room-brightness in rooms dimmer than the reference."""

LEAST_SLOPE, LEAST_MIDDLE_SLOPE = 0.64, 0.89
"""What lift and room together leave of compensation's slope: anywhere, and on average at mid-grey."""

_FADE = (10.0, 58.0)  # L* of the edit: full lift below the first, none above the second


@dataclass(frozen=True)
class View:
    """A print as the eye gets it: all that the curves depend on.

    Parameters
    ----------
    black : float
        L* of the paper's black, media-relative.
    white : float, cd/m2
        Luminance of paper white in the room, the pane's veil included.
    veil : float
        Share of that luminance which the pane mirrors.
    reference : float, cd/m2
        Luminance of white where the edit was made.
    flare : float
        Luminance of the edit's black there, as a share of white.
    """

    black: float
    white: float
    veil: float
    reference: float
    flare: float

    @classmethod
    def of(cls, on: Conditions) -> View:
        """Read it from the conditions."""
        room, rho = on.room, on.paper.white_reflectance
        seen = room.transmittance * rho + room.veil
        white = room.prepared_lux / pi * seen
        reference = room.reference.white_luminance(rho)
        return cls(on.black, white, room.veil / seen, reference, room.reference.flare)

    def lightness(self) -> Array:
        """L* of the curve's nodes: evenly from black to white."""
        return np.linspace(self.black, 100.0, NODES)

    def edit(self, lightness: Array) -> Array:
        """L* in the edit of print-referred L*: black point compensation undone."""
        low = luminance_from_lightness(self.black)
        return np.asarray(lightness_from_luminance((luminance_from_lightness(lightness) - low) / (1 - low)))

    def seen(self, lightness: Array) -> Array:
        """Luminance of print tones as a share of white's, veil included."""
        return np.asarray(luminance_from_lightness(lightness) * (1 - self.veil) + self.veil)


@dataclass(frozen=True)
class Curve:
    """A tone curve: what is added to L* at evenly spaced nodes from black to white, 0 at both."""

    black: float
    added: Array

    def __call__(self, lightness: Array) -> Array:
        """L* after the curve; below black and above white unchanged."""
        return np.asarray(lightness + self.change(np.asarray(lightness, np.float64)))

    def change(self, lightness: NDArray[np.floating]) -> NDArray[np.floating]:
        """What the curve adds at these L*; float32 stays float32."""
        added = self.added.astype(lightness.dtype)
        last = len(added) - 1
        at = np.clip((lightness - self.black) * (last / (100.0 - self.black)), 0, last)
        node = np.minimum(at.astype(np.int32), last - 1)
        low = added[node]
        return np.asarray(low + (added[node + 1] - low) * (at - node).astype(added.dtype))


def apply(lab: Lab, curve: Curve) -> Lab:
    """Move L* along a curve, and a*, b* along with it.

    A lighter tone gets more light of the same colour: XYZ scaled by one factor keeps chromaticity and
    hue, and in CIELAB scales a* and b* by ``(L' + 16) / (L + 16)`` (the cube root of the factor, above
    L* 8). Chroma held fixed instead would make lifted shadows look greyed. Greys stay exactly grey.
    """
    L = lab[..., 0]
    change = curve.change(L)
    out = np.empty_like(lab)
    out[..., 0] = L + change
    out[..., 1:] = lab[..., 1:] * (1 + change / (np.maximum(L, 0) + 16))[..., None]
    return out


def equal_shares(before: Array, after: Array, lightness: Array) -> Array:
    """Carry tones over so that each keeps its share of the visible range.

    Parameters
    ----------
    before, after : (n,) ndarray, cd/m2
        Luminance of the tones where they are right, and where they will be seen; strictly rising.
    lightness : (n,) ndarray
        L* of the tones on the print.

    Returns
    -------
    (n,) ndarray
        L* that gives each tone, where it will be seen, the share of the range of JNDs that it had.
    """
    had, has = jnd_index(before), jnd_index(after)
    had = (had - had[0]) / (had[-1] - had[0])
    has = (has - has[0]) / (has[-1] - has[0])
    return np.interp(had, has, lightness)


@lru_cache(maxsize=64)
def full_room(view: View) -> Array:
    """What carrying the framed print from the reference light to the room's adds to L*."""
    L = view.lightness()
    seen = view.seen(L)
    return equal_shares(seen * view.reference, seen * view.white, L) - L


@lru_cache(maxsize=64)
def full_lift(view: View) -> Array:
    """What carrying the shadows from an ideal original to this paper, in this room, adds to L*."""
    L = view.lightness()
    seen, edit = view.seen(L), view.edit(L)
    flare = min(view.flare, float(seen[0]))
    ideal = luminance_from_lightness(edit) * (1 - flare) + flare
    added = equal_shares(ideal * view.white, seen * view.white, L) - L
    t = np.clip((edit - _FADE[0]) / (_FADE[1] - _FADE[0]), 0, 1)
    return np.asarray(added * (1 - t * t * (3 - 2 * t)))


@lru_cache(maxsize=64)
def lift_share(view: View) -> float:
    """Share of the full lift that fits the budget when the room's default follows: 0..1.

    The rule: the room keeps its default and the lift yields, because the room moves all tones and the
    lift only the darkest, where some is better than none.
    """
    room = Curve(view.black, room_strength(view) * full_room(view))
    if fits(view, full_lift(view), room):
        return 1.0
    low, high = 0.0, 1.0
    for _ in range(20):
        middle = (low + high) / 2
        low, high = (middle, high) if fits(view, middle * full_lift(view), room) else (low, middle)
    return low


def room_strength(view: View) -> float:
    """Default strength of room-brightness: 0 where the room is brighter than the reference."""
    return ROOM_STRENGTH if view.white < view.reference else 0.0


def fits(view: View, lift: Array, room: Curve) -> bool:
    """Whether lift, then room, keeps within the budget of slopes."""
    L = view.lightness()
    edit = view.edit(L)
    out = room(L + lift)
    slope = np.diff(out) / np.diff(L)
    inner = (edit[1:] >= 5) & (edit[:-1] <= 95)
    ends = np.interp([40.0, 60.0], edit, L)
    middle = np.diff(np.interp(ends, L, out))[0] / np.diff(ends)[0]
    return bool(slope[inner].min() >= LEAST_SLOPE and middle >= LEAST_MIDDLE_SLOPE)


def lift(view: View, strength: float) -> Curve:
    """The curve of shadow-lift."""
    return Curve(view.black, strength * lift_share(view) * full_lift(view))


def room(view: View, strength: float | None) -> Curve:
    """The curve of room-brightness; strength None is the default."""
    return Curve(view.black, (room_strength(view) if strength is None else strength) * full_room(view))
