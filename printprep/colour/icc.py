"""ICC profiles at work: their tags, and device values to media-relative Lab and back by LittleCMS in floating point."""

from __future__ import annotations

import struct
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.errors import InputError

Model = Literal["RGB", "GRAY", "CMYK"]
"""Device colour models that can be converted."""

Intent = Literal["perceptual", "relative", "saturation", "absolute"]
"""Rendering intents of ICC.1."""

_INTENTS: dict[Intent, int] = {"perceptual": 0, "relative": 1, "saturation": 2, "absolute": 3}
_SIGNATURES: dict[bytes, Model] = {b"RGB ": "RGB", b"GRAY": "GRAY", b"CMYK": "CMYK"}

_SPACES = {"RGB": ("rgb", 3, 1), "GRAY": ("gray", 1, 1), "CMYK": ("cmyk", 4, 100), "Lab": ("lab", 3, 1)}
"""LittleCMS's names, channels, and full scale: where it computes in floating point it counts ink in per cent."""

# Nothing is resampled or remembered: what is compiled into a table must be the profile's own answer.
_EXACT = 0x0040 | 0x0100  # cmsFLAGS_NOCACHE | cmsFLAGS_NOOPTIMIZE
_COMPENSATE = 0x2000  # cmsFLAGS_BLACKPOINTCOMPENSATION

_MOST_TAGS = 500
"""Real profiles have fewer than 100."""


@lru_cache(maxsize=64)
def tags(profile: bytes) -> MappingProxyType[bytes, bytes]:
    """Signature to data (ISO 15076-1, 7.3), in the order of the directory; of one that stands twice, the first.

    A damaged directory is an InputError.
    """
    (count,) = struct.unpack_from(">I", profile, 128) if len(profile) >= 132 else (_MOST_TAGS + 1,)
    if count > _MOST_TAGS or len(profile) < 132 + 12 * count:
        raise InputError("the profile's tag directory is damaged", do="export the profile again")
    found: dict[bytes, bytes] = {}
    for k in range(count):
        signature, offset, size = struct.unpack_from(">4sII", profile, 132 + 12 * k)
        found.setdefault(signature, profile[offset : offset + size])
    return MappingProxyType(found)


@cache
def lab_profile() -> bytes:
    """The connection space itself as a profile: Lab, D50, version 4."""
    import imagecodecs

    return bytes(imagecodecs.cms_profile("lab4"))


def model_of(profile: bytes) -> Model:
    """The device model a profile states in its header (ICC.1, bytes 16..19); an InputError for any other."""
    model = _SIGNATURES.get(profile[16:20])
    if model is None:
        raise InputError("the profile is for neither RGB, grey nor CMYK", do="use one that is")
    return model


def _convert(
    values: ArrayLike, first: bytes | None, second: bytes | None, intent: Intent, flags: int = _EXACT
) -> NDArray[np.floating]:
    """Through two profiles, of which None stands for Lab."""
    import imagecodecs

    one, _, scale = _SPACES["Lab" if first is None else model_of(first)]
    two, channels, scale_out = _SPACES["Lab" if second is None else model_of(second)]
    array = np.asarray(values)
    if array.dtype not in (np.float32, np.float64):
        array = array.astype(np.float64)
    shape = (*array.shape[:-1], channels)
    if array.size == 0:
        return np.empty(shape, array.dtype)
    if scale != 1:
        array = array * array.dtype.type(scale)
    flat = np.ascontiguousarray(array.reshape(1, -1, array.shape[-1]))
    if flat.shape[-1] == 1:
        flat = flat[..., 0]
    try:
        out = imagecodecs.cms_transform(
            flat, first or lab_profile(), second or lab_profile(),
            colorspace=one, outcolorspace=two, outdtype=flat.dtype, intent=_INTENTS[intent], flags=flags,
        )  # fmt: skip
    except (imagecodecs.CmsError, ValueError, RuntimeError) as error:
        what = "does not say how its colours look" if second is None else "has no way back from Lab to its colours"
        raise InputError(f"the profile is damaged or of another kind: it {what}", do="use another") from error
    found = np.asarray(out).reshape(shape)
    return found if scale_out == 1 else found / found.dtype.type(scale_out)


def lab_from_device(values: ArrayLike, profile: bytes, *, intent: Intent = "relative") -> NDArray[np.floating]:
    """Lab (D50, media-relative for the relative intent), (..., 3), of device values, in their precision.

    Those are 0..1 for every model (1 is full ink for CMYK), (..., n); n = 3, 1 or 4. A profile that cannot convert to
    Lab is an InputError.
    """
    return _convert(values, profile, None, intent)


def device_from_lab(lab: ArrayLike, profile: bytes, *, intent: Intent = "relative") -> NDArray[np.floating]:
    """Device values of Lab colours, the reverse of `lab_from_device`; an InputError if the profile has no way back.

    Nominally 0..1; matrix profiles may go beyond 1 for colours they cannot hold.
    """
    return _convert(lab, None, profile, intent)


def device_from_device(
    values: ArrayLike, profile: bytes, to: bytes, *, intent: Intent = "relative", black_compensation: bool = False
) -> NDArray[np.floating]:
    """Convert between two profiles as a print dialogue would, with LittleCMS's own black point compensation."""
    return _convert(values, profile, to, intent, _EXACT | (_COMPENSATE if black_compensation else 0))
