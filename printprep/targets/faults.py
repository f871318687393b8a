"""The usual faults of a printing chain, each as what it does to the colours of a file."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from printprep.colour.blackpoint import compensate
from printprep.colour.icc import device_from_lab, lab_from_device
from printprep.colour.lab import Array, media_relative
from printprep.colour.profile import Profile
from printprep.conditions.paper import Paper
from printprep.targets.printer import Printer, printer_for


@dataclass(frozen=True)
class Fault:
    """One way in which a chain goes wrong, and what to set; or, as the first of `FAULTS`, right.

    `spread_mm` is how far ink runs beyond a line's edge on each side; `ink` what is laid down against what the setting
    should lay down (our choice; a wrong one changes it by a fifth to a third).
    """

    key: str
    title: str
    remedy: str
    spread_mm: float = 0.015  # usual on coated papers: common practice, no source
    ink: float = 1.0


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
)  # fmt: skip
NO_COMPENSATION = Fault(
    "no-compensation", "Black point compensation off",
    "Switch black point compensation on, beside the choice of intent.",
)  # fmt: skip
MORE_INK = Fault(
    "more-ink", "Wrong media setting: too much ink",
    "Choose the media type that the paper's maker names.",
    spread_mm=0.050,
    ink=1.25,
)  # fmt: skip
LESS_INK = Fault(
    "less-ink", "Wrong media setting: too little ink",
    "Choose the media type that the paper's maker names.",
    spread_mm=0.0,
    ink=0.78,
)  # fmt: skip

FAULTS = (RIGHT, TWICE, UNMANAGED, PERCEPTUAL, ABSOLUTE, NO_COMPENSATION, MORE_INK, LESS_INK)
"""Right first, then the faults, in the order of the page."""


@dataclass(frozen=True)
class PrintChain:
    """From a file, in an RGB profile, to a print on one paper, right or wrong."""

    paper: Paper
    profile: Profile

    @cached_property
    def printer(self) -> Printer:
        """The printer with this paper in it."""
        return printer_for(self.paper)

    def printed(self, lab: ArrayLike, fault: Fault = RIGHT) -> Array:
        """What colours of the file look like on the print: media-relative Lab to the same, (..., 3)."""
        printer, colours = self.printer, np.asarray(lab, np.float64)
        compensated = compensate(colours, 0, printer.black)
        if fault == UNMANAGED:  # the file's numbers go to the printer as they are
            device = np.clip(np.asarray(device_from_lab(colours, self.profile.data), np.float64), 0, 1)
        elif fault == PERCEPTUAL:
            device = printer.ask(compensated, "perceptual")
        elif fault == ABSOLUTE:
            device = printer.ask(media_relative(colours, np.array(self.paper.white)))
        else:
            device = printer.ask(colours if fault == NO_COMPENSATION else compensated)
        if fault == TWICE:  # the driver takes finished device values for sRGB and converts them again
            again = lab_from_device(device, Profile.named("sRGB").data)
            device = printer.ask(compensate(np.asarray(again, np.float64), 0, printer.black))
        return printer.lab(device, ink=fault.ink)
