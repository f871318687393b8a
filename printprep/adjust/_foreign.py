"""Steps of other packages: known by what they do, and named when they break a promise."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from printprep.errors import PrintprepError, out_of_memory

if TYPE_CHECKING:
    from printprep.adjust._base import Adjustment, Lab, Steps
    from printprep.conditions.conditions import Conditions

GROUP = "printprep.adjustments"
"""Entry-point group under which other packages offer their steps."""

_LIGHTNESS, _COLOUR = (-100.0, 200.0), 500.0
"""L*, and a* and b* up and down, beyond which a result is no colour but a slip: another scale, a runaway power."""

_LOOSE = 3.0
"""Lab units by which a fitted colour may lie outside the gamut; `gamut-fit` itself keeps within 0.001."""

_GAMUT = 5
"""`Stage.GAMUT`: from here on what a step returns is what the paper must hold."""


def foreign(step: Adjustment | type[Adjustment]) -> bool:
    """Whether a step is not one of ours, whose code and data `printprep.files.cache.code_stamp` knows."""
    cls = step if isinstance(step, type) else type(step)
    return not cls.__module__.startswith("printprep.adjust.")


@contextmanager
def blaming(step: Adjustment | type[Adjustment]) -> Iterator[None]:
    """Name another package's step in whatever error it raises.

    Raises
    ------
    PrintprepError
        Naming the step and its package.
    """
    try:
        yield
    except Exception as error:
        if not foreign(step) or out_of_memory(error):
            raise
        if isinstance(error, PrintprepError):  # says itself what to do
            raise PrintprepError(_first(error.fault), where=_name(step), do=_first(error.do)) from error
        said = _first(str(error))
        raise _named(step, f"raises {type(error).__name__}" + (f" ({said})" if said else "")) from error


def call(step: Adjustment, lab: Lab, on: Conditions) -> Lab:
    """Call another package's step, and make sure that what it returns can be used.

    Raises
    ------
    PrintprepError
        Naming the step and its package, if it raises, or returns another shape or dtype, NaN, or no colour.
    """
    with blaming(step):
        out: object = step(lab, on)
    if not isinstance(out, np.ndarray):
        raise _named(step, f"returns {type(out).__name__}, must return an array")
    if out.shape != lab.shape:
        raise _named(step, f"returns an array of shape {out.shape} for one of shape {lab.shape}")
    if out.dtype != np.float32:
        raise _named(step, f"returns {out.dtype}, must return float32")
    if out.size:
        low, high = float(out.min()), float(out.max())  # NaN, where there is one
        if not (np.isfinite(low) and np.isfinite(high)):
            raise _named(step, "returns NaN or infinity")
        L = out[..., 0]
        if max(-low, high) > _COLOUR or L.min() < _LIGHTNESS[0] or L.max() > _LIGHTNESS[1]:
            raise _named(step, f"returns values from {low:.4g} to {high:.4g}, which are no Lab (L* is 0 to 100)")
    return out


def behaviour(steps: Steps, conditions: Callable[[], Conditions]) -> str:
    """What the steps of other packages do now, as a hash; empty where there are none.

    Classes stay equal where code that they use changes, as when a module is loaded again or a constant is set
    from outside, so what is kept in memory is known by what they make of 17,000 colours all over Lab.

    Raises
    ------
    PrintprepError
        Naming the step and its package, if one breaks a promise; see `call`. From the gamut stage on it must
        also keep within the gamut.
    """
    others = [step for step in steps if foreign(step)]
    if not others:
        return ""
    on, lab, digest = conditions(), _probe(), hashlib.blake2b(digest_size=16)
    for step in others:
        with blaming(step):
            hash(step)
            looks, idle, made = step.reach(on), step.idle(on), step.resolved(on)
            digest.update(f"{looks} {idle} {made!r}".encode())
        if idle:
            continue
        out = call(made, lab.copy(), on)
        digest.update(out.tobytes())
        if step.stage >= _GAMUT and not looks:
            _insist_on_gamut(step, lab, out, on)
    return digest.hexdigest()


def _probe() -> Lab:
    """Colours all over print-referred Lab, as a picture, (759, 23, 3); greys among them."""
    L, ab = np.linspace(0, 100, 33), np.linspace(-110, 110, 23)
    return np.stack(np.meshgrid(L, ab, ab, indexing="ij"), -1).reshape(-1, len(ab), 3).astype(np.float32)


def _insist_on_gamut(step: Adjustment, lab: Lab, out: Lab, on: Conditions) -> None:
    beyond = _outside(out, on)
    if step.stage > _GAMUT:  # what was outside before is no fault of this step
        beyond = np.where(_outside(lab, on) > 0, 0, beyond)
    if beyond.max() > _LOOSE:
        L, a, b = lab[np.unravel_index(beyond.argmax(), beyond.shape)]
        raise _named(
            step, f"takes Lab {L:.0f}, {a:.0f}, {b:.0f} out of the gamut that is to be kept, by {beyond.max():.0f}"
        )


def _outside(lab: Lab, on: Conditions) -> NDArray[np.floating]:
    """How far colours lie outside the gamut at their own lightness and hue, at most; 0 inside."""
    gamut, (L, a, b) = on.gamut, np.moveaxis(lab, -1, 0)
    held = np.clip(L, gamut.floor_L, gamut.white_L)
    most = gamut.max_chroma(held, np.degrees(np.arctan2(b, a)))
    return np.asarray(np.maximum(np.abs(L - held), np.maximum(np.hypot(a, b) - most, 0)))


def _named(step: Adjustment | type[Adjustment], fault: str) -> PrintprepError:
    return PrintprepError(fault, where=_name(step), do="mend the step, update its package, or leave it out")


def _first(text: str) -> str:
    return text.strip().partition("\n")[0]


def _name(step: Adjustment | type[Adjustment]) -> str:
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
