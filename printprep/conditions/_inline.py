"""A paper's table with everything in it: the profile or the chart itself, in place of the path to one."""

from __future__ import annotations

import base64
import binascii
import hashlib
from typing import Any

import numpy as np

from printprep.conditions.measurement import Measurement
from printprep.errors import ParameterError

PROFILE, CHART = "profile_base64", "chart"
"""Keys of a paper's table; `chart` is a table of channels, basis, name, and patches: device values, then L*, a*, b*."""


def packed(profile: bytes | None, chart: Measurement | None, *, whole: bool) -> dict[str, Any]:
    """A paper's profile and chart as plain values, that `taken` reads; or hashes of them."""
    found: dict[str, Any] = {}
    if profile is not None:
        if whole:
            found[PROFILE] = base64.b64encode(profile).decode()
        else:
            found["profile_sha256"] = hashlib.sha256(profile).hexdigest()
    if chart is not None:
        rows = np.concatenate([chart.device, chart.lab], axis=1).tolist()
        told = {"channels": chart.channels, "basis": chart.basis, "name": chart.name, "patches": rows}
        found[CHART] = told if whole else chart.fingerprint
    return found


def taken(table: dict[str, Any]) -> dict[str, Any]:
    """A table with the profile or the chart that is in it as the fields of a paper; a path must not stand beside it."""
    given = dict(table)
    ways = ((PROFILE, "profile", "profile", _profile), (CHART, "measurements", "measured", _chart))
    for key, path, name, read in ways:
        if key in given:
            if path in given:
                raise ParameterError(path, given[path], f"stands beside {key}", "give one of them")
            given[name] = read(given.pop(key))
    return given


def _profile(text: object) -> bytes:
    try:
        return base64.b64decode(text, validate=True)  # type: ignore[arg-type]
    except (TypeError, ValueError, binascii.Error):
        raise ParameterError(PROFILE, text, "must be a profile as base64 text") from None


def _chart(value: object) -> Measurement:
    try:
        doc = dict(value)  # type: ignore[call-overload]
        channels, basis, name = (doc.pop(key) for key in ("channels", "basis", "name"))
        count = {"CMYK": 4, "CMY": 3, "RGB": 3, "GRAY": 1}[channels]
        rows = np.array(doc.pop("patches"), np.float64)
        if doc or basis not in ("Lab", "XYZ", "spectral") or not isinstance(name, str):
            raise ValueError
        if rows.ndim != 2 or rows.shape[1] != count + 3 or not np.isfinite(rows).all():
            raise ValueError
    except (TypeError, ValueError, KeyError):
        raise ParameterError(CHART, value, "must be a table of channels, basis, name and patches") from None
    return Measurement(channels, rows[:, :count], rows[:, count:], basis, name)
