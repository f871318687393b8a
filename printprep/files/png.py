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
    """A PNG that says what its values mean.

    Parameters
    ----------
    picture : (rows, columns, 3) ndarray of uint8 or uint16
        Values for a screen.
    icc : bytes, optional
        Profile of the values, embedded (iCCP chunk); marked as sRGB, relative colorimetric, if not given.
        ISO/IEC 15948 (PNG), 11.3.2.
    level : int
        Of compression, 0..9.
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
