"""A paper's table with everything in it: the profile or the chart itself, in place of the path to one."""

from __future__ import annotations

import base64
import binascii
import hashlib
from dataclasses import fields
from typing import TYPE_CHECKING, Any

import numpy as np

from printprep.conditions.measurement import Measurement
from printprep.errors import ParameterError

if TYPE_CHECKING:
    from printprep.conditions.paper import Paper

PROFILE, CHART = "profile_base64", "chart"
"""Keys of a paper's table; `chart` is a table of channels, basis, name, and patches: device values, then L*, a*, b*."""

_DERIVED = ("white", "black", "solids")
"""Found in the profile or the chart, where a paper has one."""


def table(paper: Paper, *, whole: bool) -> dict[str, Any]:
    """The fields of a paper as plain values, that `Paper.from_table` reads; or hashes of what is large."""
    inline = ("profile", "measured")
    left_out = inline if paper.solids is not None else (*inline, *_DERIVED)
    found = {f.name: getattr(paper, f.name) for f in fields(paper) if f.name not in left_out}
    found = {name: value for name, value in found.items() if value is not None}
    if paper.grey_ramp is not None:
        found["grey_ramp"] = [list(step) for step in paper.grey_ramp]
    if paper.solids is not None:
        found |= {"white": list(paper.white or ()), "black": list(paper.black or ())}
        found["solids"] = {name: list(colour) for name, colour in paper.solids.items()}
    chart = paper.measured
    if not whole:
        hashed = {"profile_sha256": hashlib.sha256(paper.profile).hexdigest()} if paper.profile is not None else {}
        return found | hashed | ({CHART: chart.fingerprint} if chart is not None else {})
    if paper.profile is not None:
        found[PROFILE] = base64.b64encode(paper.profile).decode()
    if chart is not None:
        rows = np.concatenate([chart.device, chart.lab], axis=1).tolist()
        found[CHART] = {"channels": chart.channels, "basis": chart.basis, "name": chart.name, "patches": rows}
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
