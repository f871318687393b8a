"""A print on a screen: light from the paper as screen values, and pictures with text as files."""

from __future__ import annotations

import struct
import zlib
from base64 import b64encode
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Lab
from printprep.check._arguments import output_path
from printprep.check.seen import shown_light, srgb
from printprep.colour.icc import device_from_lab
from printprep.colour.lab import D50, lab_from_xyz, xyz_from_lab
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.photo._sink import Sink
from printprep.photo._text import AnyPath
from printprep.photo.profile import Profile

_TILE = 1 << 17
"""Pixels converted at once; small enough to stay in the processor's cache."""


def light_from(lab: Lab, paper: Paper, room: Room, *, glazing: bool, level: bool) -> NDArray[np.float32]:
    """Light from a print as a share of the screen's white.

    Parameters
    ----------
    lab : (..., 3) ndarray of float32
        Print-referred (media-relative) Lab.
    paper : Paper
        Its white tints and dims everything.
    room : Room
        Its pane and its light, where asked for.
    glazing : bool
        Whether the pane in front of the print is there: it takes light away and lays a veil over blacks.
    level : bool
        Whether a dim room is shown as dim, see `printprep.check.seen.shown_light`.

    Returns
    -------
    (..., 3) ndarray of float32
        XYZ under D50, Y of the screen's white = 1.
    """
    assert paper.white is not None
    tint = xyz_from_lab(np.array(paper.white)) / np.array(D50)
    xyz = xyz_from_lab(lab.astype(np.float32, copy=False)) * tint.astype(np.float32)
    if glazing:
        xyz = xyz * np.float32(room.transmittance) + np.float32(room.veil) * np.asarray(D50, np.float32)
    if level:
        xyz = xyz * np.float32(shown_light(room, paper))
    return np.asarray(xyz, np.float32)


def on_screen(xyz: NDArray[np.float32], screen: Profile | None = None) -> NDArray[np.float32]:
    """Screen values of light.

    Parameters
    ----------
    xyz : (..., 3) ndarray of float32
        As `light_from` gives it.
    screen : Profile, optional
        Of the screen; sRGB if not given.

    Returns
    -------
    (..., 3) ndarray of float32
        0..1. For sRGB, colours that the screen lacks keep lightness and hue; for a profile they are clipped.
    """
    if screen is None:
        return np.asarray(srgb(xyz), np.float32)
    lab = lab_from_xyz(xyz)
    return np.asarray(np.clip(device_from_lab(lab, screen.data, model="RGB"), 0, 1), np.float32)


def png(picture: NDArray[np.uint8], profile: Profile | None = None) -> bytes:
    """A PNG that says what its values mean.

    Parameters
    ----------
    picture : (rows, columns, 3) ndarray of uint8
        Screen values.
    profile : Profile, optional
        Embedded (iCCP chunk); marked as sRGB if not given. ISO/IEC 15948 (PNG), 11.3.2.
    """
    import cv2

    plain = cv2.imencode(".png", picture[..., ::-1], [cv2.IMWRITE_PNG_COMPRESSION, 1])[1].tobytes()
    if profile is None:
        chunk = _chunk(b"sRGB", b"\1")  # relative colorimetric
    else:
        chunk = _chunk(b"iCCP", b"screen\0\0" + zlib.compress(profile.data))
    end_of_header = 8 + 4 + 4 + 13 + 4
    rest = b"".join(c for name, c in _chunks(plain[end_of_header:]) if name not in (b"sRGB", b"iCCP", b"gAMA", b"cHRM"))
    return plain[:end_of_header] + chunk + rest


def jpeg(picture: NDArray[np.uint8], level: int = 90) -> bytes:
    """A JPEG (sRGB, all chroma kept) of (rows, columns, 3) screen values."""
    import imagecodecs

    return bytes(imagecodecs.jpeg_encode(np.ascontiguousarray(picture), level=level, subsampling="444", optimize=True))


def data_uri(data: bytes, kind: str) -> str:
    """A picture as an address that holds it; `kind` is "png" or "jpeg"."""
    return f"data:image/{kind};base64,{b64encode(data).decode()}"


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def _chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 0
    while at < len(data):
        (length,) = struct.unpack_from(">I", data, at)
        yield data[at + 4 : at + 8], data[at : at + 12 + length]
        at += 12 + length


def save(
    path: AnyPath, data: bytes, endings: tuple[str, ...], *, overwrite: bool = False, source: AnyPath | None = None
) -> None:
    """Write a file whole or not at all; see `printprep.photo._sink.Sink` for what is refused."""
    with Sink(output_path(path), source, overwrite=overwrite, endings=endings) as sink:
        sink.write(data, 0)
        sink.publish()


def can_save(
    path: AnyPath, endings: tuple[str, ...], *, overwrite: bool = False, source: AnyPath | None = None
) -> None:
    """Refuse a name now that `save` would refuse later, before long work is done for nothing."""
    with Sink(path, source, overwrite=overwrite, endings=endings):
        pass
