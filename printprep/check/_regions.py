"""The parts of a picture: where something is lost, in words that a person would use."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.check._judge import hue, kept_chroma
from printprep.check.sampled import Sample

NAMES = (
    "upper left", "top", "upper right",
    "left", "centre", "right",
    "lower left", "bottom", "lower right",
)  # fmt: skip

HUES = (
    (20.0, "pinks"), (48.0, "reds"), (72.0, "oranges"), (105.0, "yellows"), (130.0, "yellow-greens"),
    (168.0, "greens"), (215.0, "blue-greens"), (255.0, "light blues"), (297.0, "blues"), (325.0, "purples"),
    (350.0, "magentas"), (360.0, "pinks"),
)  # fmt: skip
"""Upper ends of families of CIELAB hue angle, in degrees (our choice, after common colour names)."""


@dataclass(frozen=True)
class Region:
    """One of the nine parts of a picture.

    Parameters
    ----------
    name : str
        Such as "lower left".
    outside : float, share of the part, 0..1
        That asks for more than the paper holds.
    kept_chroma, kept_chroma_alone : float, 0..1
        Share of their C* that those colours keep, prepared and left alone.
    hues : str
        The family of hues that loses most there; empty where none does.
    shadows, shadows_alone : float, share of the part, 0..1
        In tones that merge, prepared and left alone.
    """

    name: str
    outside: float
    kept_chroma: float
    kept_chroma_alone: float
    hues: str
    shadows: float
    shadows_alone: float


def family(angle: float) -> str:
    """The name of a hue angle in degrees."""
    return next(name for end, name in HUES if angle % 360 < end)


def regions(taken: Sample) -> tuple[Region, ...]:
    """The nine parts of a picture by its sample."""
    over, asked, (alone, ready) = taken.over, taken.shown.toned, taken.prints
    keeps_alone, keeps = (kept_chroma(asked, each.got) for each in (alone, ready))
    angle = hue(asked) % 360
    found = []
    for name, at in zip(NAMES, ninths(over.shape), strict=True):
        lost = np.where(alone.colour[at], alone.apart[at], 0)
        by_hue = np.bincount((angle[at] // 5).astype(int).ravel() % 72, lost.ravel(), 72)
        smooth = np.sum([np.roll(by_hue, k) for k in range(-2, 3)], axis=0)
        found.append(
            Region(
                name=name,
                outside=_share(over[at]),
                kept_chroma=_mean(keeps[at], over[at]),
                kept_chroma_alone=_mean(keeps_alone[at], over[at]),
                hues=family(float(np.argmax(smooth)) * 5 + 2.5) if lost.any() else "",
                shadows=_share(ready.shadows[at]),
                shadows_alone=_share(alone.shadows[at]),
            )
        )
    return tuple(found)


def ninths(shape: tuple[int, ...]) -> list[tuple[slice, slice]]:
    """Where each of the parts lies in an array."""
    rows, columns = (np.linspace(0, n, 4).round().astype(int) for n in shape[:2])
    return [(slice(rows[i], rows[i + 1]), slice(columns[j], columns[j + 1])) for i in range(3) for j in range(3)]


def _share(flags: NDArray[np.bool_]) -> float:
    return float(flags.mean()) if flags.size else 0.0


def _mean(values: NDArray[np.float32], where: NDArray[np.bool_]) -> float:
    return float(values[where].mean()) if where.any() else 1.0
