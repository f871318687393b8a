"""A measured chart: device values and Lab of every patch, read from a CGATS.17 file."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from functools import cached_property
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from printprep.colour.lab import D50, lab_from_xyz
from printprep.conditions import _cgats
from printprep.errors import InputError

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

Channels = Literal["CMYK", "CMY", "RGB", "GRAY"]
"""Device models of a chart."""

CONTRADICTION = 6.0
"""Repeats of one patch that differ by more than this, dE*ab, cannot both be right; less is averaged (our choice)."""

_DEVICE: dict[Channels, tuple[tuple[str, ...], ...]] = {
    "CMYK": (("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K"),),
    "RGB": (("RGB_R", "RGB_G", "RGB_B"),),
    "CMY": (("CMY_C", "CMY_M", "CMY_Y"),),
    "GRAY": (("GRAY_W",), ("GRAY_K",), ("GRAY",), ("GREY",), ("GRAY_GRAY",), ("W_W",), ("K_K",)),
}
_LAB = ("LAB_L", "LAB_A", "LAB_B")
_XYZ = ("XYZ_X", "XYZ_Y", "XYZ_Z")
_BAND = re.compile(r"(?:SPECTRAL_(?:NM|DEC|PCT)?_?|SPEC_?|NM_?|R_?)(\d{3,4})(?:NM)?")


@dataclass(frozen=True, eq=False)
class Measurement:
    """Patches of a chart as printed on one paper.

    Parameters
    ----------
    channels : {"CMYK", "CMY", "RGB", "GRAY"}
        Device model.
    device : (n, k) ndarray of float64
        Device values, 0..1: ink for CMYK and CMY, light for RGB and GRAY (1 is unprinted).
    lab : (n, 3) ndarray of float64
        Absolute CIELAB, D50, 2 degree observer.
    basis : {"Lab", "XYZ", "spectral"}
        What the Lab values were read or computed from.
    name : str
        File name, for messages; no part of the identity.
    """

    channels: Channels
    device: NDArray[np.float64]
    lab: NDArray[np.float64]
    basis: Literal["Lab", "XYZ", "spectral"] = "Lab"
    name: str = "measurement"

    def __post_init__(self) -> None:
        device, lab = _merged(self.device, self.lab, self.channels, self.name)
        for array in (device, lab):
            array.flags.writeable = False
        object.__setattr__(self, "device", device)
        object.__setattr__(self, "lab", lab)
        _check_corners(self)

    @cached_property
    def white(self) -> NDArray[np.float64]:
        """Absolute Lab of the unprinted paper."""
        bare = 0.0 if self.channels in ("CMYK", "CMY") else 1.0
        return np.asarray(self.lab[(self.device == bare).all(axis=1)][0])

    @cached_property
    def darkest(self) -> NDArray[np.float64]:
        """Absolute Lab of the darkest patch."""
        return np.asarray(self.lab[self.lab[:, 0].argmin()])

    @cached_property
    def fingerprint(self) -> str:
        """A stable hash of the values."""
        digest = hashlib.blake2b(self.channels.encode(), digest_size=16)
        digest.update(self.device.tobytes() + self.lab.tobytes())
        return digest.hexdigest()

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Measurement) and self.fingerprint == other.fingerprint

    def __hash__(self) -> int:
        return hash(self.fingerprint)

    def __repr__(self) -> str:
        return f"<Measurement {self.name}: {len(self.lab)} {self.channels} patches>"


def read(path: Path | Traversable | str) -> Measurement:
    """Read a CGATS.17 file (ISO 28178 keywords).

    Parameters
    ----------
    path : path or Traversable
        The file. CMYK, CMY, RGB or grey device values; Lab, XYZ or spectral reflectance.

    Returns
    -------
    Measurement

    Raises
    ------
    InputError
        Naming the file and the field: not readable, no device or colour columns, a value that is no
        number or out of its range, another illuminant or observer than D50 and 2 degree, no
        unprinted patch, missing solids, patches that contradict each other.
    """
    file = Path(path) if isinstance(path, str) else path
    try:
        data = file.read_bytes()
    except OSError as error:
        raise InputError(f"{str(path)!r}: cannot be read ({error.strerror or error}); check the path") from None
    return parse(data, file.name)


def parse(data: bytes, name: str = "measurement") -> Measurement:
    """Read the bytes of a CGATS.17 file; as `read`."""
    found = _cgats.sections(_cgats.decode(data, name), name)
    if not found:
        raise InputError(f"{name!r}: no BEGIN_DATA_FORMAT and BEGIN_DATA; give a CGATS.17 measurement")
    charts = [s for s in found if _device_fields(s) and _colour_basis(s)]
    if not charts:
        charts = _joined(found, name)
    channels = {_device_fields(s)[0] for s in charts}  # type: ignore[index]
    if len(channels) > 1:
        raise InputError(f"{name!r}: sections with {' and '.join(sorted(channels))} values; give one chart a file")
    parts = [_values(s, name) for s in charts]
    device = np.concatenate([p[0] for p in parts])
    lab = np.concatenate([p[1] for p in parts])
    kind = channels.pop()
    return Measurement(kind, _scaled(device, lab, kind, name), lab, parts[0][2], name)


# --- which columns ------------------------------------------------------------------------


def _device_fields(section: _cgats.Section) -> tuple[Channels, tuple[str, ...]] | None:
    for channels, choices in _DEVICE.items():
        for fields in choices:
            if all(f in section.fields for f in fields):
                return channels, fields
    return None


def _colour_basis(section: _cgats.Section) -> Literal["Lab", "XYZ", "spectral"] | None:
    if all(f in section.fields for f in _LAB):
        return "Lab"
    if all(f in section.fields for f in _XYZ):
        return "XYZ"
    return "spectral" if _bands(section) else None


def _bands(section: _cgats.Section) -> dict[int, int]:
    """Column of each wavelength, where the wavelength is in the field's name."""
    found = {}
    for column, field in enumerate(section.fields):
        match = _BAND.fullmatch(field)
        if match and 300 <= int(match[1]) <= 1100:
            found[int(match[1])] = column
    return found if len(found) >= 16 else {}


