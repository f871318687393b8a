"""A small writer of ICC v2 output profiles with tables, for papers that exist only in tests."""

from __future__ import annotations

import struct
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from printprep.colour.lab import D50, lab_from_xyz, xyz_from_lab

Floats = NDArray[np.float64]


class MatrixInk:
    """An invertible paper: XYZ = black + (white - black) M rgb**gamma, media-relative; black may have a tint."""

    def __init__(
        self, black_L: float, gamma: float = 2.0, saturation: float = 0.55, tint: tuple[float, float] = (0.0, 0.0)
    ) -> None:
        # Columns sum to D50; primaries pulled towards grey so that the paper holds less than sRGB.
        full = np.array([[0.4361, 0.3851, 0.1431], [0.2225, 0.7169, 0.0606], [0.0139, 0.0971, 0.7141]])
        grey = np.outer(np.array(D50), full.sum(0) / np.sum(full.sum(0)))
        self.matrix = saturation * full + (1 - saturation) * grey
        self.matrix *= (np.array(D50) / self.matrix.sum(1))[:, None]
        self.gamma = gamma
        self.black = np.asarray(xyz_from_lab(np.array([black_L, *tint])))
        self.span = (np.array(D50) - self.black) / np.array(D50)

    def lab(self, rgb: Floats) -> Floats:
        linear = rgb**self.gamma @ self.matrix.T
        return np.asarray(lab_from_xyz(self.black + self.span * linear))

    def rgb(self, lab: Floats) -> Floats:
        linear = (xyz_from_lab(lab) - self.black) / self.span @ np.linalg.inv(self.matrix).T
        return np.asarray(np.clip(linear, 0, 1) ** (1 / self.gamma))


def output_profile(
    to_lab: Callable[[Floats], Floats],
    to_device: Callable[[Floats], Floats],
    *,
    channels: int = 3,
    device_nodes: int = 17,
    lab_nodes: int = 33,
    white: tuple[float, float, float] = D50,
) -> bytes:
    """A v2 printer profile (ICC.1:2001, mft2 tables) of a model and its inverse; RGB or CMYK device values 0..1."""
    axes = np.meshgrid(*[np.linspace(0, 1, device_nodes)] * channels, indexing="ij")
    a2b = np.rint(_encode(to_lab(np.stack(axes, -1).reshape(-1, channels)))).clip(0, 65535)
    steps = np.linspace(0, 65535, lab_nodes)
    encoded = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), -1).reshape(-1, 3)
    b2a = np.rint(to_device(_decode(encoded)) * 65535).clip(0, 65535)
    tags = {
        b"desc": _description("test paper"),
        b"cprt": b"text\0\0\0\0no rights reserved\0",
        b"wtpt": b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(v * 65536) for v in white)),
        b"A2B0": _mft2(channels, 3, device_nodes, a2b),
        b"B2A0": _mft2(3, channels, lab_nodes, b2a),
    }
    body, directory, offset = b"", b"", 128 + 4 + 12 * (len(tags) + 4)
    for name, data in tags.items():
        data += b"\0" * (-len(data) % 4)
        entry = struct.pack(">II", offset + len(body), len(data))
        names = {b"A2B0": (b"A2B0", b"A2B1", b"A2B2"), b"B2A0": (b"B2A0", b"B2A1", b"B2A2")}.get(name, (name,))
        directory += b"".join(n + entry for n in names)
        body += data
    size = offset + len(body)
    space = {3: b"RGB ", 4: b"CMYK", 1: b"GRAY"}[channels]
    header = struct.pack(
        ">I4sI4s4s4s12s4s4sIIIQI12s48s",
        size,
        b"\0\0\0\0",
        0x02400000,
        b"prtr",
        space,
        b"Lab ",
        struct.pack(">6H", 2000, 1, 1, 0, 0, 0),
        b"acsp",
        b"\0\0\0\0",
        0,
        0,
        0,
        0,
        1,
        struct.pack(">3i", 0xF6D6, 0x10000, 0xD32D),
        b"",
    )
    return header + struct.pack(">I", len(tags) + 4) + directory + body


def _encode(lab: Floats) -> Floats:
    """ICC.1:2001 16-bit Lab: L* 100 is FF00h, a* and b* 0 are 8000h."""
    return np.stack([lab[..., 0] * 652.8, (lab[..., 1] + 128) * 256, (lab[..., 2] + 128) * 256], -1)


def _decode(codes: Floats) -> Floats:
    return np.stack([codes[..., 0] / 652.8, codes[..., 1] / 256 - 128, codes[..., 2] / 256 - 128], -1)


def _mft2(inputs: int, outputs: int, nodes: int, table: Floats) -> bytes:
    head = b"mft2\0\0\0\0" + bytes([inputs, outputs, nodes, 0])
    head += struct.pack(">9i", *(round(v * 65536) for v in np.eye(3).ravel())) + struct.pack(">HH", 2, 2)
    curve = struct.pack(">HH", 0, 65535)
    return head + curve * inputs + table.astype(">u2").tobytes() + curve * outputs


def _description(text: str) -> bytes:
    raw = text.encode() + b"\0"
    return b"desc\0\0\0\0" + struct.pack(">I", len(raw)) + raw + b"\0" * (4 + 4 + 2 + 1 + 67)
