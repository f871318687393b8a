"""The light in a room from a camera's exposure, for those without a light meter."""

from __future__ import annotations

import re
from math import pi

from printprep.conditions.room import Room
from printprep.errors import ParameterError, PrintprepError

CONSTANT = 12.5
"""Calibration constant K of reflected-light meters (ISO 2720, from memory; 10.6 to 13.4 are in use)."""

WHITE_SHEET = 0.85
"""Reflectance taken for a sheet of white office paper (common practice, no source)."""

_EXAMPLE = "write it as 'f/4 1/15 ISO 400'"
_NUMBER = r"(\d+(?:[.,]\d+)?|[.,]\d+)"
_PARTS = {
    "aperture": (rf"\b[fF]\s*[/:]?\s*{_NUMBER}", "f/4", 0.5, 128.0),
    "ISO": (rf"\b[iI][sS][oO]\s*[-/:=]?\s*{_NUMBER}", "ISO 400", 1.0, 10_000_000.0),
    "shutter time": (
        rf"(?<![\w.,/+-]){_NUMBER}\s*(?:/\s*{_NUMBER})?\s*(?:seconds?\b|secs?\b|s\b|\"|″|'')?",
        "1/15",
        1e-5,
        3600.0,
    ),
}


def illuminance_from_metered(text: str) -> float:
    """Illuminance (lux) at a white sheet, from the exposure that a camera's meter asks for.

    Aperture, shutter time and sensitivity may stand in any order: ``f/4 1/15 ISO 400``, ``F2.8, 0.5s, ISO100``,
    ``f/8 2" ISO 200``. The sheet fills the frame; exposure compensation is 0. A part
    that is missing, there twice, out of range or not understood is a ParameterError.

    ``L = K N**2 / (t S)`` in cd/m2 with K = 12.5 (ISO 2720, from memory), and ``E = pi L / reflectance`` for a matt
    sheet. Third-stop rounding, the choice of K and the meter itself leave 20 to 30 %: a quarter of a stop or so, and a
    change of 3 JND or less in the range of a print.

    >>> round(illuminance_from_metered("f/4 1/15 ISO 400"), 1)
    27.7
    """
    rest, found = text, {}
    for part, (pattern, example, low, high) in _PARTS.items():
        matches = list(re.finditer(pattern, rest))
        if len(matches) != 1:
            count = "no" if not matches else "more than one"
            raise ParameterError("metered", text, f"{count} {part} (such as {example}) in it", _EXAMPLE)
        numbers = [float(n.replace(",", ".")) for n in matches[0].groups() if n]
        value = numbers[0] / numbers[1] if len(numbers) == 2 and numbers[1] else numbers[0]
        if not low <= value <= high or 0.0 in numbers:
            bounds = f"{low:f}".rstrip("0").rstrip(".") + f" to {high:.0f}"
            raise ParameterError("metered", text, f"{part} must be {bounds}", _EXAMPLE)
        found[part] = value
        rest = rest[: matches[0].start()] + " " + rest[matches[0].end() :]
    if left := rest.strip(" \t,;@"):
        raise ParameterError("metered", text, f"{left!r} is not understood", _EXAMPLE)
    luminance = CONSTANT * found["aperture"] ** 2 / (found["shutter time"] * found["ISO"])
    return pi * luminance / WHITE_SHEET


def parse_room(text: str) -> Room:
    """A room from a few words instead of a preset: pairs, separated by commas, of fields of `Room` and values.

    ``lux`` stands for ``illuminance_lux``, which must be there. What is no pair, an unknown key, or a value of the
    wrong kind or out of its range is refused.

    >>> parse_room("lux=85, glazing=clear").glazing
    'clear'
    """
    table: dict[str, object] = {}
    for pair in text.split(","):
        key, equals, value = (part.strip() for part in pair.partition("="))
        key = "illuminance_lux" if key == "lux" else key
        if not (key and equals and value):
            raise PrintprepError("not a room", where=repr(text), do="write it as lux=85 or lux=85,glazing=clear")
        if key in table:
            raise PrintprepError(f"{key} is there twice", where=repr(text), do="leave one out")
        try:
            table[key] = float(value)
        except ValueError:
            table[key] = value
    if "illuminance_lux" not in table:
        raise PrintprepError("says nothing of the light", where=repr(text), do="add lux=85")
    return Room.from_table(table)
