"""Parameters that check themselves once, for Python and for preset files alike; arguments checked at the call."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, fields, is_dataclass
from datetime import datetime
from functools import cache, wraps
from math import isfinite
from os import PathLike
from types import NoneType, UnionType
from typing import Any, Literal, ParamSpec, Self, TypeVar, Union, get_args, get_origin, get_type_hints

import msgspec
import numpy as np

from printprep.errors import ParameterError, PrintprepError, UnknownName

_PLAIN: dict[Any, str] = {bool: "true or false", int: "a whole number", float: "a number", str: "text", bytes: "bytes"}
_KINDS: dict[str, tuple[Any, str]] = {
    "bool": ((bool, np.bool_), "must be true or false"),
    "int": ((int, np.integer), "must be a whole number"),
    "float": ((int, float, np.integer, np.floating), "must be a number"),
    "str": (str, "must be text"),
    "bytes": (bytes, "must be bytes"),
    "datetime": (datetime, "must be a datetime"),
    "str | Path": ((str, PathLike), "must be a name or a path"),
    "AnyPath": ((str, bytes, PathLike), "must be the path of a file"),
    "Mapping[str, object]": (Mapping, "must be a mapping, of names to values"),
}
"""Annotations of arguments that say plainly what is taken."""

_MADE_BY = {
    "Paper": "printprep.paper finds one by name or path",
    "Room": "printprep.room finds one by name or path",
    "Photo": "printprep.read opens one",
    "Pipeline": "printprep.pipeline makes one",
    "Ticket": "printprep.read_ticket reads one",
}
_P = ParamSpec("_P")
_R = TypeVar("_R")


def checked_call(call: Callable[_P, _R]) -> Callable[_P, _R]:
    """Refuse by its name, before any work is done, an argument of another kind than its annotation says plainly.

    That is: a flag, a number, text, a function to be called, one of our own classes, or None where that is named too.
    What may be one of several things the call looks at itself.
    """
    signature = inspect.signature(call)
    kinds = cache(lambda: {name: kind for name, each in signature.parameters.items() if (kind := _kind(call, each))})

    @wraps(call)
    def checking(*args: _P.args, **more: _P.kwargs) -> _R:
        try:
            given = signature.bind(*args, **more).arguments
        except TypeError:
            return call(*args, **more)  # its own words for what is missing or too much
        for name, (kind, wanted, do) in kinds().items():
            if name in given and not isinstance(given[name], kind):
                raise ParameterError(name, given[name], wanted, do)
        return call(*args, **more)

    return checking


def _kind(call: Any, parameter: inspect.Parameter) -> tuple[tuple[type, ...], str, str] | None:
    text = str(parameter.annotation)
    name = text.removesuffix(" | None")
    found = call.__globals__.get(name)
    do = _MADE_BY.get(name, "correct it")
    if name in _KINDS:
        kind, wanted = _KINDS[name]
    elif name.startswith("Callable[") or get_origin(found) is Callable:
        kind, wanted = Callable, "must be a function, or None"
    elif isinstance(found, type) and found.__module__.startswith("printprep."):
        kind, wanted = found, f"must be a {name}"
    else:
        return None
    kinds = kind if isinstance(kind, tuple) else (kind,)
    return (*kinds, NoneType) if name != text else kinds, wanted, do


class Checked:
    """Mixed into frozen dataclasses: types and ranges in the annotations are enforced.

    A field is annotated ``Annotated[float, Meta(ge=0, le=100, description="cd/m2")]``; the
    description is the unit that error messages state.
    """

    def __post_init__(self) -> None:
        for name, hint in _hints(type(self)).items():  # type: ignore[arg-type, unused-ignore]
            value = getattr(self, name)
            if isinstance(value, np.generic):
                value = value.item()
            try:
                good = msgspec.convert(value, hint)
            except (msgspec.ValidationError, UnicodeEncodeError):
                raise ParameterError(name, value, f"must be {_wanted(hint)}") from None
            if not all(map(isfinite, _floats(good))):
                raise ParameterError(name, value, f"must be finite, {_wanted(hint)}")
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

        Examples
        --------
        >>> import printprep as pp
        >>> pp.ShadowLift.from_table({"strength": 0.5})
        ShadowLift(strength=0.5, worth=None)
        """
        if not isinstance(table, dict):
            raise PrintprepError("is no table", do="give keys and values")
        known = {f.name: f for f in fields(cls)}  # type: ignore[arg-type]
        for key in table:
            if key not in known:
                raise UnknownName("key", key, known)
        for key, f in known.items():
            if key not in table and f.default is MISSING and f.default_factory is MISSING:
                raise PrintprepError("missing", where=key, do="add it")
        return cls(**table)


@cache
def _hints(cls: type) -> dict[str, Any]:
    """Type hints of the fields that can be checked by msgspec; others check themselves."""
    hints = get_type_hints(cls, include_extras=True)
    return {f.name: hints[f.name] for f in fields(cls) if not f.metadata.get("unchecked")}  # type: ignore[arg-type, unused-ignore]


def _wanted(hint: Any) -> str:
    """What a value must be, in words, with its range and unit, from its annotation."""
    metas = [m for m in getattr(hint, "__metadata__", ()) if isinstance(m, msgspec.Meta)]
    if metas:
        range_, unit = _range(metas[-1]), metas[-1].description
        words = _wanted(get_args(hint)[0]) + (f", {range_}" if range_ else "")
        return f"{words} ({unit})" if unit else words
    args = get_args(hint)
    if get_origin(hint) is Literal:
        return "one of " + ", ".join(map(str, args))
    if get_origin(hint) in (Union, UnionType):
        return " or ".join(_wanted(a) for a in args if a is not NoneType)
    if get_origin(hint) is tuple and Ellipsis not in args:
        parts = [_wanted(a) for a in args]
        if all(p.startswith("a number, ") for p in parts):  # such as a colour
            return f"{len(parts)} numbers: " + ", ".join(p.removeprefix("a number, ") for p in parts)
        return f"a list of {len(parts)}: " + ", ".join(parts)
    if is_dataclass(hint):
        return "a table"
    return _PLAIN.get(hint, "a value of another kind")


def _range(meta: msgspec.Meta) -> str:
    if meta.ge is not None and meta.le is not None:
        return f"{meta.ge:g} to {meta.le:g}"
    ends = (("more than", meta.gt), ("at least", meta.ge), ("less than", meta.lt), ("at most", meta.le))
    return ", ".join(f"{word} {end:g}" for word, end in ends if end is not None)


def _floats(value: object) -> Iterator[float]:
    if isinstance(value, float):
        yield value
    elif isinstance(value, (tuple, list, dict)):
        for item in value.values() if isinstance(value, dict) else value:
            yield from _floats(item)