def _joined(found: list[_cgats.Section], name: str) -> list[_cgats.Section]:
    """Device values in one section and colours in another, put together by SAMPLE_ID."""
    inks = [s for s in found if _device_fields(s)]
    colours = [s for s in found if _colour_basis(s)]
    if not inks:
        raise InputError(f"{name!r}: no device columns (CMYK_C.., RGB_R.., CMY_C.. or GRAY_W){_missing(found)}; export them too")
    if not colours:
        raise InputError(f"{name!r}: no colour columns (LAB_L.., XYZ_X.. or SPECTRAL_NM_..){_missing(found)}; export them too")
    ink, colour = inks[0], colours[0]
    if "SAMPLE_ID" not in ink.fields or "SAMPLE_ID" not in colour.fields:
        raise InputError(f"{name!r}: SAMPLE_ID is missing in sections that need it to be put together; export one section")
    key = colour.fields.index("SAMPLE_ID")
    by_id = {row.values[key]: row for row in colour.rows}
    rows = []
    for row in ink.rows:
        sample = row.values[ink.fields.index("SAMPLE_ID")]
        if sample not in by_id:
            raise InputError(f"{name!r}: SAMPLE_ID {sample} has device values but no colour; measure it or delete the row")
        rows.append(_cgats.Row(row.line, row.values + by_id[sample].values))
    second = tuple(f if f != "SAMPLE_ID" else "SAMPLE_ID_2" for f in colour.fields)
    return [_cgats.Section({**ink.keywords, **colour.keywords}, ink.fields + second, tuple(rows))]


