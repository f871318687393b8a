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
    """

    ppi: Annotated[float, Meta(ge=1, le=10_000, description="pixels per inch")] = 360.0

    @property
    def pixels_per_mm(self) -> float:
        """Pixels per millimetre of paper."""
        return self.ppi / 25.4
