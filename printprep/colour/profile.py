"""ICC profiles: by name, from a file or from bytes, and checked by being used."""

from __future__ import annotations

import os
import struct
from dataclasses import dataclass, field
from functools import cache, cached_property, lru_cache
from typing import Self

import numpy as np

from printprep.colour._matrix import Transfer, rgb_profile
from printprep.colour.icc import device_from_lab, lab_from_device, tags
from printprep.errors import InputError, UnknownName, expect
from printprep.files.names import AnyPath, printable, shown
from printprep.files.source import contents
from printprep.parameters import checked_call

_D65, _D50 = (0.3127, 0.3290), (0.3457, 0.3585)
_ALPHA = 1.09929682680944
"""Of the curve of ITU-R BT.2020 in full precision, which BT.709 rounds to 1.099."""
_SRGB: Transfer = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
_NAMED: dict[str, tuple[tuple[tuple[float, float], ...], tuple[float, float], Transfer]] = {
    # IEC 61966-2-1:1999
    "sRGB": (
        ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06)),
        _D65,
        _SRGB,
    ),
    # IEC 61966-2-5:2007
    "opRGB": (((0.64, 0.33), (0.21, 0.71), (0.15, 0.06)), _D65, 563 / 256),
    # ISO 22028-2: linear, slope 16, below Et = 16 ** (1.8 / (1 - 1.8)), which is 16 Et in device values
    "ROMM RGB": (
        ((0.7347, 0.2653), (0.1596, 0.8404), (0.0366, 0.0001)),
        _D50,
        (1.8, 1.0, 0.0, 1 / 16, 16 * 16 ** (1.8 / (1 - 1.8))),
    ),
    # SMPTE EG 432-1 for the primaries, with the white and the curve of IEC 61966-2-1
    "Display P3": (((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)), _D65, _SRGB),
    # ITU-R BT.2020-2, table 4: the camera's curve, turned round
    "BT.2020": (
        ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)),
        _D65,
        (1 / 0.45, 1 / _ALPHA, (_ALPHA - 1) / _ALPHA, 1 / 4.5, 4.5 * 0.018053968510807),
    ),
    # ITU-R BT.709-6, items 1.2 to 1.4: the camera's curve, turned round
    "BT.709": (
        ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06)),
        _D65,
        (1 / 0.45, 1 / 1.099, 0.099 / 1.099, 1 / 4.5, 4.5 * 0.018),
    ),
}
_ALSO = {
    "Adobe RGB (1998)": "opRGB",
    "Adobe RGB": "opRGB",
    "ProPhoto RGB": "ROMM RGB",
    "ITU-R BT.2020": "BT.2020",
    "Rec. 2020": "BT.2020",
    "ITU-R BT.709": "BT.709",
    "Rec. 709": "BT.709",
}
"""Titles under which the same encodings were published too."""
NAMES = tuple(_NAMED)
"""Profiles that can be asked for by name."""

_MODELS = {b"RGB ": "RGB", b"GRAY": "GRAY", b"CMYK": "CMYK", b"Lab ": "Lab", b"XYZ ": "XYZ", b"YCbr": "YCbCr"}
_CLASSES = {
    b"mntr": "display",
    b"prtr": "output",
    b"scnr": "input",
    b"spac": "colour space",
    b"link": "device link",
    b"abst": "abstract",
    b"nmcl": "named colours",
}
_USABLE = ("display", "output", "input", "colour space")