def _missing(found: list[_cgats.Section]) -> str:
    """Which column of a group is missing, where some of the group are there."""
    present = {f for s in found for f in s.fields}
    groups = [fields for choices in _DEVICE.values() for fields in choices] + [_LAB, _XYZ]
    for fields in groups:
        absent = [f for f in fields if f not in present]
        if absent and len(absent) < len(fields):
            return f": {', '.join(absent)} missing"
    return ""


# --- values -------------------------------------------------------------------------------


def _values(section: _cgats.Section, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64], Literal["Lab", "XYZ", "spectral"]]:
    device = _device_fields(section)
    basis = _colour_basis(section)
    assert device is not None and basis is not None
    if not section.rows:
        raise InputError(f"{name!r}: no patches between BEGIN_DATA and END_DATA; measure the chart")
    values = _numbers(section, device[1], name)
    if basis != "spectral":
        wrong = _other_viewing(section.keywords)
        if wrong and _bands(section):
            basis = "spectral"
        elif wrong:
            raise InputError(f"{name!r}: {wrong}; export for D50 and the 2 degree observer, or spectral values")
    if basis == "Lab":
        lab = _numbers(section, _LAB, name)
        _in_range(section, name, _LAB, lab, [(-1, 110), (-150, 150), (-150, 150)])
    elif basis == "XYZ":
        xyz = _numbers(section, _XYZ, name)
        if xyz[:, 1].max() > 1.5:
            xyz = xyz / 100
        _in_range(section, name, _XYZ, xyz, [(-0.01, 1.5)] * 3)
        lab = lab_from_xyz(np.maximum(xyz, 0))
    else:
        from printprep.conditions._spectral import lab_from_reflectance

        bands = _bands(section)
        fields = tuple(section.fields[c] for c in bands.values())
        reflectance = _numbers(section, fields, name)
        if reflectance.max() > 2:
            reflectance = reflectance / 100
        _in_range(section, name, fields, reflectance, [(-0.02, 1.6)] * len(fields))
        lab = lab_from_reflectance(np.array(list(bands), float), reflectance)
    return values, np.asarray(lab, np.float64), basis


def _numbers(section: _cgats.Section, fields: tuple[str, ...], name: str) -> NDArray[np.float64]:
    columns = [section.fields.index(f) for f in fields]
    out = np.empty((len(section.rows), len(fields)))
    for i, row in enumerate(section.rows):
        for k, column in enumerate(columns):
            text = row.values[column]
            try:
                value = float(text.replace(",", "."))  # a decimal comma is no separator in this format
            except ValueError:
                value = float("nan")
            if not isfinite(value):
                raise InputError(f"{name!r}: line {row.line}: {fields[k]} is {text!r}, no number; measure the patch or delete the row")
            out[i, k] = value
    return out


def _in_range(section: _cgats.Section, name: str, fields: tuple[str, ...], values: NDArray[np.float64], ranges: list[tuple[float, float]]) -> None:
    for k, (low, high) in enumerate(ranges):
        bad = np.flatnonzero((values[:, k] < low) | (values[:, k] > high))
        if len(bad):
            row = section.rows[int(bad[0])]
            text = row.values[section.fields.index(fields[k])]
            raise InputError(f"{name!r}: line {row.line}: {fields[k]} is {text}, no colour of a print; measure the patch or delete the row")


def _other_viewing(keywords: dict[str, str]) -> str:
    """What is said of illuminant or observer, where it is not D50 and 2 degree."""
    for keyword in ("ILLUMINANT", "OBSERVER", "WEIGHTING_FUNCTION"):
        text = keywords.get(keyword, "").upper()
        if not text:
            continue
        light = re.search(r"\b(D\s?\d{2}|A|C|E|F\d{1,2}|FL?\d{1,2})\b", text)
        if keyword != "OBSERVER" and light and light[1].replace(" ", "") != "D50" and "OBSERVER" not in text:
            return f"{keyword} is {keywords[keyword]}"
        angle = re.search(r"\b(\d{1,4})\s*(?:DEG|°|º|$)?", text)
        if "OBSERVER" in (keyword, text.split(",")[0].strip()) and angle and angle[1] not in ("2", "1931"):
            return f"{keyword} is {keywords[keyword]}"
    return ""


