"""What an adjustment is: checked parameters and one call, print-referred Lab in and out."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import IntEnum
from typing import Any, ClassVar, TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._blame import blaming, call, foreign
from printprep.colour.lab import Lab
from printprep.conditions.conditions import Conditions
from printprep.errors import UnknownName
from printprep.parameters import Checked

AnyStep = TypeVar("AnyStep", bound="Adjustment")


class Stage(IntEnum):
    """Where in the order a step belongs; presets merge by it, whatever order they came in.

    Examples
    --------
    >>> import printprep as pp
    >>> pp.ShadowLift.stage < pp.GamutFit.stage
    True
    """

    COLOUR = 1
    TONE = 2
    ROOM = 3
    TINT = 4
    GAMUT = 5
    DETAIL = 6


@dataclass(frozen=True)
class Adjustment(Checked, ABC):
    """One step: frozen, range-checked parameters, and one call.

    Steps hold no state: equal steps are equal, hashable, picklable, safe in threads, and
    their ``repr`` is their recipe.

    Examples
    --------
    >>> from dataclasses import dataclass
    >>> import numpy as np
    >>> import printprep as pp
    >>> @dataclass(frozen=True)
    ... class Softer(pp.Adjustment):
    ...     stage = pp.Stage.TONE
    ...
    ...     def __call__(self, lab, on):
    ...         return lab * np.float32([1, 0.9, 0.9])
    >>> pipe = pp.pipeline(paper="gloss") + Softer()
    >>> [type(step).__name__ for step in pipe]
    ['ShadowLift', 'Softer', 'GamutFit', 'Sharpen']
    """

    stage: ClassVar[Stage]

    most_strength: ClassVar[float] = 1.5
    """What an overall strength may raise a step's own to."""

    undoes_paper: ClassVar[bool] = False
    """Whether the step undoes what the paper does to colours on top of its profile: proofs leave it out."""

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
        """Pixels looked at on each side; 0 (pointwise) may be folded into a table.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.ShadowLift().reach(pp.Conditions(pp.paper("gloss"), pp.room("office")))
        0
        """
        return 0

    def flat(self, on: Conditions) -> Adjustment:
        """The same step for colours that have no surroundings: pointwise, without a field.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.ShadowLift().flat(pp.Conditions(pp.paper("gloss"), pp.room("office")))
        ShadowLift(strength=1.0, worth=None)
        """
        return self

    def field(self, small: Lab, on: Conditions) -> NDArray[np.float32] | None:
        """By what factor each place should get more or less light before any step is done.

        The engine asks once for each picture, evens the answer over surroundings (`printprep.render.field`) and
        multiplies the picture by it, one factor for the three channels.

        Parameters
        ----------
        small : (height, width, 3) ndarray of float32
            The picture, reduced, in print-referred Lab as this step gets it.
        on : Conditions
            Paper, room and sheet.

        Returns
        -------
        (height, width) ndarray of float32, or None
            Factors of luminance on the print; None where the step asks for nothing.

        Examples
        --------
        >>> import numpy as np
        >>> import printprep as pp
        >>> on = pp.Conditions(pp.paper("gloss"), pp.room("office"))
        >>> pp.ShadowLift().field(np.zeros((20, 30, 3), np.float32), on) is None
        True
        """
        return None

    def suited(self, small: Lab, on: Conditions) -> Adjustment:
        """The same step, with what depends on the picture decided.

        Parameters
        ----------
        small : (height, width, 3) ndarray of float32
            The picture, reduced, in print-referred Lab as this step gets it.
        on : Conditions
            Paper, room and sheet.

        Examples
        --------
        >>> import numpy as np
        >>> import printprep as pp
        >>> on = pp.Conditions(pp.paper("gloss"), pp.room("office"))
        >>> light = np.full((20, 30, 3), [80, 0, 0], np.float32)
        >>> pp.ShadowLift().suited(light, on).worth
        0.0
        """
        return self

    def scaled(self, amount: float) -> Adjustment:
        """The same step with its ``strength``, where it has one, multiplied and held to `most_strength`.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.ShadowLift(strength=0.8).scaled(0.5).strength
        0.4
        """
        strength = getattr(self, "strength", None)
        if strength is None or amount == 1:
            return self
        changed: Any = {"strength": min(strength * amount, max(strength, self.most_strength))}
        return replace(self, **changed)

    def idle(self, on: Conditions) -> bool:
        """Whether the step changes nothing under these conditions, so that it can be left out.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.ShadowLift(strength=0).idle(pp.Conditions(pp.paper("gloss"), pp.room("office")))
        True
        """
        return False

    def resolved(self, on: Conditions) -> Adjustment:
        """The same step with every default that depends on the conditions put into its parameters.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.RoomBrightness().resolved(pp.Conditions(pp.paper("gloss"), pp.room("lux=60")))
        RoomBrightness(strength=0.45)
        """
        return self

    def __or__(self, other: Adjustment | Steps) -> Steps:
        return Steps((self,)) | other


