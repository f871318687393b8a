"""What a test strip varies: one parameter and its values."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from math import isfinite

from printprep.adjust._base import Steps
from printprep.errors import ParameterError, PrintprepError
from printprep.pipe import Pipeline
from printprep.preset import with_settings

OVERALL = "strength"
"""The parameter that is no step's: how much of it all."""

MOST = 9
"""Values on a strip, so that one figure numbers them."""

_EXAMPLE = "write it as strength=0..1.2/5 or shadow-lift.strength=0.4..1/3"
_NUMBER = r"[-+]?(?:\d+(?:\.\d+)?|\.\d+)"
_RANGE = re.compile(rf"({_NUMBER})\s*\.\.\s*({_NUMBER})\s*/\s*(\d+)")


@dataclass(frozen=True)
class Vary:
    """One parameter and the values that a strip shows of it.

    Parameters
    ----------
    key : str
        ``strength``, or ``STEP.PARAM``.
    values : tuple of float
        2 to 9, rising or falling.
    """

    key: str
    values: tuple[float, ...]

    def __post_init__(self) -> None:
        values = tuple(self.values)
        steps = [b - a for a, b in pairwise(values)]
        if not 2 <= len(values) <= MOST:
            raise ParameterError("vary", self.key, f"has {len(values)} values, must have 2 to {MOST}", _EXAMPLE)
        if not all(isfinite(v) for v in values) or not (all(s > 0 for s in steps) or all(s < 0 for s in steps)):
            raise ParameterError("vary", f"{self.key} = {values}", "must be numbers that rise or fall", _EXAMPLE)

    @classmethod
    def parse(cls, text: str) -> Vary:
        """From ``KEY=FIRST..LAST/COUNT``.

        Raises
        ------
        ParameterError
            If it is none, its range is empty, or there are too few or too many values.

        Examples
        --------
        >>> Vary.parse("strength=0..1.2/5").values
        (0.0, 0.3, 0.6, 0.9, 1.2)
        """
        key, equals, said = (part.strip() for part in text.partition("="))
        found = _RANGE.fullmatch(said)
        if not (key and equals and found):
            raise ParameterError("vary", text, "must be a parameter, first and last value, and how many", _EXAMPLE)
        first, last, count = float(found[1]), float(found[2]), int(found[3][:3])
        if first == last:
            raise ParameterError("vary", text, "is an empty range, first and last value are the same", _EXAMPLE)
        if not 2 <= count <= MOST:
            raise ParameterError("vary", text, f"must have 2 to {MOST} values", _EXAMPLE)
        return cls(key, _spread(first, last, count))

    def __str__(self) -> str:
        return f"{self.key} {', '.join(f'{value:g}' for value in self.values)}"

    def around(self, value: float) -> Vary:
        """The same number of values around one of these, as far as to its neighbours."""
        near = self.values.index(value)
        first, last = self.values[max(near - 1, 0)], self.values[min(near + 1, len(self.values) - 1)]
        count = max(len(self.values), 3) if 0 < near < len(self.values) - 1 else len(self.values)
        return Vary(self.key, _spread(first, last, count))


def _spread(first: float, last: float, count: int) -> tuple[float, ...]:
    return tuple(float(f"{first + (last - first) * k / (count - 1):.6g}") for k in range(count))


def varied(pipe: Pipeline, settings: Mapping[str, float]) -> Pipeline:
    """A pipeline with some parameters set otherwise."""
    more = {key: value for key, value in settings.items() if key != OVERALL}
    for key in more:
        if "." not in key:
            do = f"write {OVERALL}, or STEP.PARAM such as shadow-lift.strength"
            raise ParameterError("vary", key, "is no parameter", do)
    try:
        steps = Steps(tuple(with_settings(pipe.steps, more))) if more else pipe.steps
        return replace(pipe, steps=steps, strength=settings.get(OVERALL, pipe.strength))
    except PrintprepError as error:
        raise error.within("vary") from error
