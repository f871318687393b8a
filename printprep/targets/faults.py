"""The usual faults of a printing chain, each as what it does to the colours of a file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.colour.blackpoint import compensate
from printprep.colour.icc import device_from_lab, lab_from_device
from printprep.colour.lab import media_relative
from printprep.colour.profile import Profile
from printprep.conditions.paper import Paper
from printprep.targets.printer import Printer, printer_for

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Fault:
    """One way in which a chain goes wrong; or, as the first of `FAULTS`, right.

    Parameters
    ----------
    key : str
        A short name.
    title : str
        What is wrong, for people.
    remedy : str
        What to set.
    also : str
        Name of a sign that this fault changes besides its own; empty if none.
    spread_mm : float, mm
        How far ink runs beyond a line's edge on each side.
    """

    key: str
    title: str
    remedy: str
    also: str = ""
    spread_mm: float = 0.015  # usual on coated papers: common practice, no source

    def __str__(self) -> str:
        return self.title


RIGHT = Fault("right", "As it should be", "Nothing to do.")
TWICE = Fault(
    "twice", "Colour managed twice",
    "One program converts, the other must not: either the application manages colour and the driver's own colour "
    "correction is off, or the other way round.",
)  # fmt: skip
UNMANAGED = Fault(
    "unmanaged", "Not colour managed at all",
    "The file's profile was ignored. Let the application convert to the paper's profile; do not assign another "
    "profile or strip it on opening.",
)  # fmt: skip
PERCEPTUAL = Fault(
    "perceptual", "Wrong intent: perceptual",
    "Choose relative colorimetric, with black point compensation.",
)  # fmt: skip
ABSOLUTE = Fault(
    "absolute", "Wrong intent: absolute colorimetric",
    "Choose relative colorimetric; absolute is for imitating another paper's white.",
    also="Night window",  # absolute colorimetric never compensates black
)  # fmt: skip
NO_COMPENSATION = Fault(
    "no-compensation", "Black point compensation off",
    "Switch black point compensation on, beside the choice of intent.",
)  # fmt: skip
MORE_INK = Fault(
    "more-ink", "Wrong media setting: too much ink",
    "Choose the media type that the paper's maker names.",
    also="Night window",
    spread_mm=0.050,
)  # fmt: skip
LESS_INK = Fault(
    "less-ink", "Wrong media setting: too little ink",
    "Choose the media type that the paper's maker names.",
    also="Night window",  # with less ink the deepest black is lighter, and so are the panes
    spread_mm=0.0,
)  # fmt: skip

FAULTS = (RIGHT, TWICE, UNMANAGED, PERCEPTUAL, ABSOLUTE, NO_COMPENSATION, MORE_INK, LESS_INK)
"""Right first, then the faults, in the order of the page."""

_INK = {MORE_INK.key: 1.25, LESS_INK.key: 0.78}
"""Ink against what the setting should lay down (our choice; a wrong setting changes it by a fifth to a third)."""


@dataclass(frozen=True)
class PrintChain:
    """From a file to a print on one paper, right or wrong.

    Parameters
    ----------
    paper : Paper
        What is printed on.
    profile : Profile
        Of the file; RGB.
    """

    paper: Paper
    profile: Profile

    def printed(self, lab: ArrayLike, fault: Fault = RIGHT) -> Array:
        """What a colour of the file looks like on the print.

        Parameters
        ----------
        lab : (..., 3) array_like
            Lab, D50, media-relative, of colours in the file.
        fault : Fault
            What is wrong with the chain.

        Returns
        -------
        (..., 3) ndarray
            Lab, D50, relative to the paper's white.
        """
        colours = np.asarray(lab, np.float64)
        ink = _INK.get(fault.key, 1.0)
        way = self._ways.get(fault.key, self._right)
        return self.printer.lab(way(colours), ink=ink)

    @cached_property
    def printer(self) -> Printer:
        """The printer with this paper in it."""
        return printer_for(self.paper)

    @property
    def _ways(self) -> dict[str, Callable[[Array], Array]]:
        """How each fault arrives at device values."""
        return {
            TWICE.key: self._twice, UNMANAGED.key: self._unmanaged, PERCEPTUAL.key: self._perceptual,
            ABSOLUTE.key: self._absolute, NO_COMPENSATION.key: self.printer.ask,
        }  # fmt: skip

    def _right(self, lab: Array) -> Array:
        return self.printer.ask(compensate(lab, 0, self.printer.black))

    def _twice(self, lab: Array) -> Array:
        """The driver takes finished device values for sRGB and converts them again."""
        again = lab_from_device(self._right(lab), Profile.named("sRGB").data)
        return self._right(np.asarray(again, np.float64))

    def _unmanaged(self, lab: Array) -> Array:
        """The file's numbers go to the printer as they are."""
        return np.clip(np.asarray(device_from_lab(lab, self.profile.data), np.float64), 0, 1)

    def _perceptual(self, lab: Array) -> Array:
        return self.printer.ask(compensate(lab, 0, self.printer.black), "perceptual")

    def _absolute(self, lab: Array) -> Array:
        return self.printer.ask(np.asarray(media_relative(lab, np.array(self.paper.white)), np.float64))
