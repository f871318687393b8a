"""The size that a JPEG 2000 codestream declares, looked at before its decoder sets memory aside for it."""

from __future__ import annotations

import struct

_START = b"\xff\x4f\xff\x51"  # ISO/IEC 15444-1, annex A: start of codestream, then image and tile size


def matches(data: bytes, shape: tuple[int, int, int], bits: int) -> bool:
    """Whether a codestream, bare or within JP2 boxes, is of just this size.

    Parameters
    ----------
    data : bytes
        The strip or tile.
    shape : tuple of int
        Rows, columns, channels.
    bits : int
        Of each channel, unsigned.
    """
    at = 0 if data.startswith(_START) else _in_boxes(data)
    if at < 0 or len(data) < at + 42 + 3 * shape[2] or data[at : at + 4] != _START:
        return False
    right, bottom, left, top = struct.unpack_from(">4I", data, at + 8)
    (channels,) = struct.unpack_from(">H", data, at + 40)
    depths = data[at + 42 : at + 42 + 3 * shape[2]]
    return (bottom - top, right - left, channels) == shape and depths == bytes([bits - 1, 1, 1]) * shape[2]


def _in_boxes(data: bytes) -> int:
    """Where the first codestream box's contents begin (ISO/IEC 15444-1, annex I); -1 if nowhere."""
    at = 0
    while at + 8 <= len(data):
        size, kind = struct.unpack_from(">I4s", data, at)
        head = 8
        if size == 1 and at + 16 <= len(data):
            (size,) = struct.unpack_from(">Q", data, at + 8)
            head = 16
        if kind == b"jp2c":
            return at + head
        if size < head:
            return -1
        at += size
    return -1
