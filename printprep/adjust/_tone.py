"""Tone on paper: what the eye loses to a black and to a dim room, what the steps give back, and who pays.

**What is lost.** Light counts for the eye in steps that it can just tell apart (JND; DICOM PS3.14). Between
black and white of a gloss print it finds about 460 of them under 500 lx and 240 under 50 lx, and the shadows
lose most: the edit's L* 0 to 20 keeps 40 of 100. A matte paper begins with 58 there, since its black is light
already, and keeps 25.

**What is given back.** `ShadowLift` undoes what the black does. It carries the tones from an ideal
original, which has a flare of 0.5 % of white (our choice; or the screen's black, where that is known), to
this paper, so that each keeps its share of the visible range. `RoomBrightness` undoes, in part, what the
light does. It carries all tones from the reference light to the room's in the same way. Neither ever moves
paper white or black. Strong colours move less, see `apply`.

**Who pays.** White and black are fixed, so the mean slope of a tone curve is too: what shadows gain, others
pay. Least is felt where all pay alike, so the lift gives way to a straight line of slope -0.13 that eases out
over the lighter half of the scale: it takes no tone on any paper below 0.87 of the slope it had. On a
matte paper at 500 lx the edit's L* 0 to 20 gets 1.4 times its steps, and a mid grey is 1.4 L* lighter. Both
steps at 50 lx give 1.6 times and 4 L*, and leave 0.89. At one and a half times the default strengths no
tone under any light, on any paper, keeps less than 0.78.

**The pane.** A pane lays a veil over black, and a gloss print behind one that faces a light wall has fewer
steps than a matte one without: 34, and 15 under 50 lx. But people look past what a pane mirrors, and a lift
for it is milky wherever it mirrors nothing. So the lift for it is held to 2 L* (common practice, no source).
What the pane takes of the light counts in full, as a dimmer room.

**How strong.** Two simulated viewers, one whose eye adapts to each tone (PS3.14) and one whose eye stays
adapted to the room (Barten's surround factor), are nearest to what they saw in the reference light at a room
strength of 0.85 to 1; CIECAM16's brightness Q asks for nothing in shares of its range, and for more than 1.5
in absolute terms (``python -m benchmarks.tones sweep``). The default of 0.45 is what a mid grey lightened by
at most 4 L*, lift included, leaves room for: more looks pale beside the edit (common practice, no source). A
dim surround leaves the tones alone: it lowers contrast in CIECAM16's J and raises it in Q.

**What no adjustment can.** Paper white is the brightest thing there is, and black the darkest: the range
itself comes back with light only. **But mind the light.** A print worth keeping is harmed by every lux-hour,
and CIE 157:2004 allows works of that kind 50 lx. Raise the picture's tones, not the lamp.

**Warm lamps need no counter-tint.** The eye adapts to the lamp and takes the paper for white; colours here
are relative to that white. What a lamp of poor colour rendering does to single inks, no tone or tint can undo.

``python -m benchmarks.tones_plot FILE`` draws the curves and the steps.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import pi

import numpy as np
from numpy.typing import NDArray

from printprep.colour.lab import Array, Lab, luminance_from_lightness
from printprep.colour.visibility import jnd_index
from printprep.conditions.conditions import Conditions
from printprep.conditions.viewing import hung, in_edit

CURVE_NODES = 2049
"""Nodes of a tabulated curve, 0.05 L* or less apart: straight between them to 0.0001 L*."""

LIFT_STRENGTH = 1.0
"""Default strength of shadow-lift."""

ROOM_STRENGTH = 0.45
"""Default strength of room-brightness in rooms dimmer than the reference; 0 in brighter ones."""

MOST_FOR_PANE = 2.0
"""L* that the lift adds at most for the pane, at its default strength."""

_PAY = 0.13
"""Slope that the tones which pay for the lift give up."""

_JOINT, _EASE = 63.0, 20.0
"""L* on the print where the line of those who pay would meet the plain curve, and over which it eases out there."""

_START = 0.75
"""Slope that the lift adds at most next to black: more would show noise, and add no step up to L* 20."""

_SHARPNESS = 8
"""Of the corners between the three; with less, tones around L* 20 gain less."""

_DIMMEST = 0.07
"""Share of the reference's light (500 lx: 35) below which a room counts as no dimmer, or white would be crowded."""

_STRONG = (0.6, 1.4)
"""C* / (L* + 16) from which a colour moves less, and from which it moves least."""

_STRONG_KEEP = 0.6
"""Share of the change that the strongest colours are spared."""


@dataclass(frozen=True)
class View:
    """A print as the eye gets it: all that the curves depend on.

    `black` is the paper's, L*, media-relative; `white` the luminance of paper white in the room (cd/m2), of the light
    that passes the pane alone; `veil` the share of what the eye gets from white that the pane mirrors. `reference` is
    the luminance of white where the edit was made, `flare` that of its black there, as a share of white.
    """

    black: float
    white: float
    veil: float
    reference: float
    flare: float

    @classmethod
    def of(cls, on: Conditions) -> View:
        """Read it from the conditions."""
        room, rho = hung(on.paper, on.room), on.paper.white_reflectance
        passed = room.transmittance * rho
        reference = room.reference.white_luminance(rho)
        veil = room.veil / (passed + room.veil)
        return cls(on.black, room.prepared_lux / pi * passed, veil, reference, room.reference.flare)

    def lightness(self) -> Array:
        """L* of the curve's nodes: evenly from black to white."""
        return np.linspace(self.black, 100.0, CURVE_NODES)

    def seen(self, lightness: Array) -> Array:
        """What the eye gets from print tones as a share of what it gets from white, veil included."""
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
        kind = lightness.dtype.type
        added, black = self.added.astype(kind), kind(self.black)
        last = len(added) - 1
        at = np.clip((lightness - black) / (kind(100) - black), 0, 1) * last  # white lands on the last node exactly
        node = np.minimum(at.astype(np.int32), last - 1)
        low = added[node]
        return np.asarray(low + (added[node + 1] - low) * (at - node).astype(added.dtype))


