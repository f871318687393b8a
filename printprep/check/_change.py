"""What a job changed in a picture's colours, in figures and in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Lab
from printprep.check._shares import percent
from printprep.colour.difference import ciede2000

SEEN = 1.0
"""CIEDE2000, L* or C* that counts as one change; about the smallest that a careful eye sees side by side (common
practice)."""

FEW = 0.01
"""Share of the picture that may change by more while the rest counts for all: our choice."""

_NAMED, _COUNTED = 0.05, 0.0005
"""L* that rounds to 0.1, and a share that rounds to 0.1 %: less is not worth a word."""
_SHIFTED = 0.5
"""Units of a*, b* or C*, on average over the picture, from which a shift of colour is worth a word (our choice)."""


@dataclass(frozen=True)
class Tone:
    """How the lightness of a range of tones moved.

    Parameters
    ----------
    name : str
        What people call the range.
    rise : float, L*
        Mean change.
    move : float, L*
        Mean size of the change, up or down.
    """

    name: str
    rise: float
    move: float

    def __str__(self) -> str:
        if abs(self.rise) < _NAMED and self.move < SEEN:
            return ""
        if abs(self.rise) < self.move / 2:
            return f"{self.name} up and down by {self.move:.1f} L*"
        return f"{self.name} {self.rise:+.1f} L*"


@dataclass(frozen=True)
class Change:
    """What was changed against black point compensation alone, of every pixel of a sample.

    Parameters
    ----------
    tones : tuple of Tone
        Shadows (the edit's L* under 20), mid-tones (to 80), highlights; those that the picture has.
    pulled : float, 0..1
        Share of the picture whose chroma was pulled back by more than 1 C*.
    pulled_by : float, C*
        How far, on average, there.
    chroma : float, C*
        Mean change elsewhere by which chroma grew in proportion.
    tint : (float, float)
        Change of a* and b* elsewhere that all colours, grey too, have in common.
    moved : float, 0..1
        Share of the picture that moved by more than 1 CIEDE2000 in all.
    moved_by : float, CIEDE2000
        How far, on average, there.
    other : float, CIEDE2000
        Mean, there, of what the figures above do not tell.

    Notes
    -----
    ``str`` says "nothing that the eye would see" only where none of this is worth a word and 99 % of the
    picture moved by under 1 CIEDE2000; where the other figures tell less than half of what moved, it says so.
    """

    tones: tuple[Tone, ...]
    pulled: float
    pulled_by: float
    chroma: float
    tint: tuple[float, float]
    moved: float
    moved_by: float
    other: float

    def __str__(self) -> str:
        parts = [text for tone in self.tones if (text := str(tone))]
        chroma = []
        if abs(self.chroma) >= _SHIFTED:
            chroma.append(f"{self.chroma:+.1f} C*")
        if self.pulled >= _COUNTED:
            chroma.append(f"pulled back by {self.pulled_by:.0f} C* in {percent(self.pulled)} of the picture")
        if chroma:
            parts.append("chroma " + ", ".join(chroma))
        if np.hypot(*self.tint) >= _SHIFTED:
            a, b = (round(t, 1) + 0.0 for t in self.tint)  # no -0.0
            parts.append(f"colours shifted {_towards(a, b)} (a* {a:+.1f}, b* {b:+.1f})")
        if self.moved >= FEW and (not parts or self.other > self.moved_by / 2):
            what = "other changes, in all" if parts else "colours moved by"
            parts.append(f"{what} {self.moved_by:.1f} CIEDE2000 in {percent(self.moved)} of the picture")
        return ", ".join(parts) or "nothing that the eye would see"


def change(asked: Lab, printed: Lab, edit: NDArray[np.floating], pulled: NDArray[np.floating]) -> Change:
    """Count what was changed.

    Parameters
    ----------
    asked, printed : (n, 3) ndarray
        Print-referred Lab with black point compensation alone, and as printed.
    edit : (n,) ndarray
        L* of the edit.
    pulled : (n,) ndarray, C*
        How far each colour's chroma was pulled back to what the paper holds.
    """
    rise = printed[:, 0] - asked[:, 0]
    ranges = (("shadows", edit < 20), ("mid-tones", (edit >= 20) & (edit < 80)), ("highlights", edit >= 80))
    back = pulled > SEEN
    held = [(name, of & ~back) for name, of in ranges]  # what lightness gives way for chroma is told by the chroma
    tones = tuple(Tone(name, mean(rise, of), mean(np.abs(rise), of)) for name, of in held if of.mean() >= _COUNTED)
    factor, shift = _fitted(asked[~back, 1:], printed[~back, 1:])
    told = printed.copy()
    told[~back, 1:] = np.float32(factor) * asked[~back, 1:] + shift.astype(np.float32)
    rest, whole = ciede2000(told, printed), ciede2000(asked, printed)
    moved = whole > SEEN
    return Change(
        tones=tones,
        pulled=float(back.mean()),
        pulled_by=mean(pulled, back),
        chroma=(factor - 1) * mean(np.hypot(asked[:, 1], asked[:, 2]), ~back),
        tint=(float(shift[0]), float(shift[1])),
        moved=float(moved.mean()),
        moved_by=mean(whole, moved),
        other=mean(rest, moved),
    )


def _fitted(before: NDArray[np.floating], after: NDArray[np.floating]) -> tuple[float, NDArray[np.float64]]:
    """The factor, and the shift where a factor will not do, that tell most of how a* and b* changed."""
    one, two = before.astype(np.float64), after.astype(np.float64)
    factor = _factor(one, two)
    if not len(one) or np.hypot(*(two - factor * one).mean(axis=0)) < _SHIFTED:
        return factor, np.zeros(2)
    middle, moved = one.mean(axis=0), two.mean(axis=0)
    factor = _factor(one - middle, two - moved)
    return factor, moved - factor * middle


def _factor(before: NDArray[np.float64], after: NDArray[np.float64]) -> float:
    """Ratio of chroma, root mean square; that of colours turned in hue is 1."""
    power = float((before * before).sum())
    return (float((after * after).sum()) / power) ** 0.5 if power > len(before) else 1.0  # greys: none to scale


def mean(values: NDArray[np.floating], where: NDArray[np.bool_]) -> float:
    """Mean of some values; 0 where there are none."""
    return float(values[where].mean()) if where.any() else 0.0


def _towards(a: float, b: float) -> str:
    """The direction of a shift in the plane of a* and b*, by its nearest axis."""
    if abs(b) >= abs(a):
        return "towards yellow" if b > 0 else "towards blue"
    return "towards red" if a > 0 else "towards green"
