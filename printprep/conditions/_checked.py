"""Parameters that check themselves once, for Python and for preset files alike."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import MISSING, fields
from functools import cache
from math import isfinite
from typing import Any, Self, get_args, get_type_hints

import msgspec

from printprep.errors import ParameterError, PrintprepError, UnknownName


class Checked:
    """Mixed into frozen dataclasses: types and ranges in the annotations are enforced.

    A field is annotated ``Annotated[float, Meta(ge=0, le=100, description="cd/m2")]``; the
    description is the unit that error messages state.
    """

    def __post_init__(self) -> None:
        for name, hint in _hints(type(self)).items():
            value = getattr(self, name)
            try:
                good = msgspec.convert(value, hint)
            except msgspec.ValidationError as error:
                raise ParameterError(name, value, _reason(str(error), hint)) from None
            if not all(map(isfinite, _floats(good))):
                raise ParameterError(name, value, "must be finite")
            object.__setattr__(self, name, good)

    @classmethod
    def from_table(cls, table: object) -> Self:
        """Build from a preset's table.

        Parameters
        ----------
        table : dict
            Keys are the field names.

        Raises
        ------
        UnknownName
            For a key that is no field.
        ParameterError
            For a value of the wrong type or out of its range.
        PrintprepError
            For a missing key, or something that is no table.
        """
        if not isinstance(table, dict):
            raise PrintprepError("expected a table of keys and values")
        known = {f.name: f for f in fields(cls)}  # type: ignore[arg-type]
        for key in table:
            if key not in known:
                raise UnknownName("key", key, known)
        for key, f in known.items():
            if key not in table and f.default is MISSING and f.default_factory is MISSING:
                raise PrintprepError(f"{key}: missing; add it")
        return cls(**table)


@cache
def _hints(cls: type) -> dict[str, Any]:
    """Type hints of the fields that can be checked by msgspec; others check themselves."""
    hints = get_type_hints(cls, include_extras=True)
    return {f.name: hints[f.name] for f in fields(cls) if not f.metadata.get("unchecked")}  # type: ignore[arg-type]


def _reason(text: str, hint: Any) -> str:
    text = re.sub(r"\s*- at `\$(.*?)`$", lambda m: f" (at {m[1]})" if m[1] else "", text)
    text = text.replace("`", "").replace("Expected", "must be").replace("Invalid", "invalid")
    parts = (hint, *get_args(hint))  # an optional value keeps its bounds inside the union
    meta = [m for part in parts for m in getattr(part, "__metadata__", ()) if isinstance(m, msgspec.Meta)]
    bounds, unit = "", ""
    for m in meta:
        low = m.ge if m.ge is not None else m.gt
        high = m.le if m.le is not None else m.lt
        if low is not None and high is not None:
            over, under = "more than " * (m.gt is not None), "less than " * (m.lt is not None)
            bounds = f"{over}{low:g} to {under}{high:g}"
        unit = m.description or unit
    if bounds and ("float" in text or "int" in text) and re.search(r"[<>]=?", text):
        text = f"must be a number, {bounds}"
    return f"{text} ({unit})" if unit else text


def _floats(value: object) -> Iterator[float]:
    if isinstance(value, float):
        yield value
    elif isinstance(value, (tuple, list)):
        for item in value:
            yield from _floats(item)
    elif isinstance(value, dict):
        for item in value.values():
            yield from _floats(item)