def apply(lab: Lab, curve: Curve) -> Lab:
    """Move L* along a curve, and a*, b* along with it; strong colours move less.

    A lighter tone gets more light of the same colour: XYZ scaled by one factor keeps chromaticity and
    hue, and in CIELAB scales a* and b* by ``(L' + 16) / (L + 16)`` (the cube root of the factor, above
    L* 8). Chroma held fixed instead would make lifted shadows look greyed. Greys stay exactly grey.

    ``L' = L + (1 - 0.6 r) change(L)`` with ``r = smoothstep(0.6, 1.4, C* / (L* + 16))``: a strong light that
    is lifted in full turns pale (our choice; no source). The ratio is the same for all tones of one
    chromaticity, so their order stays.
    """
    L, kind = lab[..., 0], lab.dtype.type
    above = np.maximum(L, 0) + kind(16)
    low, high = _STRONG
    t = np.clip((np.hypot(lab[..., 1], lab[..., 2]) / above - kind(low)) / kind(high - low), 0, 1)
    change = curve.change(L) * (1 - kind(_STRONG_KEEP) * t * t * (3 - 2 * t))
    out = np.empty_like(lab)
    out[..., 0] = L + change
    out[..., 1:] = lab[..., 1:] * (1 + change / above)[..., None]
    return out


def equal_shares(before: Array, after: Array, lightness: Array) -> Array:
    """L* that gives each tone, where it will be seen, the share of the range of JNDs that it had.

    Luminances of the tones (cd/m2, strictly rising), where they are right and where they will be seen; L* on the print.
    """
    had, has = jnd_index(before), jnd_index(after)
    had = (had - had[0]) / (had[-1] - had[0])
    has = (has - has[0]) / (has[-1] - has[0])
    return np.asarray(np.interp(had, has, lightness))


@lru_cache(maxsize=64)
def room(view: View, strength: float | None = None) -> Curve:
    """The curve of room-brightness; strength None is the default.

    Strength acts on the light: at 0.5 the print is carried to the light halfway between reference and
    room, on a scale of ratios. So the curve rises at every strength.
    """
    if strength is None:
        strength = room_strength(view)
    L = view.lightness()
    there = view.reference * max(view.white / view.reference, _DIMMEST) ** strength
    light = np.asarray(luminance_from_lightness(L), np.float64)
    return Curve(view.black, equal_shares(light * view.reference, light * there, L) - L)


def room_strength(view: View) -> float:
    """Default strength of room-brightness: 0 in rooms brighter than the reference, else 0.45."""
    return 0.0 if view.white >= view.reference else ROOM_STRENGTH


def lift(view: View, strength: float = LIFT_STRENGTH) -> Curve:
    """The curve of shadow-lift; what it adds is in proportion to strength."""
    return Curve(view.black, strength * (_lift(replace(view, veil=0.0)) + _pane_lift(view)))


def pane_lift(view: View, strength: float = LIFT_STRENGTH) -> Curve:
    """The part of `lift` that is there for the pane; nothing where there is none."""
    return Curve(view.black, strength * _pane_lift(view))


@lru_cache(maxsize=64)
def _pane_lift(view: View) -> Array:
    asked = _lift(view) - _lift(replace(view, veil=0.0))
    return np.asarray(asked * (MOST_FOR_PANE / max(float(asked.max()), MOST_FOR_PANE)))


@lru_cache(maxsize=64)
def _lift(view: View) -> Array:
    """What carrying the shadows from an ideal original to this paper, veil included, adds to L*.

    Judged in the reference light: room-brightness carries the result over to the room. (Judged in the room's
    light the lift would shrink as the room gets dimmer, and deep shadows of a print for 20 lx would come out
    darker than of one for 35.)
    """
    L = view.lightness()
    seen = view.seen(L)
    flare = min(view.flare, float(seen[0]))
    ideal = np.asarray(luminance_from_lightness(in_edit(L, view.black)) * (1 - flare) + flare, np.float64)
    whole = np.maximum(equal_shares(ideal * view.reference, seen * view.reference, L) - L, 0)
    return _least(whole, _START * (L - view.black), _payback(L))


def _payback(L: Array) -> Array:
    """A line down to the joint that eases out there, its slope by smoothstep."""
    x = np.clip((_JOINT - L) / _EASE, -1, 1)
    return np.asarray(_PAY * (_EASE * (x + 1) ** 3 * (3 - x) / 16 + np.maximum(_JOINT - _EASE - L, 0)))


def _least(*bounds: Array) -> Array:
    """The smallest of curves that are nowhere negative, its corners rounded; 0 where one is 0.

    ``(x**-p + y**-p + ..)**(-1/p)``: its slope lies between 0 and those of the curves, or among them.
    """
    least = np.min(bounds, axis=0)
    near = [np.divide(least, x, out=np.ones_like(x), where=x > 0) for x in bounds]
    return np.asarray(least * np.sum([n**_SHARPNESS for n in near], axis=0) ** (-1 / _SHARPNESS))
