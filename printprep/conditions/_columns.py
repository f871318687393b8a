"""Which columns of a CGATS.17 section hold device values and colours, and what they say."""

from __future__ import annotations

import re
from math import isfinite
from typing import Literal

import numpy as np

from printprep.colour.lab import Array, lab_from_xyz
from printprep.conditions._cgats import Row, Section, refusal
from printprep.conditions._patches import Channels
from printprep.files.names import printable

Basis = Literal["Lab", "XYZ", "spectral"]
"""What colours are read or computed from."""

DEVICE: dict[Channels, tuple[tuple[str, ...], ...]] = {
    "CMYK": (("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K"),),
    "RGB": (("RGB_R", "RGB_G", "RGB_B"),),
    "CMY": (("CMY_C", "CMY_M", "CMY_Y"),),
    "GRAY": (("GRAY_W",), ("GRAY_K",), ("GRAY",), ("GREY",), ("GRAY_GRAY",), ("W_W",), ("K_K",)),
}
"""Fields that hold device values, in the spellings that are in use."""

_LAB = ("LAB_L", "LAB_A", "LAB_B")
_XYZ = ("XYZ_X", "XYZ_Y", "XYZ_Z")
_BAND = re.compile(r"(?:SPECTRAL_(?:NM|DEC|PCT)?_?|SPEC_?|NM_?|R_?)(\d{3,4})(?:NM)?")
_LIGHT = re.compile(r"\b(D\s?\d{2}|A|C|E|FL?\d{1,2})\b")
_ANGLE = re.compile(r"\b(\d{1,4})\b")


def device_fields(section: Section) -> tuple[Channels, tuple[str, ...]] | None:
    """The device model of a section and its fields, if it has all of one."""
    for channels, choices in DEVICE.items():
        for fields in choices:
            if all(f in section.fields for f in fields):
                return channels, fields
    return None


def colour_basis(section: Section) -> Basis | None:
    """What colours a section has, if any."""
    if all(f in section.fields for f in _LAB):
        return "Lab"
    if all(f in section.fields for f in _XYZ):
        return "XYZ"
    return "spectral" if _bands(section) else None


def joined(found: list[Section], name: str) -> Section:
    """Device values in one section and colours in another, put together by SAMPLE_ID, or refused."""
    inks = [s for s in found if device_fields(s)]
    colours = [s for s in found if colour_basis(s)]
    if not inks:
        wanted = "CMYK_C.., RGB_R.., CMY_C.. or GRAY_W"
        raise refusal(name, f"no device columns ({wanted}){_missing(found)}", "export them too")
    if not colours:
        wanted = "LAB_L.., XYZ_X.. or SPECTRAL_NM_.."
        raise refusal(name, f"no colour columns ({wanted}){_missing(found)}", "export them too")
    ink, colour = inks[0], colours[0]
    if "SAMPLE_ID" not in ink.fields or "SAMPLE_ID" not in colour.fields:
        raise refusal(name, "SAMPLE_ID is missing, which sections are put together by", "export one section")
    key = colour.fields.index("SAMPLE_ID")
    by_id = {row.values[key]: row for row in colour.rows}
    rows = []
    for row in ink.rows:
        sample = row.values[ink.fields.index("SAMPLE_ID")]
        if sample not in by_id:
            wrong = f"SAMPLE_ID {printable(sample, 40)} has device values but no colour"
            raise refusal(name, wrong, "measure it or delete the row")
        rows.append(Row(row.line, row.values + by_id[sample].values))
    second = tuple("" if f == "SAMPLE_ID" else f for f in colour.fields)
    return Section({**ink.keywords, **colour.keywords}, ink.fields + second, tuple(rows))


def values(section: Section, name: str) -> tuple[Array, Array, Basis]:
    """Device values as they stand, absolute Lab (D50, 2 degree), and what the Lab comes from.

    An InputError names line and field of a value that is no number or out of its range, or another illuminant or
    observer.
    """
    found, basis = device_fields(section), colour_basis(section)
    assert found is not None
    assert basis is not None
    if not section.rows:
        raise refusal(name, "no patches between BEGIN_DATA and END_DATA", "measure the chart")
    device = _numbers(section, found[1], name)
    if basis != "spectral" and (other := _other_viewing(section.keywords)):
        if not _bands(section):
            raise refusal(name, other, "export for D50 and the 2 degree observer, or spectral values")
        basis = "spectral"
    return device, _lab(section, basis, name), basis


