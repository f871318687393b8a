"""Device values to media-relative Lab and back, through an ICC profile, by LittleCMS in floating point."""

from __future__ import annotations

from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.errors import InputError

Model = Literal["RGB", "GRAY", "CMYK"]
"""Device colour models that can be converted."""

Intent = Literal["perceptual", "relative", "saturation", "absolute"]
"""Rendering intents of ICC.1."""

_INTENTS: dict[Intent, int] = {"perceptual": 0, "relative": 1, "saturation": 2, "absolute": 3}
_CHANNELS: dict[Model, int] = {"RGB": 3, "GRAY": 1, "CMYK": 4}
_SPACES: dict[Model, str] = {"RGB": "rgb", "GRAY": "gray", "CMYK": "cmyk"}
_SIGNATURES: dict[bytes, Model] = {b"RGB ": "RGB", b"GRAY": "GRAY", b"CMYK": "CMYK"}

# Nothing is resampled or remembered: what is compiled into a table must be the profile's own answer.
_EXACT = 0x0040 | 0x0100  # cmsFLAGS_NOCACHE | cmsFLAGS_NOOPTIMIZE
_COMPENSATE = 0x2000  # cmsFLAGS_BLACKPOINTCOMPENSATION


@cache
def lab_profile() -> bytes:
    """The connection space itself as a profile: Lab, D50, version 4."""
    import imagecodecs

    return bytes(imagecodecs.cms_profile("lab4"))


def model_of(profile: bytes) -> Model:
    """The device model a profile states in its header (ICC.1, bytes 16..19).

    Raises
    ------
    InputError
        If it is not RGB, grey or CMYK.
    """
    model = _SIGNATURES.get(profile[16:20])
    if model is None:
        raise InputError("the profile is for neither RGB, grey nor CMYK", do="use one that is")
    return model


def _convert(
    values: NDArray[np.floating],
    first: bytes,
    second: bytes,
    spaces: tuple[str, str],
    channels: int,
    intent: Intent,
    flags: int,
) -> NDArray[np.floating]:
    import imagecodecs

    shape = values.shape[:-1]
    if values.size == 0:
        return np.empty((*shape, channels), values.dtype)
    flat = np.ascontiguousarray(values.reshape(1, -1, values.shape[-1]))
    if flat.shape[-1] == 1:
        flat = flat[..., 0]
    try:
        out = imagecodecs.cms_transform(
            flat,
            first,
            second,
            colorspace=spaces[0],
            outcolorspace=spaces[1],
            outdtype=flat.dtype,
            intent=_INTENTS[intent],
            flags=flags,
        )
    except (imagecodecs.CmsError, ValueError, RuntimeError) as error:
        what = "does not say how its colours look" if spaces[1] == "lab" else "has no way back from Lab to its colours"
        raise InputError(f"the profile is damaged or of another kind: it {what}", do="use another") from error
    return np.asarray(out).reshape(*shape, channels)


def lab_from_device(
    values: ArrayLike,
    profile: bytes,
    *,
    model: Model | None = None,
    intent: Intent = "relative",
) -> NDArray[np.floating]:
    """Lab of device values.

    Parameters
    ----------
    values : (..., n) array_like of float32 or float64
        Device values, 0..1 for every model (1 is full ink for CMYK); n = 3, 1 or 4.
    profile : bytes
        An ICC profile.
    model : {"RGB", "GRAY", "CMYK"}, optional
        Read from the profile where not given.
    intent : str
        Which of the profile's tables; ``relative`` gives media-relative Lab.

    Returns
    -------
    (..., 3) ndarray
        Lab, D50, in the precision of `values`.

    Raises
    ------
    InputError
        If the profile cannot convert to Lab.
    """
    array = np.asarray(values)
    if array.dtype not in (np.float32, np.float64):
        array = array.astype(np.float64)
    model = model or model_of(profile)
    if model == "CMYK":  # LittleCMS counts ink in per cent where it computes in floating point
        array = array * array.dtype.type(100)
    return _convert(array, profile, lab_profile(), (_SPACES[model], "lab"), 3, intent, _EXACT)


def device_from_lab(
    lab: ArrayLike,
    profile: bytes,
    *,
    model: Model | None = None,
    intent: Intent = "relative",
) -> NDArray[np.floating]:
    """Device values of Lab colours, the reverse of `lab_from_device`.

    Parameters
    ----------
    lab : (..., 3) array_like of float32 or float64
        Lab, D50, media-relative for the relative intent.
    profile : bytes
        An ICC profile that converts from Lab.
    model, intent
        As for `lab_from_device`.

    Returns
    -------
    (..., n) ndarray
        Device values, nominally 0..1; matrix profiles may go beyond 1 for colours they cannot hold.

    Raises
    ------
    InputError
        If the profile has no way back from Lab.
    """
    array = np.asarray(lab)
    if array.dtype not in (np.float32, np.float64):
        array = array.astype(np.float64)
    model = model or model_of(profile)
    out = _convert(array, lab_profile(), profile, ("lab", _SPACES[model]), _CHANNELS[model], intent, _EXACT)
    return out / out.dtype.type(100) if model == "CMYK" else out


def device_from_device(
    values: ArrayLike,
    profile: bytes,
    to: bytes,
    *,
    intent: Intent = "relative",
    black_compensation: bool = False,
) -> NDArray[np.floating]:
    """Convert between two profiles as a print dialogue would, with LittleCMS's own black point compensation.

    Parameters
    ----------
    values : (..., n) array_like
        Device values of `profile`, 0..1.
    profile, to : bytes
        ICC profiles.
    intent : str
        Rendering intent.
    black_compensation : bool
        ISO 18619 compensation, as LittleCMS does it.

    Returns
    -------
    (..., m) ndarray
        Device values of `to`, 0..1.
    """
    array = np.asarray(values)
    if array.dtype not in (np.float32, np.float64):
        array = array.astype(np.float64)
    first, second = model_of(profile), model_of(to)
    if first == "CMYK":
        array = array * array.dtype.type(100)
    flags = _EXACT | (_COMPENSATE if black_compensation else 0)
    out = _convert(array, profile, to, (_SPACES[first], _SPACES[second]), _CHANNELS[second], intent, flags)
    return out / out.dtype.type(100) if second == "CMYK" else out
