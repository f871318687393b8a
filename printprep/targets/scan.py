"""A flat-bed scan with two prints of one target: found, laid against the target, and their patches averaged."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.colour.icc import lab_from_device
from printprep.colour.lab import Array
from printprep.errors import InputError
from printprep.files.names import AnyPath, shown
from printprep.photo.read import read
from printprep.targets.target import DETAIL, Known

_Picture = NDArray[np.float32]

_LEAST_PPI, _FINEST = 150.0, 8.0
"""Pixels per inch that a scan must have; pixels per millimetre that are kept of it."""

_CAMERA = {0x829A, 0x829D, 0x8827, 0x920A}
"""Exif tags that cameras write and scanners do not: exposure time, f-number, sensitivity, focal length."""

_COARSE, _BORDER = 1.0, 12
"""Pixels per millimetre of the first search, and pixels of white put around for it."""

_ANGLES = [quarter + tilt for quarter in (0, 90, 180, 270) for tilt in np.arange(-3, 3.1, 0.75)]
"""Degrees that are tried: laid any way round, and not quite straight."""

_ALIKE = 0.6
"""Correlation with the target from which a sheet counts as one (prints of it come to 0.9; our choice)."""

_SCALE, _STRETCH, _SLANT = 0.02, 0.01, 0.004
"""By how much size may be off, and differ between both ways; what perspective may do across the sheet (our choice)."""

_CLIPPED = 0.998
"""Value of a channel from which white has no room left."""


@dataclass(frozen=True)
class Scan:
    """A scan of two sheets: values 0..1, what they mean (a profile), and its name in messages."""

    rgb: _Picture
    per_mm: float
    profile: bytes
    shown: str


def open_scan(path: AnyPath, assume: str | None = None) -> Scan:
    """Open a TIFF scanned by a flat-bed; `assume` is the profile of one that carries none.

    Refused where it is a photograph, or says no resolution or one too low.
    """
    photo, name = read(path, assume=assume), shown(path)
    if any(entry.tag in _CAMERA for entry in photo.metadata.exif):
        do = "scan the sheets on a flat-bed: light and lens of a camera change more than a printer does"
        raise InputError("is a photograph", where=name, do=do)
    ppi = photo.resolution.ppi
    if photo.resolution.stored is None or ppi < _LEAST_PPI:
        said = "does not say its resolution" if photo.resolution.stored is None else f"has {ppi:.0f} pixels per inch"
        raise InputError(said, where=name, do=f"scan with {_LEAST_PPI:.0f} or more, and save as TIFF")
    per_mm = min(photo.resolution.pixels_per_mm, _FINEST)
    rgb = _resized(np.asarray(photo), photo.resolution.pixels_per_mm, per_mm) / np.float32(65535)
    return Scan(rgb, per_mm, photo.profile.data, name)


def both_sheets(scan: Scan, known: Known) -> tuple[Array, Array]:
    """Patches of two prints of a target in a scan, side by side or one above the other, the left (or upper) first.

    Lab, D50, as the scanner sees it, (patches, 3), nan for patches too small to be averaged. Refused where two such
    sheets are not found, or not as a flat-bed shows them, or where white is clipped.
    """
    lightness = lab_from_device(scan.rgb, scan.profile)[..., 0].astype(np.float32)
    sheets = [_refined(scan, lightness, known, coarse) for coarse in _found(scan, lightness, known)]
    middle = np.array([known.layout.width / 2, known.layout.height / 2, 1.0])
    places = [sheet @ middle for sheet in sheets]
    apart = np.abs(places[0] - places[1])
    axis = 0 if apart[0] >= apart[1] else 1
    first, second = sorted(range(2), key=lambda k: places[k][axis])
    return _averaged(scan, known, sheets[first]), _averaged(scan, known, sheets[second])


# ---------------------------------------------------------------- finding


def _resized(picture: NDArray[Any], per_mm: float, wanted: float) -> _Picture:
    import cv2

    scale = wanted / per_mm
    size = max(1, round(picture.shape[1] * scale)), max(1, round(picture.shape[0] * scale))
    out: _Picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    return out


def _found(scan: Scan, lightness: _Picture, known: Known) -> Iterator[Array]:
    """Where two sheets lie, roughly: from millimetres of the target to millimetres of the scan, (2, 3) each."""
    import cv2

    target = _resized(known.lightness, DETAIL, _COARSE)
    bed = _resized(lightness, scan.per_mm, _COARSE)
    bed = np.pad(bed, _BORDER, constant_values=100.0)
    for _ in range(2):
        score, place = _best(bed, target)
        if score < _ALIKE:
            do = "lay last month's sheet and this month's side by side, whole, in one scan"
            raise InputError("two prints of this target are not found in it", where=scan.shown, do=do)
        high, wide = target.shape
        corners = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], float) @ place[:, :2].T + place[:, 2]
        cv2.fillConvexPoly(bed, np.rint(corners).astype(np.int32), 100.0)
        yield (place - [[0, 0, _BORDER], [0, 0, _BORDER]]) / np.array([1.0, 1.0, _COARSE])


def _best(bed: _Picture, target: _Picture) -> tuple[float, Array]:
    """The best place of a target on a bed: correlation, and pixels of the target to pixels of the bed."""
    import cv2

    best: tuple[float, Array] = (-1.0, np.eye(2, 3))
    rows, columns = bed.shape
    for angle in _ANGLES:
        turn = cv2.getRotationMatrix2D((columns / 2, rows / 2), angle, 1.0)
        wide = int(abs(turn[0, 0]) * columns + abs(turn[0, 1]) * rows) + 1
        high = int(abs(turn[0, 1]) * columns + abs(turn[0, 0]) * rows) + 1
        turn[:, 2] += (wide - columns) / 2, (high - rows) / 2
        if wide < target.shape[1] or high < target.shape[0]:
            continue
        turned = cv2.warpAffine(bed, turn, (wide, high), borderValue=100.0)
        _, score, _, at = cv2.minMaxLoc(cv2.matchTemplate(turned, target, cv2.TM_CCOEFF_NORMED))
        if score > best[0]:
            back = cv2.invertAffineTransform(turn)
            back[:, 2] += back[:, :2] @ np.array(at, float)
            best = score, back
    return best


def _refined(scan: Scan, lightness: _Picture, known: Known, coarse: Array) -> Array:
    """From millimetres of the target to pixels of the scan, (2, 3), found by correlation, coarse to fine."""
    import cv2

    place: Any = coarse.astype(np.float32)
    what, do = "is not laid flat, or has another size than it says", "scan on a flat-bed, at a fixed resolution"
    try:
        for detail in (1.0, 2.0, DETAIL):
            target, bed = _resized(known.lightness, DETAIL, detail), _resized(lightness, scan.per_mm, detail)
            place[:, 2] *= detail
            stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 60, 1e-5)
            _, place = cv2.findTransformECC(target, bed, place, cv2.MOTION_AFFINE, stop, None, 5)
            if detail == DETAIL:
                leaning = np.vstack([place, [0, 0, 1]]).astype(np.float32)
                _, leaning = cv2.findTransformECC(target, bed, leaning, cv2.MOTION_HOMOGRAPHY, stop, None, 5)
                slant = float(np.abs(leaning[2, :2] / leaning[2, 2] * (target.shape[1], target.shape[0])).max())
            place[:, 2] /= detail
    except cv2.error:
        raise InputError(what, where=scan.shown, do=do) from None
    stretch = np.linalg.svd(place[:, :2].astype(float), compute_uv=False)
    if max(abs(stretch - 1)) > _SCALE or stretch[0] / stretch[1] - 1 > _STRETCH or slant > _SLANT:
        raise InputError(what, where=scan.shown, do=do)
    return np.asarray(place, np.float64) * scan.per_mm


# ---------------------------------------------------------------- averaging


def _averaged(scan: Scan, known: Known, sheet: Array) -> Array:
    """Lab of every patch, its rim left out."""
    import cv2

    q, layout = scan.per_mm, known.layout
    size = round(layout.width * q), round(layout.height * q)
    onto = sheet.copy()
    onto[:, :2] /= q
    flat = cv2.warpAffine(scan.rgb, onto, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderValue=(1, 1, 1))
    means = np.full((len(known.patches), 3), np.nan)
    for k, patch in enumerate(known.patches):
        top, bottom = round((patch.y + 0.2 * patch.h) * q), round((patch.y + 0.8 * patch.h) * q)
        left, right = round((patch.x + 0.2 * patch.w) * q), round((patch.x + 0.8 * patch.w) * q)
        if min(bottom - top, right - left) >= 3:
            means[k] = flat[top:bottom, left:right].mean(axis=(0, 1))
    if np.nanmax(means) > _CLIPPED:
        do = "scan again darker, with all automatic corrections off"
        raise InputError("paper white is clipped in it", where=scan.shown, do=do)
    good = ~np.isnan(means[:, 0])
    means[good] = lab_from_device(means[good], scan.profile)
    return means
