"""The figures of what a print loses, without how they are counted and how they are said."""

from __future__ import annotations

from dataclasses import dataclass

from printprep.check._regions import Region
from printprep.results import Result

SHADOWS = 20.0
"""L* of the edit at which the shadows end."""


@dataclass(frozen=True)
class Figures(Result):
    """What one print of a picture loses.

    Parameters
    ----------
    visible : float, share of the picture, 0..1
        Where something is lost: wholly where colour is lost or tones merge, else in the shadows by the share of their
        visible steps that the print does not show.
    colour : float, share of the picture, 0..1
        Where colours outside the paper lose visibly: the one shown differs from the one asked for by more than
        3 CIEDE2000.
    flat : float, share of the picture, 0..1
        Lost in the dark: area of the shadows (the edit's L* under 20) times the share of their visible steps that is
        lost; tones that merge count wholly.
    shadows : float, share of the picture, 0..1
        In tones of the darker half where a step of one L* is seen as less than one JND in the room.
    highlights : float, share of the picture, 0..1
        In tones that the edit shows apart from white and that are less than one JND from paper white.
    difference : float, CIEDE2000
        Mean over the colours outside the paper: asked for against shown, both relative to paper white; 0 where there
        are none.
    from_edit : float, CIEDE2000
        Mean difference of the print from the edit, each relative to its own white. Includes the paper's
        lighter black and the tones that are moved on purpose for the room.
    kept_chroma : float, 0..1
        Share of their C* that colours outside the paper keep, on average; 1 where there are none.
    hue_shift : float, degrees
        Mean change of hue angle of those colours.
    detail : float, 0..1
        Share of the contrast between neighbours of the sample inside those areas that is left, by dE*ab.
    steps : float, JND
        Steps that the eye can tell apart between the edit's L* 0 and 20, as the print hangs in the room.
    merged_below : float, L*
        Tones of the edit darker than this merge (see `shadows`); 0 where none do.
    """

    visible: float
    colour: float
    flat: float
    shadows: float
    highlights: float
    difference: float
    from_edit: float
    kept_chroma: float
    hue_shift: float
    detail: float
    steps: float
    merged_below: float


@dataclass(frozen=True)
class Lost(Result):
    """The figures of a `printprep.Loss`, which says what they are."""

    prepared: Figures
    left_alone: Figures
    outside: float
    dark: float
    steps_edit: float
    evening_steps: tuple[float, float] | None
    black: float
    contrast: float
    pushed_out: float
    flatter: float
    flatter_by: float
    flatter_tones: tuple[float, float]
    done: tuple[str, ...]
    regions: tuple[Region, ...]
    sample: tuple[int, int]

    _also = ("score",)

    @property
    def score(self) -> float:
        """Share of the picture that is lost visibly once it is prepared, 0 (easy) to 1 (hard)."""
        return self.prepared.visible
