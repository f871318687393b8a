"""PNG files that say what their values mean."""

from __future__ import annotations

import struct
import zlib
from base64 import b64encode

import numpy as np
from numpy.typing import NDArray

_HEADER = 33
"""Bytes of the signature and of IHDR, which come first."""


def png(picture: NDArray[np.uint8] | NDArray[np.uint16], icc: bytes | None = None, *, level: int = 4) -> bytes:
    """A PNG of 8 or 16 bits, (rows, columns, 3), that says what its values mean.

    With `icc`, that profile is embedded (iCCP chunk; ISO/IEC 15948, 11.3.2); without, it is marked as sRGB, relative
    colorimetric.
    """
    import imagecodecs

    plain = bytes(imagecodecs.png_encode(np.ascontiguousarray(picture), level=level))
    chunk = _chunk(b"iCCP", b"screen\0\0" + zlib.compress(icc)) if icc else _chunk(b"sRGB", b"\1")
    return plain[:_HEADER] + chunk + plain[_HEADER:]


def data_uri(data: bytes, kind: str) -> str:
    """A picture as an address that holds it; `kind` is "png" or "jpeg"."""
    return f"data:image/{kind};base64,{b64encode(data).decode()}"


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
