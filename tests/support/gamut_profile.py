"""A small table profile of a paper, as printers' software makes them: B2A1 holds the nearest printable colour."""

from __future__ import annotations

import struct
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from printprep.colour.solid import Solid

_GRID = 33


@lru_cache(maxsize=16)
def paper_profile(solid: Solid) -> bytes:
    """A version 2 RGB output profile whose device values are Lab scaled to 0..1.

    B2A1 is a 33-node table that clips to the nearest colour of the solid (dE*ab), as profile makers
    fill it; A2B1 only undoes the scaling. So LittleCMS's conversion through it shows what a table of
    that size makes of colorimetric clipping. ICC.1:2001 lut16Type.
    """
    node = np.linspace(0, 1, _GRID)
    lab = np.stack(np.meshgrid(node, node, node, indexing="ij"), axis=-1)
    asked = (lab * [100 * 65535 / 65280, 255 * 65535 / 65280, 255 * 65535 / 65280] - [0, 128, 128]).astype(np.float32)
    asked = asked.reshape(-1, 3)
    printed = solid.nearest(np.clip(asked, [solid.black_L - 30, -128, -128], [100, 128, 128]).astype(np.float32))
    printed = np.clip(printed, [solid.black_L, -200, -200], [solid.white_L, 200, 200])
    back = encode(printed).reshape(_GRID, _GRID, _GRID, 3)
    two = np.stack(np.meshgrid([0, 1], [0, 1], [0, 1], indexing="ij"), axis=-1).astype(np.float64)
    tags = {
        b"desc": _desc(b"paper table"), b"cprt": b"text\0\0\0\0none\0", b"wtpt": _xyz(0.9642, 1.0, 0.8249),
        b"A2B0": _lut16(two), b"A2B1": _lut16(two), b"B2A0": _lut16(back), b"B2A1": _lut16(back),
    }
    return _profile(tags)


def encode(lab: NDArray[np.floating]) -> NDArray[np.float64]:
    """Lab as 0..1 in the version 2 encoding of 16 bits: L* 100 is FF00h."""
    lab = np.asarray(lab, np.float64)
    return np.asarray((lab + np.array([0, 128, 128])) / np.array([100, 255, 255]) * (65280 / 65535))


def _lut16(table: NDArray[np.float64]) -> bytes:
    n = table.shape[0]
    head = struct.pack(">4sIBBBB", b"mft2", 0, 3, 3, n, 0)
    head += struct.pack(">9i", *[int(v * 65536) for v in (1, 0, 0, 0, 1, 0, 0, 0, 1)]) + struct.pack(">HH", 2, 2)
    curve = struct.pack(">2H", 0, 65535) * 3
    return head + curve + np.round(np.clip(table, 0, 1) * 65535).astype(">u2").tobytes() + curve


def _desc(text: bytes) -> bytes:
    return b"desc\0\0\0\0" + struct.pack(">I", len(text) + 1) + text + b"\0" + b"\0" * (4 + 4 + 2 + 1 + 67)


def _xyz(*value: float) -> bytes:
    return b"XYZ \0\0\0\0" + struct.pack(">3i", *[round(v * 65536) for v in value])


def _profile(tags: dict[bytes, bytes]) -> bytes:
    head = bytearray(128)
    head[8:12] = b"\x02\x40\0\0"
    head[12:24] = b"prtrRGB Lab "
    head[36:40] = b"acsp"
    head[68:80] = struct.pack(">3i", 63190, 65536, 54061)
    body, directory, offset = b"", b"", 132 + 12 * len(tags)
    for name, data in tags.items():
        data += b"\0" * (-len(data) % 4)
        directory += struct.pack(">4sII", name, offset + len(body), len(data))
        body += data
    whole = bytes(head) + struct.pack(">I", len(tags)) + directory + body
    return struct.pack(">I", len(whole)) + whole[4:]
