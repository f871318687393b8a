"""A pipeline as a sequence of its steps: asked for, changed, added to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace
from typing import Self, overload

from printprep.adjust._base import Adjustment, Steps
from printprep.adjust._registry import step_name
from printprep.errors import PrintprepError, UnknownName, expect

Key = str | type[Adjustment]
"""A step by its name, as in a preset, or by its class."""


class Stepwise:
    """What a pipeline has of a sequence; every change gives a new pipeline."""

    steps: Steps

    def __iter__(self) -> Iterator[Adjustment]:
        return iter(self.steps)

    def __len__(self) -> int:
        return len(self.steps)

    def __bool__(self) -> bool:
        return True  # a pipeline without steps is one

    @overload
    def __getitem__(self, key: int | Key) -> Adjustment: ...

    @overload
    def __getitem__(self, key: slice) -> Steps: ...

    def __getitem__(self, key: int | slice | Key) -> Adjustment | Steps:
        """A step by place, name or class.

        Raises
        ------
        IndexError
            If there is none in that place.
        UnknownName
            If no step has that name or is of that class.
        """
        return self.steps[self._place(key) if isinstance(key, (str, type)) else key]

    def __contains__(self, key: object) -> bool:
        """Whether a step is there: this very one, or one of that name or class."""
        if isinstance(key, Adjustment):
            return key in self.steps.items
        return any(key in (step_name(step), type(step)) for step in self.steps)

    def __add__(self, other: Adjustment | Steps) -> Self:
        """The same with steps added; each kind may be there once, as in `Pipeline`."""
        if not isinstance(other, (Adjustment, Steps)):
            return NotImplemented
        return self._with((self.steps | other).items)

    def with_step(self, step: Adjustment) -> Self:
        """The same with a step in place of the one of its kind, or added where there was none.

        Examples
        --------
        >>> import printprep as pp
        >>> pipe = pp.pipeline(paper="gloss").with_step(pp.ShadowLift(strength=0.5))
        >>> pipe["shadow-lift"].strength
        0.5
        """
        expect("step", step, Adjustment, "must be an adjustment, such as ShadowLift()")
        return self._with((*(s for s in self.steps if type(s) is not type(step)), step))

    def without(self, *keys: Key) -> Self:
        """The same without the steps of these names or classes.

        Raises
        ------
        UnknownName
            If one is not there.

        Examples
        --------
        >>> import printprep as pp
        >>> pipe = pp.pipeline(paper="cotton-rag").without("gamut-fit")
        >>> "gamut-fit" in pipe, pp.ShadowLift in pipe
        (False, True)
        """
        gone = {self._place(key) for key in keys}
        return self._with(tuple(step for place, step in enumerate(self.steps) if place not in gone))

    def with_strength(self, strength: float, key: Key | None = None) -> Self:
        """The same with another strength of the whole, or of one step.

        Parameters
        ----------
        strength : float, 0 to 1.5
            The new one.
        key : str or class, optional
            The step; the whole pipeline where not given.

        Raises
        ------
        UnknownName
            If the step is not there, or has no strength.
        ParameterError
            If the strength is out of its range.

        Examples
        --------
        >>> import printprep as pp
        >>> pipe = pp.pipeline(paper="gloss").with_strength(0.6, "shadow-lift")
        >>> pipe["shadow-lift"].strength, pipe.strength
        (0.6, 1.0)
        """
        if key is None:
            return replace(self, strength=strength)  # type: ignore[type-var]
        step = self.steps[self._place(key)]
        values = {f.name: getattr(step, f.name) for f in fields(step)}
        try:
            return self.with_step(type(step).from_table({**values, "strength": strength}))
        except PrintprepError as error:
            raise error.within(step_name(step)) from None

    def _place(self, key: Key) -> int:
        expect("key", key, (str, type), "must be the name of a step, or its class")
        for place, step in enumerate(self.steps):
            if key in (step_name(step), type(step)):
                return place
        named = key.__name__ if isinstance(key, type) else str(key)
        raise UnknownName("step of this pipeline", named, map(step_name, self.steps))

    def _with(self, steps: tuple[Adjustment, ...]) -> Self:
        return replace(self, steps=steps)  # type: ignore[type-var]
