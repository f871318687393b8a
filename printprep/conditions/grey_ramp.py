"""What a driver's own grey mode prints: a ramp of codes against L*, and the profile that inverts it."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from printprep.colour._matrix import grey_profile
from printprep.colour.lab import luminance_from_lightness
from printprep.errors import ParameterError, PrintprepError

Ramp = tuple[tuple[float, ...], ...]
"""(code, L*) or (code, L*, a*, b*) from code 0 to 255; absolute Lab, D50."""

_LEAST, _NODES = 5, 4096


def checked(ramp: object, mode: str) -> Ramp | None:
    """A ramp as plain tuples of numbers, rising from code 0 to 255; the driver's mode must be named beside it."""
    if ramp is None:
        return None
    try:
        rows = tuple(tuple(float(v) for v in row) for row in ramp)  # type: ignore[attr-defined]
    except (TypeError, ValueError):
        raise ParameterError("grey_ramp", ramp, "must be a list of pairs of code and L*") from None
    if len(rows) < _LEAST or {len(row) for row in rows} not in ({2}, {4}):
        raise ParameterError("grey_ramp", len(rows), f"must be {_LEAST} or more [code, L*] or [code, L*, a*, b*]")
    table = np.array(rows)
    if not np.isfinite(table).all() or table[:, 1].min() < 0 or table[:, 1].max() > 100:
        raise ParameterError("grey_ramp", "values", "must be finite, with L* 0 to 100")
    if table[0, 0] != 0 or table[-1, 0] != 255 or (np.diff(table[:, :2], axis=0) <= 0).any():
        raise ParameterError("grey_ramp", "values", "must rise in code and in L*, from code 0 (black) to 255 (white)")
    if not mode.strip():
        raise PrintprepError("missing beside grey_ramp", where="grey_mode", do="name the driver's mode and settings")
    return rows


def lightness(ramp: Ramp, codes: NDArray[np.floating]) -> NDArray[np.float64]:
    """Absolute L* of codes 0..255: a monotone cubic through the ramp (Fritsch and Carlson 1980)."""
    from scipy.interpolate import PchipInterpolator

    table = np.array(ramp)
    return np.asarray(PchipInterpolator(table[:, 0], table[:, 1])(codes), np.float64)


@lru_cache(maxsize=8)
def profile(ramp: Ramp | None) -> bytes:
    """An ICC profile of a grey ramp, black point compensated: its black is light 0, its white light 1.

    What is handed over in it is the code that prints the light that was planned, so the file prints right with no
    conversion at all, and shows right on a screen.
    """
    assert ramp is not None
    light = luminance_from_lightness(lightness(ramp, np.linspace(0, 255, _NODES)))
    return grey_profile("grey ramp", np.asarray((light - light[0]) / (light[-1] - light[0])))


def lean(ramp: Ramp | None) -> str:
    """What colour the ramp's greys have, where that was measured, in words; it is the driver's, and not steered."""
    if ramp is None or len(ramp[0]) == 2:
        return ""
    a, b = np.array(ramp)[:, 2:].T
    spans = f"a* {a.min():.1f} to {a.max():.1f}, b* {b.min():.1f} to {b.max():.1f}"
    return f"; its greys have {spans}, as the driver mixes them"
