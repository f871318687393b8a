"""Other packages' steps held to their promises, and named where they break one."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import numpy as np

from printprep.colour.lab import Lab
from printprep.errors import PrintprepError, out_of_memory

if TYPE_CHECKING:
    from printprep.conditions.conditions import Conditions

GROUP = "printprep.adjustments"
"""Entry-point group under which other packages offer their steps."""

_LIGHTNESS, _COLOUR = (-100.0, 200.0), 500.0
"""L*, and a* and b* up and down, beyond which a result is no colour but a slip: another scale, a runaway power."""


def foreign(step: object) -> bool:
    """Whether a step is not one of ours, whose code and data `printprep.files.cache.code_stamp` knows."""
    cls = step if isinstance(step, type) else type(step)
    return not cls.__module__.startswith("printprep.adjust.")


@contextmanager
def blaming(step: object) -> Iterator[None]:
    """Name another package's step, and the package, in whatever error it raises."""
    try:
        yield
    except Exception as error:
        if not foreign(step) or out_of_memory(error):
            raise
        if isinstance(error, PrintprepError):  # says itself what to do
            raise PrintprepError(_first(error.fault), where=_name(step), do=_first(error.do)) from error
        said = _first(str(error))
        raise broken(step, f"raises {type(error).__name__}" + (f" ({said})" if said else "")) from error


def call(step: Callable[[Lab, Conditions], object], lab: Lab, on: Conditions) -> Lab:
    """Call another package's step; an error names it if it raises, or returns what cannot be used."""
    with blaming(step):
        out = step(lab, on)
    if not isinstance(out, np.ndarray):
        raise broken(step, f"returns {type(out).__name__}, must return an array")
    if out.shape != lab.shape:
        raise broken(step, f"returns an array of shape {out.shape} for one of shape {lab.shape}")
    if out.dtype != np.float32:
        raise broken(step, f"returns {out.dtype}, must return float32")
    if out.size:
        low, high = float(out.min()), float(out.max())  # NaN, where there is one
        if not (np.isfinite(low) and np.isfinite(high)):
            raise broken(step, "returns NaN or infinity")
        L = out[..., 0]
        if max(-low, high) > _COLOUR or L.min() < _LIGHTNESS[0] or L.max() > _LIGHTNESS[1]:
            raise broken(step, f"returns values from {low:.4g} to {high:.4g}, which are no Lab (L* is 0 to 100)")
    return out


def broken(step: object, fault: str) -> PrintprepError:
    """The error that names a step, its package, and the promise it broke."""
    return PrintprepError(fault, where=_name(step), do="mend the step, update its package, or leave it out")


def _first(text: str) -> str:
    return text.strip().partition("\n")[0]


def _name(step: object) -> str:
    """The class of a step and the installed package it comes from, with its version; else its module."""
    from importlib.metadata import entry_points, packages_distributions, version

    cls = step if isinstance(step, type) else type(step)
    top = cls.__module__.partition(".")[0]
    for point in entry_points(group=GROUP):
        if point.module.partition(".")[0] == top and point.dist:
            return f"step {cls.__name__} of {point.dist.name} {point.dist.version}"
    if found := packages_distributions().get(top):
        return f"step {cls.__name__} of {found[0]} {version(found[0])}"
    return f"step {cls.__name__} of {cls.__module__}"