@dataclass(frozen=True)
class Steps:
    """A list of steps; knows no paper and no file. ``Steps((a, b)) == a | b``.

    Examples
    --------
    >>> import printprep as pp
    >>> steps = pp.GamutFit() | pp.ShadowLift()
    >>> [type(step).__name__ for step in steps.ordered()]
    ['ShadowLift', 'GamutFit']
    """

    items: tuple[Adjustment, ...] = ()

    def __iter__(self) -> Iterator[Adjustment]:
        return iter(self.items)

    def __len__(self) -> int:
        return len(self.items)

    @overload
    def __getitem__(self, key: int) -> Adjustment: ...

    @overload
    def __getitem__(self, key: type[AnyStep]) -> AnyStep: ...

    @overload
    def __getitem__(self, key: slice) -> Steps: ...

    def __getitem__(self, key: int | slice | type[Adjustment]) -> Adjustment | Steps:
        """A step by its place or class, or several by their places.

        Raises
        ------
        IndexError, UnknownName
            If there is none.
        """
        if isinstance(key, slice):
            return Steps(self.items[key])
        if not isinstance(key, type):
            return self.items[key]
        found = next((step for step in self.items if type(step) is key), None)
        if found is None:
            raise UnknownName("step here", key.__name__, [type(step).__name__ for step in self.items])
        return found

    def __or__(self, other: Adjustment | Steps) -> Steps:
        return Steps(self.items + (other.items if isinstance(other, Steps) else (other,)))

    def ordered(self) -> Steps:
        """The same steps in stage order, and by name within a stage.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.Steps((pp.GamutFit(), pp.ShadowLift())).ordered().items[0]
        ShadowLift(strength=1.0, worth=None)
        """

        def place(step: Adjustment) -> tuple[Stage, str]:
            with blaming(step):
                return Stage(step.stage), type(step).__name__

        return Steps(tuple(sorted(self.items, key=place)))

    def flat(self, on: Conditions) -> Steps:
        """The same steps for colours that have no surroundings.

        Examples
        --------
        >>> import printprep as pp
        >>> on = pp.Conditions(pp.paper("gloss"), pp.room("office"))
        >>> len(pp.Steps((pp.ShadowLift(),)).flat(on))
        1
        """
        made: list[Adjustment] = []
        for step in self.items:
            with blaming(step):
                made.append(step.flat(on))
        return Steps(tuple(made))

    def live(self, on: Conditions, strength: float = 1.0) -> Steps:
        """The steps that change anything under these conditions and at this overall strength, resolved, in order.

        Examples
        --------
        >>> import printprep as pp
        >>> on = pp.Conditions(pp.paper("gloss"), pp.room("office"))
        >>> pp.Steps((pp.ShadowLift(), pp.Midtones())).live(on).items
        (ShadowLift(strength=1.0, worth=None),)
        """
        made: list[Adjustment] = []
        for step in self.ordered() if strength > 0 else ():
            with blaming(step):
                scaled = step.resolved(on).scaled(strength)
                if not scaled.idle(on):
                    made.append(scaled)
        return Steps(tuple(made))

    def suited(self, small: Lab, on: Conditions) -> Steps:
        """The same steps, with what depends on a picture decided; `small` as for `Adjustment.suited`.

        Examples
        --------
        >>> import numpy as np
        >>> import printprep as pp
        >>> on = pp.Conditions(pp.paper("gloss"), pp.room("office"))
        >>> pp.Steps((pp.ShadowLift(),)).suited(np.full((20, 30, 3), [80, 0, 0], np.float32), on)[0].worth
        0.0
        """
        asking = [k for k, step in enumerate(self.items) if type(step).suited is not Adjustment.suited]
        made: list[Adjustment] = []
        for step in self.items[: asking[-1] + 1 if asking else 0]:
            if made:
                small = Steps((made[-1],))(small, on)
            with blaming(step):
                made.append(step.suited(small, on))
        return Steps((*made, *self.items[len(made) :]))

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        """Apply one after the other: slow and exact, what every plan is tested against."""
        for step in self.items:
            lab = call(step, lab, on) if foreign(step) else step(lab, on)
        return lab
