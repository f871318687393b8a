"""How many pixels an inch of the print has."""

from __future__ import annotations

from dataclasses import dataclass

from printprep.errors import ParameterError


@dataclass(frozen=True)
class Resolution:
    """Pixels per inch, both ways; in `stored` as they stand in the source, and will in the output.

    That is numerator, denominator and unit (2 inch, 3 cm).
    """

    ppi: float
    stored: tuple[int, int, int] | None = None

    def __post_init__(self) -> None:
        if not 0 < self.ppi < 1e6:
            raise ParameterError("ppi", self.ppi, "must be more than 0 and less than 1000000 (pixels per inch)")

    @property
    def pixels_per_mm(self) -> float:
        """The same per millimetre."""
        return self.ppi / 25.4


DEFAULT_RESOLUTION = Resolution(300.0)
"""Used where a file gives none: common practice, no source."""
