"""Files: photographs, their profiles and their metadata, read and written without loss."""

from __future__ import annotations

from printprep.photo.fingerprint import Fingerprinted, fingerprint
from printprep.photo.metadata import Metadata, ticket_text
from printprep.photo.photo import Photo
from printprep.photo.pixels import Pixels
from printprep.photo.read import read
from printprep.photo.resolution import Resolution
from printprep.photo.write import Written, write

__all__ = [
    "Fingerprinted",
    "Metadata",
    "Photo",
    "Pixels",
    "Resolution",
    "Written",
    "fingerprint",
    "read",
    "ticket_text",
    "write",
]
