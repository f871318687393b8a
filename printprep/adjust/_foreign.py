"""What steps of other packages do now, as a hash: their tables in memory are known by it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Adjustment, Stage, Steps
from printprep.adjust._blame import blaming, broken, call, foreign
from printprep.colour.lab import Lab
from printprep.conditions.conditions import Conditions

_LOOSE = 3.0
"""Lab units by which a fitted colour may lie outside the gamut; `gamut-fit` itself keeps within 0.001."""


def behaviour(steps: Steps, conditions: Callable[[], Conditions]) -> str:
    """What the steps of other packages do now, as a hash; empty where there are none.

    Classes stay equal where code that they use changes, as when a module is loaded again or a constant is set
    from outside, so what is kept in memory is known by what they make of 17,000 colours all over Lab. One that breaks
    a promise (see `call`; from the gamut stage on, that it keeps within the gamut) is an error that names it.
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
        if step.stage >= Stage.GAMUT and not looks:
            _insist_on_gamut(step, lab, out, on)
    return digest.hexdigest()


def _probe() -> Lab:
    """Colours all over print-referred Lab, as a picture, (759, 23, 3); greys among them."""
    L, ab = np.linspace(0, 100, 33), np.linspace(-110, 110, 23)
    return np.stack(np.meshgrid(L, ab, ab, indexing="ij"), -1).reshape(-1, len(ab), 3).astype(np.float32)


def _insist_on_gamut(step: Adjustment, lab: Lab, out: Lab, on: Conditions) -> None:
    beyond = _outside(out, on)
    if step.stage > Stage.GAMUT:  # what was outside before is no fault of this step
        beyond = np.where(_outside(lab, on) > 0, 0, beyond)
    if beyond.max() > _LOOSE:
        L, a, b = lab[np.unravel_index(beyond.argmax(), beyond.shape)]
        raise broken(
            step, f"takes Lab {L:.0f}, {a:.0f}, {b:.0f} out of the gamut that is to be kept, by {beyond.max():.0f}"
        )


def _outside(lab: Lab, on: Conditions) -> NDArray[np.floating]:
    """How far colours lie outside the gamut at their own lightness and hue, at most; 0 inside."""
    gamut, (L, a, b) = on.gamut, np.moveaxis(lab, -1, 0)
    held = np.clip(L, gamut.floor_L, gamut.white_L)
    most = gamut.max_chroma(held, np.degrees(np.arctan2(b, a)))
    return np.asarray(np.maximum(np.abs(L - held), np.maximum(np.hypot(a, b) - most, 0)))
