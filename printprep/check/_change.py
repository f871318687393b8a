"""What a job changed in a picture's colours, in words."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from printprep.check._words import percent
from printprep.colour.difference import ciede2000
from printprep.colour.lab import Lab

SEEN = 1.0
"""CIEDE2000, L* or C* that counts as one change; about the smallest that a careful eye sees side by side (common
practice)."""

FEW = 0.01
"""Share of the picture that may change by more while the rest counts for all: our choice."""

_NAMED, _COUNTED = 0.05, 0.0005
"""L* that rounds to 0.1, and a share that rounds to 0.1 %: less is not worth a word."""
_SHIFTED = 0.5
"""Units of a*, b* or C*, on average over the picture, from which a shift of colour is worth a word (our choice)."""


def change(asked: Lab, printed: Lab, edit: NDArray[np.floating], pulled: NDArray[np.floating]) -> str:
    """What a job changed against black point compensation alone, in words.

    Compared are print-referred Lab with that alone (`asked`) and as `printed`, (n, 3); `edit` is the edit's L*, under
    20 its shadows, to 80 the mid-tones; `pulled` is how far each colour's C* was pulled back to what the paper holds.
    "Nothing that the eye would see" only where none of it is worth a word and 99 % of the picture moved by under 1
    CIEDE2000; where the rest tells less than half of what moved, it says so.
    """
    rise = printed[:, 0] - asked[:, 0]
    ranges = (("shadows", edit < 20), ("mid-tones", (edit >= 20) & (edit < 80)), ("highlights", edit >= 80))
    back = pulled > SEEN
    held = [(name, of & ~back) for name, of in ranges]  # what lightness gives way for chroma is told by the chroma
    parts = [_tone(name, rise[of]) for name, of in held if of.mean() >= _COUNTED]
    factor, shift = _fitted(asked[~back, 1:], printed[~back, 1:])
    more = (factor - 1) * mean(np.hypot(asked[:, 1], asked[:, 2]), ~back)
    chroma = [f"{more:+.1f} C*"] if abs(more) >= _SHIFTED else []
    if back.mean() >= _COUNTED:
        chroma.append(f"pulled back by {mean(pulled, back):.0f} C* in {percent(float(back.mean()))} of the picture")
    parts.append(f"chroma {', '.join(chroma)}" if chroma else "")
    if np.hypot(*shift) >= _SHIFTED:
        a, b = (round(float(t), 1) + 0.0 for t in shift)  # no -0.0
        towards = ("yellow" if b > 0 else "blue") if abs(b) >= abs(a) else ("red" if a > 0 else "green")
        parts.append(f"colours shifted towards {towards} (a* {a:+.1f}, b* {b:+.1f})")
    told = printed.copy()
    told[~back, 1:] = np.float32(factor) * asked[~back, 1:] + shift.astype(np.float32)
    rest, whole = ciede2000(told, printed), ciede2000(asked, printed)
    moved, parts = whole > SEEN, [part for part in parts if part]
    if moved.mean() >= FEW and (not parts or mean(rest, moved) > mean(whole, moved) / 2):
        what = "other changes, in all" if parts else "colours moved by"
        parts.append(f"{what} {mean(whole, moved):.1f} CIEDE2000 in {percent(float(moved.mean()))} of the picture")
    return ", ".join(parts) or "nothing that the eye would see"


def _tone(name: str, rise: NDArray[np.floating]) -> str:
    """How the lightness of a range of tones moved; empty where that is not worth a word."""
    mean_rise, move = float(rise.mean()), float(np.abs(rise).mean())
    if abs(mean_rise) < _NAMED and move < SEEN:
        return ""
    if abs(mean_rise) < move / 2:
        return f"{name} up and down by {move:.1f} L*"
    return f"{name} {mean_rise:+.1f} L*"


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