_PROBES = {
    "RGB": ((1, 1, 1), (0, 0, 0), (0.5, 0.5, 0.5), (1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "GRAY": ((1,), (0,), (0.5,)),
    "CMYK": ((0, 0, 0, 0), (0, 0, 0, 1), (0, 0, 0, 0.5), (1, 0, 0, 0), (0, 1, 0, 0), (0, 0, 1, 0)),
}
_WHITE_AT_LEAST, _CONTRAST_AT_LEAST = 50.0, 20.0  # L*: even newsprint has white 82 and black 36
_LIGHT_AT_MOST = 100.9  # L* of any colour, relative to white, which is 100 by definition; the rest is rounding
_DISTINCT = 8.0  # dE*ab between primaries; the nearest pair of any real device is several times that


@dataclass(frozen=True)
class Profile:
    """An ICC profile that has been found usable; make one by `load`, `named` or `from_bytes`.

    Attributes
    ----------
    data : bytes
        The whole profile.
    description : str
        What it calls itself, escaped and cut: safe to show.
    model : str
        "RGB", "GRAY" or "CMYK".
    device_class : str
        "display", "output", "input" or "colour space".
    version : str
        Such as "4.3".

    Examples
    --------
    >>> import printprep as pp
    >>> pp.Profile.named("oprgb").description
    'opRGB'
    """

    data: bytes = field(repr=False)
    description: str
    model: str
    device_class: str
    version: str

    @property
    def _plain_(self) -> str:
        """What results say of it."""
        return self.description

    @classmethod
    @checked_call
    def named(cls, name: str) -> Self:
        """A well-known profile, one of `NAMES` or a usual other title, however the name is spaced and cased.

        Raises
        ------
        UnknownName
            For any other name.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.Profile.named("display p3").description
        'Display P3'
        """
        known = _known(name)
        if known is None:
            raise UnknownName("profile", name, [*NAMES, *_ALSO])
        return cls.from_bytes(_named_bytes(known), known)

    @classmethod
    def load(cls, source: AnyPath | Profile) -> Self | Profile:
        """A profile by well-known name, by path, or from its bytes.

        Parameters
        ----------
        source : str, path, bytes or Profile
            Bytes are the profile itself; text without a separator or ending is tried as a name first.

        Raises
        ------
        InputError
            If there is no such file, or it is no usable profile.
        UnknownName
            If it is neither a well-known name nor a file.
        ParameterError
            If it is of another kind.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.Profile.load("sRGB").model
        'RGB'
        """
        kinds = (Profile, str, bytes, os.PathLike)
        expect("profile", source, kinds, "must be a Profile, a name, a path or a profile's bytes")
        if isinstance(source, Profile):
            return source
        if isinstance(source, bytes):
            return cls.from_bytes(source)
        if isinstance(source, str):
            if _known(source) is not None:
                return cls.named(source)
            if not source or not (any(c in source for c in "/\\.") or os.path.lexists(source)):
                raise UnknownName("profile", source, [*NAMES, *_ALSO])
        return cls.from_bytes(contents(source, "profile"), shown(source))

    @classmethod
    @checked_call
    def from_bytes(cls, data: bytes, where: str = "") -> Self:
        """A profile from its bytes, checked by use.

        Parameters
        ----------
        data : bytes
            The profile; padding after its end is cut off.
        where : str
            Named first in error messages, such as a quoted file name.

        Raises
        ------
        InputError
            If it is damaged, of a class or model that describes no device colours, or does not
            take white, grey, black and the primaries to sensible, distinct places.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.Profile.from_bytes(pp.Profile.named("sRGB").data).description
        'sRGB'
        """
        if len(data) < 132 or data[36:40] != b"acsp":
            raise InputError("is no ICC profile", where=where, do="use one that is")
        size = int.from_bytes(data[:4], "big")
        if not 132 <= size <= len(data):
            raise InputError("the ICC profile is cut short", where=where, do="embed it again or use another")
        kind = _CLASSES.get(data[12:16], "unknown")
        if kind not in _USABLE:
            what = f"the ICC profile is of the class {kind}, which describes no device"
            raise InputError(what, where=where, do="use another")
        model = _MODELS.get(data[16:20], "unknown")
        if model not in _PROBES:
            what = f"the ICC profile is for {model} colours"
            raise InputError(what, where=where, do="use one for RGB, grey or CMYK")
        data = data[:size]
        fault = _fault(data, model)
        if fault:
            raise InputError(f"the ICC profile {fault}", where=where, do="embed it again or use another")
        return cls(data, _description(data), model, kind, f"{data[8]}.{data[9] >> 4}")

    @cached_property
    def two_way(self) -> bool:
        """Whether Lab can also be converted to device values (false for many scanner profiles)."""
        try:
            device_from_lab([50.0, 0.0, 0.0], self.data)
        except Exception:
            return False
        return True

    def __str__(self) -> str:
        return self.description


def _known(name: str) -> str | None:
    """The well-known profile that a name in any spelling stands for."""
    return next((_ALSO.get(k, k) for k in (*NAMES, *_ALSO) if _plain(k) == _plain(name)), None)


def _plain(name: str) -> str:
    return "".join(c for c in name.casefold() if c.isalnum())


@cache
def _named_bytes(name: str) -> bytes:
    primaries, white, curve = _NAMED[name]
    return rgb_profile(name, primaries, white, curve)


@lru_cache(64)
def _fault(data: bytes, model: str) -> str:
    """What is wrong with a profile once it is used; empty if nothing."""
    try:
        lab = lab_from_device(_PROBES[model], data)
    except Exception:  # the library raises errors of several kinds
        return "is damaged: no conversion can be made with it"
    if not np.isfinite(lab).all() or lab[:, 0].min() < -5 or lab[:, 0].max() > 150 or np.abs(lab[:, 1:]).max() > 400:
        return "gives colours that cannot be"
    white, black, grey = lab[:3, 0]
    if lab[:, 0].max() > _LIGHT_AT_MOST:
        return "gives colours lighter than white"
    if white < _WHITE_AT_LEAST or white - black < _CONTRAST_AT_LEAST:
        return "does not keep white and black apart"
    if not black - 0.5 <= grey <= white + 0.5:
        return "does not put grey between black and white"
    corners = np.concatenate([lab[:2], lab[3:]])
    apart = np.linalg.norm(corners[:, None] - corners[None], axis=-1)[np.triu_indices(len(corners), 1)]
    if apart.min() < _DISTINCT:
        return "gives the same colour for different primaries"
    return ""


def _description(data: bytes) -> str:
    """The profile's own name, from its 'desc' tag in either form; escaped."""
    try:
        return printable(_words(tags(data).get(b"desc", b"")).strip()) or "unnamed profile"
    except (InputError, struct.error, UnicodeDecodeError):
        return "unnamed profile"


def _words(tag: bytes) -> str:
    if tag[:4] == b"desc":  # ICC.1:2001, textDescriptionType
        (length,) = struct.unpack_from(">I", tag, 8)
        return tag[12 : 12 + length].split(b"\0")[0].decode("ascii", "replace")
    if tag[:4] == b"mluc":  # ISO 15076-1, multiLocalizedUnicodeType: English first, else the first
        number, step = struct.unpack_from(">II", tag, 8)
        records = [struct.unpack_from(">2s2sII", tag, 16 + step * i) for i in range(min(number, 100))]
        records.sort(key=lambda r: r[0] != b"en")
        _, _, size, offset = records[0] if records else (b"", b"", 0, 0)
        return str(tag[offset : offset + size].decode("utf-16-be", "replace")).split("\0")[0]
    return ""
