"""The tags of an ICC profile (ISO 15076-1, 7.3): a signature each, and the bytes that it leads to."""

from __future__ import annotations

import struct
from functools import lru_cache
from types import MappingProxyType

from printprep.errors import InputError

_MOST = 500
"""Tags; real profiles have fewer than 100."""


@lru_cache(maxsize=64)
def tags(profile: bytes) -> MappingProxyType[bytes, bytes]:
    """Signature to data, in the order of the directory; of a signature that stands twice, the first.

    A damaged directory is an InputError.
    """
    (count,) = struct.unpack_from(">I", profile, 128) if len(profile) >= 132 else (_MOST + 1,)
    if count > _MOST or len(profile) < 132 + 12 * count:
        raise InputError("the profile's tag directory is damaged", do="export the profile again")
    found: dict[bytes, bytes] = {}
    for k in range(count):
        signature, offset, size = struct.unpack_from(">4sII", profile, 132 + 12 * k)
        found.setdefault(signature, profile[offset : offset + size])
    return MappingProxyType(found)
