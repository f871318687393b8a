"""What an adjustment is: checked parameters and one call, print-referred Lab in and out."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from typing import ClassVar, Protocol

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._foreign import blaming, call, foreign
from printprep.conditions._checked import Checked
from printprep.conditions.conditions import Conditions

Lab = NDArray[np.float32]
"""Print-referred CIELAB D50, float32, shape (..., 3); L* 0..100, a* and b* about -128..127."""

Planes = tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]
"""The three channels of a picture apart, each (height, width)."""

Box = tuple[slice, slice]
"""Rows and columns of a picture."""

BLOCK = 4
"""Bands that steps with a reach are given begin at whole multiples of this many rows of the picture."""


def channels(colours: NDArray[np.float32]) -> Planes:
    """The channels of a (height, width, 3) picture apart."""
    one, two, three = np.ascontiguousarray(np.moveaxis(colours, -1, 0))
    return one, two, three


class Stage(IntEnum):
    """Where in the order a step belongs; presets merge by it, whatever order they came in."""

    COLOUR = 1
    TONE = 2
    ROOM = 3
    GAMUT = 4
    DETAIL = 5


@dataclass(frozen=True)
class Adjustment(Checked, ABC):
    """One step: frozen, range-checked parameters, and one call.

    Steps hold no state: equal steps are equal, hashable, picklable, safe in threads, and
    their ``repr`` is their recipe.
    """

    stage: ClassVar[Stage]

    @abstractmethod
    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Return the adjusted colours.

        Parameters
        ----------
        lab : (..., 3) ndarray of float32
            Print-referred Lab. Steps with a reach get (height, width, 3).
        on : Conditions
            Paper, room and sheet.

        Returns
        -------
        (..., 3) ndarray of float32
            A new array of the same shape; `lab` is never written into.
        """

    def reach(self, on: Conditions) -> int:
        """Pixels looked at on each side; 0 (pointwise) may be folded into a table."""
        return 0

    def flat(self, on: Conditions) -> Adjustment:
        """The same step without looking around: what holds for single colours, and what a table can show."""
        return self

    def spread(self, on: Conditions) -> Spread | None:
        """The fast form of a step that looks around, where it has one; see `Spread`."""
        return None

    def idle(self, on: Conditions) -> bool:
        """Whether the step changes nothing under these conditions, so that it can be left out."""
        return False

    def resolved(self, on: Conditions) -> Adjustment:
        """The same step with every default that depends on the conditions put into its parameters."""
        return self

    def __or__(self, other: Adjustment | Steps) -> Steps:
        return Steps((self,)) | other


class Spread(Protocol):
    """The form in which the engine runs a step that looks around at the speed of tables.

    Such a step has a space of its own, in which differences are taken. `enter` leads there, `fit` does
    what can be done colour by colour, `mend` what depends on a pixel's neighbours, and `leave` leads
    back. So all but `mend` become tables. The picture is averaged over blocks of `BLOCK` x `BLOCK`
    pixels, counted from its first row and column; `weigh` says how far each block takes part, and its
    answers are interpolated to pixels. Where the weight is 0 the result is that of the step's `flat`
    form, and `mend` does not run.
    """

    @property
    def around(self) -> int:
        """Blocks that a pixel's result depends on, on each side."""

    def enter(self, lab: Lab) -> Lab:
        """The step's space from print-referred Lab, (..., 3); pointwise."""

    def fit(self, asked: Lab) -> Lab:
        """What is done colour by colour, (..., 3)."""

    def weigh(self, means: Lab) -> Lab:
        """Weights of blocks, 0..1, (rows, columns), from their mean colours in the step's space, (rows, columns, 3)."""

    def mend(self, asked: Planes, fitted: Planes, weight: Lab, inner: Box) -> Planes:
        """What is done in view of the neighbours, for the part `inner`, whose weights are given.

        `inner` begins where a block does; around it `around` blocks are given, fewer where the picture ends.
        """

    def leave(self, mended: Lab) -> Lab:
        """Print-referred Lab of the finished step, (..., 3); pointwise."""


@dataclass(frozen=True)
class Steps:
    """A list of steps; knows no paper and no file. ``Steps((a, b)) == a | b``."""

    items: tuple[Adjustment, ...] = ()

    def __iter__(self) -> Iterator[Adjustment]:
        return iter(self.items)

    def __len__(self) -> int:
        return len(self.items)

    def __or__(self, other: Adjustment | Steps) -> Steps:
        return Steps(self.items + (other.items if isinstance(other, Steps) else (other,)))

    def ordered(self) -> Steps:
        """The same steps in stage order, and by name within a stage."""

        def place(step: Adjustment) -> tuple[Stage, str]:
            with blaming(step):
                return Stage(step.stage), type(step).__name__

        return Steps(tuple(sorted(self.items, key=place)))

    def flat(self, on: Conditions) -> Steps:
        """The same steps, each in the form that looks around least."""
        made: list[Adjustment] = []
        for step in self.items:
            with blaming(step):
                made.append(step.flat(on))
        return Steps(tuple(made))

    def live(self, on: Conditions) -> Steps:
        """The steps that change anything under these conditions, resolved and in stage order."""
        made: list[Adjustment] = []
        for step in self.ordered():
            with blaming(step):
                if not step.idle(on):
                    made.append(step.resolved(on))
        return Steps(tuple(made))

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Apply one after the other: slow and exact, what every plan is tested against."""
        for step in self.items:
            lab = call(step, lab, on) if foreign(step) else step(lab, on)
        return lab
