"""Lengths and sheet sizes as they are written: 15mm, 8x10in, A3+."""

from __future__ import annotations

import re
from difflib import get_close_matches

from printprep.errors import ParameterError

_UNITS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4, '"': 25.4}
"""Millimetres."""

# ISO 216: A0 has a square metre, sides 1 : sqrt(2), each size half of the one before, rounded down to millimetres.
_A = [(841, 1189), (594, 841), (420, 594), (297, 420), (210, 297), (148, 210), (105, 148)]
SIZES: dict[str, tuple[float, float]] = {
    **{f"A{k}": (float(w), float(h)) for k, (w, h) in enumerate(_A)},
    "A3+": (329.0, 483.0),  # common practice, no source: 13 x 19 inches
}
"""Width and height, upright, in millimetres."""

_NUMBER = r"(\d+(?:[.,]\d+)?|[.,]\d+)"
_LENGTH = re.compile(rf"\s*{_NUMBER}\s*([a-z\"]*)\s*", re.IGNORECASE)
_PAIR = re.compile(rf"\s*{_NUMBER}\s*[x×]\s*{_NUMBER}\s*([a-z\"]*)\s*", re.IGNORECASE)
_WANTED = "must be a size such as A4, 8x10in or 300x450mm"


def length(key: str, text: object) -> float:
    """A length in millimetres, from a number with its unit: ``15mm``, ``1.5 cm``, ``2in``, ``0.8m``.

    `key` is what it is, for the ParameterError if it is none.
    """
    found = _LENGTH.fullmatch(text) if isinstance(text, str) else None
    if found is None:
        raise ParameterError(key, text, "must be a length such as 15mm")
    return _number(found[1]) * _unit(key, text, found[2])


def size(text: object) -> tuple[float, float]:
    """Width and height of a sheet in millimetres, as written: a name, or two lengths with a unit after the second.

    A ParameterError, if it is none, names the nearest.
    """
    if not isinstance(text, str):
        raise ParameterError("size", text, _WANTED)
    if (named := text.strip().upper()) in SIZES:
        return SIZES[named]
    found = _PAIR.fullmatch(text)
    if found is None:
        near = get_close_matches(named, SIZES, 1, 0.4)
        raise ParameterError("size", text, _WANTED, f"did you mean {near[0]}?" if near else "correct it")
    unit = _unit("size", text, found[3])
    return _number(found[1]) * unit, _number(found[2]) * unit


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _unit(key: str, text: object, unit: str) -> float:
    if not unit:
        raise ParameterError(key, text, "has no unit", f"write {str(text).strip()}mm or {str(text).strip()}in")
    if unit.lower() not in _UNITS:
        raise ParameterError(key, text, f"has an unknown unit, {unit}", "use mm, cm, m or in")
    return _UNITS[unit.lower()]