def _lab(section: Section, basis: Basis, name: str) -> Array:
    if basis == "Lab":
        lab = _numbers(section, _LAB, name)
        _in_range(section, name, _LAB, lab, [(-1, 110), (-150, 150), (-150, 150)])
        return lab
    if basis == "XYZ":
        xyz = _numbers(section, _XYZ, name)
        if xyz[:, 1].max() > 1.5:
            xyz = xyz / 100
        _in_range(section, name, _XYZ, xyz, [(-0.01, 1.5)] * 3)
        return np.asarray(lab_from_xyz(np.maximum(xyz, 0)), np.float64)
    bands = _bands(section)
    if min(bands) > 420 or max(bands) < 680:
        reach = f"{min(bands)} to {max(bands)} nm"
        raise refusal(name, f"SPECTRAL_NM reaches from {reach}", "export 400 to 700 nm at least")
    fields = tuple(section.fields[c] for c in bands.values())
    reflectance = _numbers(section, fields, name, list(bands.values()))
    if reflectance.max() > 2:
        reflectance = reflectance / 100
    _in_range(section, name, fields, reflectance, [(-0.02, 1.6)] * len(fields))
    return lab_from_reflectance(np.array(list(bands), np.float64), reflectance)


def _bands(section: Section) -> dict[int, int]:
    """Column of each wavelength: it is in the field's name, or in a column of its own before its value."""
    found: dict[int, int] = {}
    for column, field in enumerate(section.fields):
        match = _BAND.fullmatch(field)
        if match and 300 <= int(match[1]) <= 1100:
            found[int(match[1])] = column
        if field == "SPECTRAL_NM" and section.fields[column + 1 : column + 2] in (("SPECTRAL_DEC",), ("SPECTRAL_PCT",)):
            texts = {row.values[column] for row in section.rows}
            if len(texts) == 1 and isfinite(wavelength := _number(texts.pop())):
                found[round(wavelength)] = column + 1
    return found if len(found) >= 16 else {}


def _missing(found: list[Section]) -> str:
    """Which columns of a group are missing, where some of the group are there."""
    present = {f for s in found for f in s.fields}
    for fields in [fields for choices in DEVICE.values() for fields in choices] + [_LAB, _XYZ]:
        absent = [f for f in fields if f not in present]
        if 0 < len(absent) < len(fields):
            return f": {', '.join(absent)} missing"
    return ""


def _numbers(section: Section, fields: tuple[str, ...], name: str, columns: list[int] | None = None) -> Array:
    columns = [section.fields.index(f) for f in fields] if columns is None else columns
    out = np.empty((len(section.rows), len(fields)))
    for i, row in enumerate(section.rows):
        for k, column in enumerate(columns):
            out[i, k] = value = _number(row.values[column])
            if not isfinite(value):
                what = f"line {row.line}: {fields[k]} is '{printable(row.values[column], 40)}', no number"
                raise refusal(name, what, "measure the patch or delete the row")
    return out


def _number(text: str) -> float:
    try:
        return float(text.replace(",", "."))  # a decimal comma separates nothing in this format
    except ValueError:
        return float("nan")


def _in_range(
    section: Section, name: str, fields: tuple[str, ...], values: Array, ranges: list[tuple[float, float]]
) -> None:
    for k, (low, high) in enumerate(ranges):
        bad = np.flatnonzero((values[:, k] < low) | (values[:, k] > high))
        if len(bad):
            what = f"line {section.rows[int(bad[0])].line}: {fields[k]} is {values[bad[0], k]:g}"
            raise refusal(name, f"{what}, no colour of a print", "measure the patch or delete the row")


def _other_viewing(keywords: dict[str, str]) -> str:
    """What is said of illuminant or observer, where it is not D50 and 2 degree."""
    for keyword in ("ILLUMINANT", "OBSERVER", "WEIGHTING_FUNCTION"):
        text = keywords.get(keyword, "").upper()
        of_observer = keyword == "OBSERVER" or text.startswith("OBSERVER")
        stated = (_ANGLE if of_observer else _LIGHT).search(text)
        if stated and stated[1].replace(" ", "") not in (("2", "1931") if of_observer else ("D50",)):
            return f"{keyword} is {printable(keywords[keyword], 60)}"
    return ""


def lab_from_reflectance(wavelengths: Array, reflectance: Array) -> Array:
    """Lab, (n, 3), of reflectance spectra, (n, k): D50, 2 degree observer; a perfect diffuser gives (100, 0, 0).

    Spectra are interpolated by cubic splines to 1 nm from 380 to 780 nm, held at the ends, and summed with the CIE
    1931 colour matching functions and CIE D50 as in CIE 15 (the weights of ISO 13655 are sums of the same products).
    Tables: colour-science.
    """
    import colour
    from scipy.interpolate import CubicSpline

    grid = np.arange(380.0, 781.0)
    shape = colour.SpectralShape(380, 780, 1)
    matching = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    light = colour.SDS_ILLUMINANTS["D50"].copy().align(shape).values
    order = np.argsort(wavelengths)
    at = np.clip(grid, wavelengths.min(), wavelengths.max())
    fine = CubicSpline(wavelengths[order], reflectance[:, order], axis=1)(at)
    weight = matching * light[:, None]
    xyz = fine @ weight / weight[:, 1].sum()
    white = weight.sum(axis=0) / weight[:, 1].sum()
    return np.asarray(lab_from_xyz(xyz, tuple(white)))
