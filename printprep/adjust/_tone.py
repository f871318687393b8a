"""Tone on paper: what the eye loses in a dim room, what the steps give back, and what none can.

**What is lost.** Light counts for the eye in steps that it can just tell apart (JND; DICOM PS3.14). Between
black and white of a gloss print it finds about 460 of them under 500 lx and 240 under 50 lx, and the shadows
lose most: the edit's L* 0 to 20 keeps 40 of 100. A matte paper begins with 58 there, since its black is light
already, and keeps 25. A pane of glass that faces a light wall lays a veil over black, and a gloss print behind
it has fewer than a matte one without: 34, and 15 under 50 lx.

**What is given back.** `ShadowLift` undoes what the black does. It carries the tones from an ideal
original, which has a flare of 0.5 % of white (our choice; or the screen's black, where that is known), to
this paper behind its pane, so that each keeps its share of the visible range, and fades out to nothing at
L* 52. `RoomBrightness` undoes what the light does. It carries all tones of the framed print from the
reference light to the room's in the same way. At 50 lx on a matte paper both together give L* 0 to 20 about
1.7 times the steps that black point compensation alone leaves. Neither ever moves paper white or black.

**Who pays.** White and black are fixed, so the mean slope of a tone curve is too: what shadows gain, others
pay. Here the tones around L* 35 and the highlights pay a little each (a fifth of their slope in that
example), middle tones almost nothing (2 %). Lift and room together keep at least 0.66 of compensation's slope
anywhere from L* 5 to 95 of the edit, and 0.89 on average from 40 to 60 (`LEAST_SLOPE`,
`LEAST_MIDDLE_SLOPE`). Where that binds, the lift yields: it moves the darkest tones only, where some is
better than none, while half a room's worth of brightness is wrong everywhere. The room yields only where it
would break the budget alone. So each step has its curve from the conditions, and any of them may be left
out. The budget is for the default strengths; above them it is the user's, and the curves still rise.

**How strong.** Two simulated viewers, one whose eye adapts to each tone (PS3.14) and one whose eye stays
adapted to the room (Barten's surround factor), are both nearest to what they saw in the reference light at a
room strength of 0.85 to 1 (``python -m benchmarks.tones sweep``). CIECAM16's brightness Q disagrees with
itself: in shares of its range it asks for nothing, in absolute terms for more than 1.5. Hence 0.8. A surround
that is dim leaves the tones alone for a like reason: it lowers contrast in CIECAM16's J and raises it in Q.

**What no adjustment can.** Paper white is the brightest thing there is, and black the darkest: the range
itself comes back with light only. Where one L* of the edit is less than a visible step (20 lx behind glass
on matte paper) a lift can only move what is lost to other tones. **But mind the light.** A print worth keeping
is harmed by every lux-hour, and CIE 157:2004 allows works of that kind 50 lx. Raise the picture's tones, not
the lamp.

**Warm lamps need no counter-tint.** The eye adapts to the lamp and takes the paper for white; colours here
are relative to that white. A blue cast added against a warm lamp would be seen as a blue cast. What a lamp of
poor colour rendering does to single inks, no tone or tint can undo.

``python -m benchmarks.tones_plot FILE`` draws the curves and the steps.
"""

from __future__ import annotations

from collections.abc import Callable
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
"""Nodes of a tabulated curve, 0.05 L* or less apart: straight between them to 0.0001 L*."""

LIFT_STRENGTH = 0.9
"""Default strength of shadow-lift: 1 would be the model's whole, where the budget allows it."""

ROOM_STRENGTH = 0.8
"""Default strength of room-brightness in rooms dimmer than the reference; 0 in brighter ones."""

LEAST_SLOPE, LEAST_MIDDLE_SLOPE = 0.66, 0.89
"""What lift and room together leave of compensation's slope: anywhere, and on average at mid-grey."""

_WHOLE, _NONE = 3.0, 52.0
"""The whole lift up to this L* of the edit, none from this L* on the print."""


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
        kind = lightness.dtype.type
        added, black = self.added.astype(kind), kind(self.black)
        last = len(added) - 1
        at = np.clip((lightness - black) / (kind(100) - black), 0, 1) * last  # white lands on the last node exactly
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
    seen = view.seen(L)
    there = view.reference * (view.white / view.reference) ** strength
    return Curve(view.black, equal_shares(seen * view.reference, seen * there, L) - L)


@lru_cache(maxsize=64)
def room_strength(view: View) -> float:
    """Default strength of room-brightness: 0 in rooms brighter than the reference, else 0.8.

    Less where even the room alone would break the budget: below about 4 lx on gloss, or 20 lx for an edit made
    on a screen of 400 cd/m2.
    """
    if view.white >= view.reference:
        return 0.0
    return _most(lambda s: fits(view, room(view, s)(view.lightness())), ROOM_STRENGTH)


@lru_cache(maxsize=64)
def full_lift(view: View) -> Array:
    """What carrying the shadows from an ideal original to this paper, pane included, adds to L*.

    Judged in the reference light: room-brightness carries the result over to the room, and both
    together then are the way from the original there to the print here. (Judged in the room's light
    the lift would shrink as the room gets dimmer, and deep shadows of a print for 20 lx would come out
    darker than of one for 35.)
    """
    L = view.lightness()
    seen, edit = view.seen(L), view.edit(L)
    flare = min(view.flare, float(seen[0]))
    ideal = np.asarray(luminance_from_lightness(edit) * (1 - flare) + flare, np.float64)
    added = equal_shares(ideal * view.reference, seen * view.reference, L) - L
    start = float(np.interp(_WHOLE, edit, L))
    t = np.clip((L - start) / max(_NONE - start, 5.0), 0, 1)
    return np.asarray(added * (1 - t**3 * (10 - 15 * t + 6 * t * t)))  # smooth to the second derivative


def lift(view: View, strength: float) -> Curve:
    """The curve of shadow-lift."""
    return Curve(view.black, strength * lift_share(view) * full_lift(view))


@lru_cache(maxsize=64)
def lift_share(view: View) -> float:
    """Share of the lift that fits the budget at default strengths of lift and room: 0..1.

    The rule: the room keeps its default and the lift yields, because the room moves all tones and the
    lift only the darkest, where some is better than none.
    """
    L, whole, after = view.lightness(), LIFT_STRENGTH * full_lift(view), room(view)
    return _most(lambda share: fits(view, after(L + share * whole)), 1.0)


def fits(view: View, out: Array) -> bool:
    """Whether a whole curve, given by L* at the nodes, keeps within the budget of slopes."""
    L = view.lightness()
    edit = view.edit(L)
    slope = np.diff(out) / np.diff(L)
    inner = (edit[1:] >= 5) & (edit[:-1] <= 95)
    ends = np.interp([40.0, 60.0], edit, L)
    middle = np.diff(np.interp(ends, L, out))[0] / np.diff(ends)[0]
    return bool(slope[inner].min() >= LEAST_SLOPE and middle >= LEAST_MIDDLE_SLOPE)


def _most(good: Callable[[float], bool], most: float) -> float:
    """The largest amount up to `most` that is good, found by halving."""
    if good(most):
        return most
    low, high = 0.0, most
    for _ in range(20):
        middle = (low + high) / 2
        low, high = (middle, high) if good(middle) else (low, middle)
    return low
