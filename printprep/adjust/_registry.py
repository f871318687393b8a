"""Find adjustments by name: our own by file name, others' by entry point; nothing is imported until asked for."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING

from printprep.adjust._base import Adjustment
from printprep.adjust._blame import GROUP, blaming
from printprep.errors import PrintprepError, UnknownName, out_of_memory

if TYPE_CHECKING:
    from importlib.metadata import EntryPoint


@cache
def _own() -> frozenset[str]:
    path = import_module("printprep.adjust").__path__
    return frozenset(m.name.replace("_", "-") for m in iter_modules(path) if m.name[0] != "_")


@cache
def _others() -> dict[str, tuple[EntryPoint, ...]]:
    from importlib.metadata import entry_points

    found: dict[str, tuple[EntryPoint, ...]] = {}
    for point in entry_points(group=GROUP):
        if point not in found.get(point.name, ()):
            found[point.name] = (*found.get(point.name, ()), point)
    return found


def names() -> list[str]:
    """Every step that can be named, sorted."""
    return sorted(_own() | set(_others()))


def class_name(name: str) -> str:
    """The class of a step of ours: ``shadow-lift`` is ``ShadowLift``."""
    return "".join(part.capitalize() for part in name.split("-"))


def step_name(step: Adjustment | type[Adjustment]) -> str:
    """The name a preset would use: ``ShadowLift`` is ``shadow-lift``."""
    cls = step if isinstance(step, type) else type(step)
    own = "".join("-" + c.lower() if c.isupper() else c for c in cls.__name__).lstrip("-")
    if own in _own() and cls.__module__ == f"printprep.adjust.{own.replace('-', '_')}":
        return own
    for name, points in _others().items():
        if any(p.value == f"{cls.__module__}:{cls.__qualname__}" for p in points):
            return name
    return own


def adjustment(name: str) -> type[Adjustment]:
    """The class of a step, by its name in presets; refused where there is none, or what offers it is at fault."""
    if name in _own():
        cls = getattr(import_module(f"printprep.adjust.{name.replace('-', '_')}"), class_name(name))
        assert isinstance(cls, type) and issubclass(cls, Adjustment)
        return cls
    points = _others().get(name, ())
    if not points:
        raise UnknownName("step", name, names())
    packages = " and ".join(sorted(p.dist.name if p.dist else p.value for p in points))
    if len(points) > 1:
        raise PrintprepError(f"offered by {packages}", where=repr(name), do="remove one of them")
    try:
        loaded = points[0].load()
    except (Exception, SystemExit) as error:
        if out_of_memory(error):
            raise
        said = str(error).strip().partition("\n")[0] or type(error).__name__
        what = f"cannot be loaded ({said})"
        raise PrintprepError(what, where=repr(name), do=f"update or remove {packages}") from error
    if not (isinstance(loaded, type) and issubclass(loaded, Adjustment)):
        raise PrintprepError("is no adjustment", where=repr(name), do=f"update or remove {packages}")
    return loaded


def built(name: str, values: Mapping[str, object]) -> Adjustment:
    """A step by name, with its parameters; errors as `adjustment` and `Adjustment.from_table`."""
    cls = adjustment(name)
    try:
        return cls.from_table(dict(values))
    except PrintprepError:  # what the user set is wrong
        raise
    except Exception as error:
        with blaming(cls):
            raise error
