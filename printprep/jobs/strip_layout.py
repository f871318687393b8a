"""Where the crops of a test strip go on its sheet, in millimetres."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

from printprep.conditions import lengths
from printprep.errors import PrintprepError

LEAST_MM, MOST_MM = 60.0, 120.0
"""Sides of a crop: under the first an eye does not settle on it, over the second nothing is gained (our choice)."""

MARGINS_MM = (12.0, 15.0)
"""White at the sides, and at the ends, where many printers cannot print (common practice, no source)."""

HEADER_MM, LABEL_MM = 36.0, 5.0
"""Of the text with the small whole picture, and under each crop."""

_ACROSS_MM, _DOWN_MM = 3.0, 4.0
"""White between crops."""


@dataclass(frozen=True)
class Grid:
    """Crops in their places on a sheet as it lies, in millimetres.

    `cell` is width and height of a crop, `places` left and top of each by its place, such as ``B3``: a letter for the
    part or second parameter, a number for the value.
    """

    width: float
    height: float
    cell: tuple[float, float]
    places: dict[str, tuple[float, float]]


def arranged(
    sheet: str, letters: int, numbers: int, cell: tuple[float, float] | None, most: tuple[float, float]
) -> Grid:
    """Lay crops out, as large as they go; an error names the smallest usual sheet on which they fit.

    `cell` is how large a crop must be; squares as large as the sheet allows, 60 to 120 mm, if not given. `most` is the
    picture's own size, which no crop exceeds. All in millimetres.
    """
    if found := _best(lengths.size(sheet), letters, numbers, cell, most):
        return found
    wide, high = cell or (LEAST_MM, LEAST_MM)
    need = f"{letters * numbers} crops of {min(wide, most[0]):.0f} x {min(high, most[1]):.0f} mm do not fit on {sheet}"
    larger = sorted(lengths.SIZES, key=lambda name: lengths.SIZES[name])
    fits = next((name for name in larger if _best(lengths.SIZES[name], letters, numbers, cell, most)), None)
    do = "take fewer values, fewer parts or a smaller crop" + (", or {way}" if fits else "")
    raise PrintprepError(need, where="strip", do=do, way=f"sheet={fits}" if fits else "")


def _best(
    size: tuple[float, float], letters: int, numbers: int, cell: tuple[float, float] | None, most: tuple[float, float]
) -> Grid | None:
    """The arrangement with the largest crops, each letter on lines of its own; upright where that costs nothing."""
    best: tuple[float, Grid] | None = None
    for width, height in sorted({(min(size), max(size)), (max(size), min(size))}):
        for columns in range(numbers, 0, -1):
            lines = letters * -(-numbers // columns)
            room = width - 2 * MARGINS_MM[0], height - 2 * MARGINS_MM[1] - HEADER_MM
            wide = (room[0] - (columns - 1) * _ACROSS_MM) / columns
            high = (room[1] - (lines - 1) * _DOWN_MM) / lines - LABEL_MM
            side = min(wide, high, MOST_MM)
            wanted = cell or (min(side, most[0]), min(side, most[1]))
            least = cell or (min(LEAST_MM, most[0]), min(LEAST_MM, most[1]))
            if wanted[0] > wide + 1e-6 or wanted[1] > high + 1e-6 or wanted[0] < least[0] or wanted[1] < least[1]:
                continue
            if best is None or wanted[0] * wanted[1] > best[0] * 1.02:
                best = wanted[0] * wanted[1], _placed(width, height, wanted, columns, letters, numbers, room)
    return best[1] if best else None


def _placed(
    width: float, height: float, cell: tuple[float, float], columns: int, letters: int, numbers: int,
    room: tuple[float, float],
) -> Grid:  # fmt: skip
    """Crops from the upper left on, spread over the sheet's width."""
    lines = letters * -(-numbers // columns)
    across = (room[0] - columns * cell[0]) / max(columns - 1, 1)
    down = min((room[1] - lines * (cell[1] + LABEL_MM)) / max(lines - 1, 1), 8.0)
    places = {}
    for letter, number in product(range(letters), range(numbers)):
        line = letter * -(-numbers // columns) + number // columns
        x = MARGINS_MM[0] + (number % columns) * (cell[0] + across)
        y = MARGINS_MM[1] + HEADER_MM + line * (cell[1] + LABEL_MM + down)
        places[f"{chr(65 + letter)}{number + 1}"] = x, y
    return Grid(width, height, cell, places)
