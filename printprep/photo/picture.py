"""What a photograph is made of: pixels, and all that belongs to them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from printprep.colour.profile import Profile
from printprep.files.source import InputFile
from printprep.photo.metadata import Metadata
from printprep.photo.part import Part
from printprep.photo.pixels import Pixels
from printprep.photo.resolution import DEFAULT_RESOLUTION, Resolution


@dataclass(frozen=True)
class Picture:
    """The fields of a `printprep.Photo`, which says what they are; all that writing one needs."""

    pixels: Pixels
    profile: Profile
    resolution: Resolution = DEFAULT_RESOLUTION
    metadata: Metadata = field(default_factory=Metadata)
    path: Path | None = None
    announcements: tuple[str, ...] = ()
    compression: str = "none"
    ticket: Callable[[], str] | None = field(default=None, repr=False, compare=False)
    store: InputFile | None = field(default=None, repr=False, compare=False)
    part: Part | None = field(default=None, repr=False, compare=False)

    @property
    def height(self) -> int:
        """Rows."""
        return self.pixels.height

    @property
    def width(self) -> int:
        """Columns."""
        return self.pixels.width
