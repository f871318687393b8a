"""The sheet: how many pixels a millimetre of the print holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from printprep.parameters import Checked


@dataclass(frozen=True, kw_only=True)
class Sheet(Checked):
    """The size at which the picture is printed.

    Parameters
    ----------
    ppi : float, pixels per inch, 1 to 10000
        Resolution of the printed picture.
    distance_m : float, metres, 0.1 to 50, optional
        From where it is looked at; not given where no size is known.
    """

    ppi: Annotated[float, Meta(ge=1, le=10_000, description="pixels per inch")] = 360.0
    distance_m: Annotated[float, Meta(ge=0.1, le=50, description="metres")] | None = None

    @property
    def pixels_per_mm(self) -> float:
        """Pixels per millimetre of paper."""
        return self.ppi / 25.4
