"""All that an adjustment may look at besides pixels: the paper, the room, the sheet."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.sheet import Sheet

if TYPE_CHECKING:
    from printprep.colour.solid import Solid

HandOver = Literal["source", "paper", "grey"]
"""`source`: back to the edit's own profile; `paper`: to the paper's profile; `grey`: to the paper's grey ramp."""


@dataclass(frozen=True)
class Conditions:
    """What the print will be.

    Parameters
    ----------
    paper : Paper
        The paper, media-relative.
    room : Room
        Where the print will hang.
    sheet : Sheet
        Pixels per millimetre.
    source : Solid, optional
        What the edit's own space holds, in print-referred Lab (compensated to the paper's black).
    hand_over : {"source", "paper", "grey"}
        Other than under ``paper`` the result must fit the source space too.

    Examples
    --------
    >>> import printprep as pp
    >>> on = pp.Conditions(pp.paper("cotton-rag"), pp.room("office"))
    >>> round(on.black, 1), on.gamut.black_L == on.paper.neutral_black
    (17.6, True)
    """

    paper: Paper
    room: Room
    sheet: Sheet = field(default_factory=Sheet)
    source: Solid | None = None
    hand_over: HandOver = "source"

    @cached_property
    def gamut(self) -> Solid:
        """The solid, print-referred Lab, that every result must lie in."""
        if self.source is None or self.hand_over == "paper":
            return self.paper.solid
        return self.paper.solid.intersection(self.source)

    @property
    def black(self) -> float:
        """L* of the paper's neutral black, media-relative: where compensation puts the source's black."""
        return self.paper.neutral_black
