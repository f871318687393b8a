"""Matrix and grey ICC profiles made from primaries, white and tone curve, the same bytes every time."""

from __future__ import annotations

import struct
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from printprep.colour.lab import D50

_BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])

Transfer = float | Sequence[float] | NDArray[np.floating]
"""A plain exponent; (g, a, b, c, d): ``(a x + b) ** g`` from d on, below it ``c x`` (ICC.1, type 3); or an array of
linear light 0..1 at even steps."""


def _fixed(values: NDArray[np.float64]) -> bytes:
    return np.rint(np.asarray(values) * 65536).astype(">i4").tobytes()


def _xyz(values: NDArray[np.float64]) -> bytes:
    return b"XYZ \0\0\0\0" + _fixed(values)


def _text(words: str) -> bytes:
    raw = words.encode("utf-16-be")
    return struct.pack(">4sIII4sII", b"mluc", 0, 1, 12, b"enUS", len(raw), 28) + raw


def _curve(curve: Transfer) -> bytes:
    if isinstance(curve, (int, float)):
        return struct.pack(">4sIHH", b"para", 0, 0, 0) + _fixed(np.array([curve]))
    if isinstance(curve, np.ndarray):
        return struct.pack(">4sII", b"curv", 0, len(curve)) + np.rint(curve * 65535).astype(">u2").tobytes()
    return struct.pack(">4sIHH", b"para", 0, 3, 0) + _fixed(np.array(curve))


def xyz_of_xy(xy: tuple[float, float]) -> NDArray[np.float64]:
    """Tristimulus values of a chromaticity, Y = 1."""
    x, y = xy
    return np.array([x / y, 1.0, (1 - x - y) / y])


def adaptation(white: tuple[float, float]) -> NDArray[np.float64]:
    """The (3, 3) matrix that takes XYZ under a white to D50: linear Bradford, ICC.1 annex E."""
    source, target = _BRADFORD @ xyz_of_xy(white), _BRADFORD @ np.array(D50)
    return np.asarray(np.linalg.inv(_BRADFORD) @ np.diag(target / source) @ _BRADFORD)


def colorants(primaries: Sequence[tuple[float, float]], white: tuple[float, float]) -> NDArray[np.float64]:
    """D50 tristimulus values of the primaries, one a column; their sum is D50 exactly, in 1/65536."""
    corners = np.stack([xyz_of_xy(p) for p in primaries], axis=1)
    weights = np.linalg.solve(corners, xyz_of_xy(white))
    columns = np.rint(adaptation(white) @ (corners * weights) * 65536)
    columns[:, 1] += np.rint(np.array(D50) * 65536) - columns.sum(axis=1)  # so that grey stays grey
    return np.asarray(columns / 65536)


def _profile(space: bytes, tags: list[tuple[bytes, bytes]]) -> bytes:
    table, body = struct.pack(">I", len(tags)), b""
    start, seen = 128 + 4 + 12 * len(tags), dict[bytes, int]()
    for name, data in tags:
        if data not in seen:  # equal curves are stored once
            seen[data] = start + len(body)
            body += data + b"\0" * (-len(data) % 4)
        table += struct.pack(">4sII", name, seen[data], len(data))
    size = start + len(body)
    head = struct.pack(
        ">I4sI4s4s4s12s4s4sI4s4sQI12s4s16s28s",
        size, b"\0\0\0\0", 0x04300000, b"mntr", space, b"XYZ ", b"\0" * 12, b"acsp", b"\0\0\0\0", 0,
        b"\0\0\0\0", b"\0\0\0\0", 0, 0, _fixed(np.array(D50)), b"\0\0\0\0", b"\0" * 16, b"\0" * 28,
    )  # fmt: skip
    return head + table + body


def _common(description: str, white: tuple[float, float]) -> list[tuple[bytes, bytes]]:
    return [
        (b"desc", _text(description)),
        (b"cprt", _text("No copyright, use freely")),
        (b"wtpt", _xyz(np.array(D50))),
        (b"chad", b"sf32\0\0\0\0" + _fixed(adaptation(white))),
    ]


def rgb_profile(
    description: str, primaries: Sequence[tuple[float, float]], white: tuple[float, float], curve: Transfer
) -> bytes:
    """A version 4 display profile (ISO 15076-1) of three primaries and a white, CIE xy, and one curve.

    It has no date and no identifier, so that equal calls give equal bytes.
    """
    columns = colorants(primaries, white)
    tags = _common(description, white)
    tags += [(name, _xyz(columns[:, i])) for i, name in enumerate((b"rXYZ", b"gXYZ", b"bXYZ"))]
    tags += [(name, _curve(curve)) for name in (b"rTRC", b"gTRC", b"bTRC")]
    return _profile(b"RGB ", tags)


def grey_profile(description: str, curve: Transfer) -> bytes:
    """A version 4 grey profile under D50 with one curve; see `rgb_profile`."""
    return _profile(b"GRAY", [*_common(description, (0.3457, 0.3585)), (b"kTRC", _curve(curve))])