def _scaled(device: NDArray[np.float64], lab: NDArray[np.float64], channels: Channels, name: str) -> NDArray[np.float64]:
    """Device values on 0..1."""
    fields = _DEVICE[channels][0]
    if device.min() < 0:
        k = int(np.argwhere(device < 0)[0][1])
        raise InputError(f"{name!r}: {fields[k]} is {device[:, k].min():g}, below 0; correct or delete the row")
    most = float(device.max())
    if channels in ("CMYK", "CMY"):
        limits: tuple[float, ...] = (1.0, 100.0)
    else:  # per cent or 8-bit codes; both are in use
        limits = (1.0, 100.0, 255.0)
    scale = next((s for s in limits if most <= s + 1e-6 * s), None)
    if scale is None:
        k = int(np.argwhere(device == most)[0][1])
        unit = "100 %" if len(limits) == 2 else "255"
        raise InputError(f"{name!r}: {fields[k]} is {most:g}, over {unit}; correct or delete the row")
    device = np.minimum(device / scale, 1)
    if channels == "GRAY" and np.corrcoef(device[:, 0], lab[:, 0])[0, 1] < 0:
        device = 1 - device  # counted as ink
    return device


# --- patches ------------------------------------------------------------------------------


def _merged(device: NDArray[np.float64], lab: NDArray[np.float64], channels: Channels, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Repeats averaged, in the order of the device values, so that the order of a file does not matter."""
    device, which = np.unique(np.round(np.asarray(device, np.float64), 6), axis=0, return_inverse=True)
    which = which.reshape(-1)
    count = np.bincount(which)
    mean = np.stack([np.bincount(which, lab[:, k]) / count for k in range(3)], axis=1)
    apart = np.linalg.norm(lab - mean[which], axis=1)
    if apart.max() > CONTRADICTION / 2:
        worst = device[which[apart.argmax()]]
        raise InputError(f"{name!r}: {_patch(channels, worst)} is measured more than once, {2 * apart.max():.0f} dE apart; keep the right one")
    return device, mean


def _patch(channels: str, values: NDArray[np.float64]) -> str:
    return f"{channels} " + " ".join(f"{100 * v:g}" for v in values)


def _check_corners(measured: Measurement) -> None:
    """Refuse charts that do not say where the gamut ends."""
    channels, name = measured.channels, measured.name
    patches = {tuple(row) for row in measured.device}
    if channels in ("CMYK", "CMY"):
        white = (0.0,) * len(channels)
        needed = [white] + [tuple(float(c) for c in bits) + (0.0,) * (len(channels) - 3)
                            for bits in ("100", "010", "001", "011", "101", "110")]
    elif channels == "RGB":
        white = (1.0, 1.0, 1.0)
        needed = [tuple(float(c) for c in f"{k:03b}") for k in range(8)]
    else:
        white = (1.0,)
        needed = [white, (0.0,)]
    if white not in patches:
        raise InputError(f"{name!r}: no white, the patch {_patch(channels, np.array(white))} is missing; measure the bare paper")
    missing = [n for n in needed if n not in patches]
    if missing:
        raise InputError(f"{name!r}: the patch {_patch(channels, np.array(missing[0]))} is missing, the gamut's corners are needed; measure it")
    light = measured.white[0]
    if light < measured.lab[:, 0].max() - 3 or light < 40:
        raise InputError(f"{name!r}: {_patch(channels, np.array(white))} has LAB_L {light:.1f} and is not the lightest patch; check the device columns")
    if light - measured.lab[:, 0].min() < 5:
        raise InputError(f"{name!r}: LAB_L hardly differs between patches; give a chart with solids and black")


def d50_note() -> str:
    """How measured colours are understood, in one sentence."""
    return f"D50 ({D50[0]}, {D50[1]:g}, {D50[2]}), 2 degree observer"
