"""The slow field: by how much each place of a picture is exposed more or less before the table."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from functools import cached_property
from threading import local
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printprep.adjust._base import Adjustment, Steps
from printprep.adjust._blame import blaming
from printprep.adjust.gamut_fit import DARK, NEAR_WHITE, STRONG
from printprep.colour.icc import device_from_lab, lab_from_device
from printprep.colour.lab import luminance_from_lightness
from printprep.photo.bands import thread_count

if TYPE_CHECKING:
    from printprep.render.chain import Chain

Array = NDArray[np.float32]

_RADIUS = 0.02
"""Half the side of the windows that it is evened in, as a share of the longer side."""

_EVEN = 0.01
"""Variance of codes (0..1) below which differences of colour do not show in the field (He, Sun, Tang 2013: epsilon)."""

LIGHT = (0.7, 1.4)
"""Bounds of its factors of light."""

_NOTHING = 2e-4
"""Change of codes, as a share, that is none."""

_FOOT = 0.02
"""Share of white's light under which the form of a curve does not count: feet are straight, and take no part."""

_SPAN = 1e-3
"""Least span of codes over which pixels come to take part: where white is darker than `NEAR_WHITE`, it has none."""

_OFFSETS = np.linspace(0, 0.2, 81)

_LANES = 16
"""Rows are worked on as a multiple of so many pixels: what OpenCV does one by one, at the end of a run of memory, it
rounds otherwise than what it does many at a time, and a tile must have the whole's bytes."""

_BAND = 96 << 10
"""Pixels exposed at once by one or two threads: what they need stays near the processor. More threads would wait for
each other between calls of a moment, so they take more."""


@dataclass(frozen=True)
class CodeCurve:
    """A profile's codes: light as ``((code + offset) / (1 + offset))^power``, and where pixels take part.

    Parameters
    ----------
    offset, power : float
        sRGB, opRGB, ROMM RGB and L* have this form above their feet, and so does linear light.
    start, wide : float
        Saturation, (max - min) / max of codes, from which pixels take part, and by how much more in full.
    dark, dusk : float
        The same of the largest code.
    white, dawn : float
        Luma from which pixels take part less, and by how much more not at all.
    luma : tuple of three float
        What each channel counts in luma.
    """

    offset: float
    power: float
    start: float
    wide: float
    dark: float
    dusk: float
    white: float
    dawn: float
    luma: tuple[float, float, float]

    @classmethod
    def of(cls, profile: bytes) -> CodeCurve:
        """That of an RGB profile, by its greys and by a ring of colours."""
        codes = np.linspace(0, 1, 257)
        greys = np.repeat(codes[:, None], 3, axis=1)
        L = np.maximum.accumulate(lab_from_device(greys, profile)[:, 0].astype(np.float64))
        light = np.asarray(luminance_from_lightness(np.maximum(L, 0)), np.float64)
        at = light > _FOOT * light[-1]
        y = np.log(light[at] / light[-1])
        fits = []
        for offset in _OFFSETS:
            x = np.log((codes[at] + offset) / (1 + offset))
            power = (x * y).sum() / (x * x).sum()
            fits.append((np.abs(y - power * x).max(), offset, power))
        _, offset, power = min(fits)
        hue = np.radians(np.arange(0, 360, 15))
        ends = []
        for ratio in STRONG:
            ring = np.stack([np.full(hue.shape, 60.0), *(ratio * 76 * np.array([np.cos(hue), np.sin(hue)]))], axis=-1)
            device = np.clip(device_from_lab(ring, profile), 0, 1)
            ends.append(float(np.mean(1 - device.min(axis=-1) / device.max(axis=-1))))
        dark, dusk, white, dawn = (float(code) for code in np.interp((*DARK, *NEAR_WHITE), L, codes))
        primaries = lab_from_device(np.eye(3), profile)[:, 0]
        luma = np.asarray(luminance_from_lightness(np.maximum(primaries, 1)), np.float64)
        red, green, blue = (float(part) for part in luma / luma.sum())
        start, end = ends
        wide, dusk, dawn = (max(span, _SPAN) for span in (end - start, dusk - dark, dawn - white))
        return cls(float(offset), float(power), start, wide, dark, dusk, white, dawn, (red, green, blue))

    def change(self, light: ArrayLike) -> Array:
        """By what share codes, `offset` added, change where light is multiplied by these factors."""
        return np.asarray(np.power(np.asarray(light, np.float64), 1 / self.power) - 1, np.float32)


@dataclass(frozen=True, eq=False)
class Field:
    """Exposure by place, for one picture.

    Parameters
    ----------
    maps : (rows, columns, 4) ndarray of float32
        By what share codes change, as a function of a pixel's own codes 0..1: one coefficient for each channel
        and a constant, laid over the picture bilinearly.
    height, width : int, pixels
        Of the picture.
    curve : CodeCurve
        Of its profile.
    codes : (rows, columns, 3) ndarray of float32, or None
        The picture read small, which tells what else depends on it.
    """

    maps: Array
    height: int
    width: int
    curve: CodeCurve
    codes: Array | None = None

    def laid(self, top: int, left: int, out: Array, scale: float = 1.0) -> None:
        """Fill `out`, (4, rows, columns), with the maps at a part of the picture, slopes divided by `scale`."""
        lines, parts = self._between
        columns, bottom, row = out.shape[2], top + out.shape[1], top
        while row < bottom:
            i = lines[row]
            end = min(bisect_right(lines, i, row), bottom)
            line, change = (wide[:, None, left : left + columns] for wide in self._lines(i, scale))
            done = out[:, row - top : end - top]
            np.multiply(change, parts[row:end], out=done)
            np.add(done, line, out=done)
            row = end

    @cached_property
    def _between(self) -> tuple[list[int], Array]:
        """After which line of the maps each row lies, and how far on the way to the next, (height, 1)."""
        count = len(self.maps)
        at = np.clip((np.arange(self.height) + 0.5) * (count / self.height) - 0.5, 0, count - 1)
        above = np.minimum(at.astype(int), max(count - 2, 0))
        return above.tolist(), (at - above).astype(np.float32)[:, None]

    def _lines(self, i: int, scale: float) -> tuple[Array, Array]:
        """Line `i` of the maps as wide as the picture, (4, width), and what the next adds to it; the last are kept."""
        import cv2

        if _work.lines is None or _work.lines[0] != (id(self), i, scale):
            pair = self.maps[[i, min(i + 1, len(self.maps) - 1)]]  # two: one line alone is rounded otherwise
            wide = cv2.resize(pair, (self.width, 2), interpolation=cv2.INTER_LINEAR).reshape(2, self.width, 4)
            planes = np.ascontiguousarray(np.moveaxis(wide, 2, 1), np.float32)
            planes[:, :3] /= np.float32(scale)
            _work.lines = (id(self), i, scale), planes[0], planes[1] - planes[0]
        return _work.lines[1:]

    def expose(self, codes: NDArray[Any], top: int = 0, left: int = 0) -> None:
        """Overwrite codes of a part of the picture, (rows, columns, 3) of uint16 or of float32 0..1, by those exposed.

        A pixel takes part by its own saturation, so that greys and skin beside strong colours stay; no code is
        pushed past 1; nothing dark takes part, where noise counts as saturated.
        """
        rows, columns, _ = codes.shape
        step = max(1, _BAND * max(1, thread_count() // 2) // columns)
        for first in range(0, rows, step):
            band = codes[first : first + step]
            begin, end = (min(max(c - left, 0), columns) for c in self._at_work(top + first, len(band)))
            begin -= begin % _LANES
            end = -(-end // _LANES) * _LANES
            if begin >= end:
                continue
            if end <= columns:
                self._expose(band[:, begin:end], top + first, left + begin)
            else:
                wider = np.empty((len(band), end - begin, 3), band.dtype)
                wider[:, : columns - begin], wider[:, columns - begin :] = band[:, begin:], band[:, -1:]
                self._expose(wider, top + first, left + begin)
                band[:, begin:] = wider[:, : columns - begin]

    def _at_work(self, top: int, rows: int) -> tuple[int, int]:
        """Between which columns of the picture anything changes in these rows; none where they are equal."""
        lines, _ = self._between
        begin, end = self._some[:, lines[top] : lines[top + rows - 1] + 2]
        return int(begin.min()), int(end.max())

    @classmethod
    def nothing(cls, height: int, width: int, codes: Array | None = None) -> Field:
        """A field that changes nothing."""
        return cls(np.zeros((1, 1, 4), np.float32), height, width, CodeCurve(0, 1, 0, 1, 0, 1, 0, 1, (0, 0, 0)), codes)

    def over(self, height: int, width: int) -> Field:
        """The same over a reduced copy of the picture."""
        return replace(self, height=height, width=width)

    @cached_property
    def _some(self) -> NDArray[np.intp]:
        """From which column of the picture to which each line of the maps changes anything, (2, lines)."""
        some, count = np.asarray(self.maps.any(axis=2)), self.maps.shape[1]
        first, last = some.argmax(axis=1), count - some[:, ::-1].argmax(axis=1)
        ends = np.stack([first - 1, last + 1]) * (self.width / count)
        return np.where(some.any(axis=1), ends, ((self.width,), (0,))).astype(np.intp)

    def _expose(self, band: NDArray[Any], top: int, left: int) -> None:
        """The same in place, by OpenCV, in memory that each thread keeps: new pages would make threads wait."""
        import cv2

        rows, columns, _ = band.shape
        curve, work = self.curve, _Work.of(rows, columns)
        whole = band.dtype == np.uint16
        full = 65535.0 if whole else 1.0
        low, high = (np.float32(c) for c in curve.change(LIGHT))
        offset = curve.offset * full
        planes, (most, taken, other), laid = work.planes, work.rest, work.laid
        stored = list(work.stored if whole else planes)
        held = min(columns, self.width - left)
        self.laid(top, left, laid[:, :, :held], full)
        laid[:, :, held:] = laid[:, :, held - 1 : held]
        share = laid[3]
        cv2.split(band, stored)
        if whole:
            np.copyto(planes, work.stored)
        np.max(planes, axis=0, out=most)
        np.min(planes, axis=0, out=taken)
        for slope, plane in zip(laid, planes, strict=False):
            cv2.accumulateProduct(slope, plane, share)
        np.clip(share, low, high, out=share)
        # how far pixels take part: saturation, darkness, whiteness
        cv2.max(most, 1e-6 * full, dst=most)
        cv2.divide(taken, most, dst=taken, scale=-1 / curve.wide)
        np.add(taken, np.float32((1 - curve.start) / curve.wide), out=taken)
        cv2.addWeighted(most, 1 / (curve.dusk * full), most, 0, -curve.dark / curve.dusk, dst=other)
        cv2.min(taken, other, dst=taken)
        red, green, blue = (-part / (curve.dawn * full) for part in curve.luma)
        cv2.addWeighted(planes[0], red, planes[1], green, 1 + curve.white / curve.dawn, dst=other)
        cv2.scaleAdd(planes[2], blue, other, dst=other)
        cv2.min(taken, other, dst=taken)
        np.clip(taken, np.float32(0), np.float32(1), out=taken)
        np.multiply(share, taken, out=share)
        np.add(share, np.float32(1), out=share)
        np.add(most, np.float32(offset), out=other)
        np.divide(np.float32(full + offset), other, out=other)  # more would push a code past 1
        cv2.min(share, other, dst=share)
        cv2.addWeighted(share, offset, share, 0, -offset, dst=other)
        np.multiply(planes, share, out=planes)
        for plane, codes in zip(planes, stored, strict=True):
            cv2.add(plane, other, dst=codes, dtype=cv2.CV_16U if whole else cv2.CV_32F)
        cv2.merge(stored, band)


class _Work(local):
    """Planes to work in, kept by each thread."""

    shape: tuple[int, int] = (0, 0)
    lines: tuple[tuple[int, int, float], Array, Array] | None = None

    @classmethod
    def of(cls, rows: int, columns: int) -> _Work:
        """Those of a shape."""
        if _work.shape != (rows, columns):
            _work.shape = rows, columns
            _work.planes, _work.rest = (np.empty((3, rows, columns), np.float32) for _ in range(2))
            _work.stored = np.empty((3, rows, columns), np.uint16)
            _work.laid = np.empty((4, rows, columns), np.float32)
        return _work

    planes: Array
    rest: Array
    stored: NDArray[np.uint16]
    laid: Array


_work = _Work()


def make_field(chain: Chain, codes: Array, height: int, width: int) -> Field:
    """The field of a picture, as the steps of a chain ask for it; `codes` are the picture read `small`."""
    light = wanted(chain, codes)
    curve = CodeCurve.of(chain.profile)
    share = np.round(curve.change(np.clip(light, *LIGHT)), 4)  # or processors would differ in the last digit
    if np.abs(share).max() < _NOTHING:
        return Field.nothing(height, width, codes)
    return Field(_evened(codes, share), height, width, curve, codes)


def wanted(chain: Chain, codes: Array) -> Array:
    """By what factors steps ask to expose a small picture, (rows, columns), as light of the edit."""
    lab = asked = chain.small_to_print(codes)
    out = np.ones(codes.shape[:2], np.float32)
    steps = list(chain.steps)
    asking = [k for k, step in enumerate(steps) if type(step).field is not Adjustment.field]
    for step in steps[: asking[-1] + 1 if asking else 0]:
        with blaming(step):
            factor = step.field(lab, chain.on)
        if factor is not None:
            out = out * factor
        if step is not steps[asking[-1]]:
            lab = Steps((step,))(lab, chain.on)
    # what is asked for is a factor of light on the print, where black point compensation has added the paper's black
    light = luminance_from_lightness(np.maximum(asked[..., 0], 0))
    black = luminance_from_lightness(np.float32(chain.on.black))
    return np.asarray(1 + (out - 1) * light / np.maximum(light - black, 1e-3), np.float32)


def _evened(codes: Array, share: Array) -> Array:
    """A guided filter's coefficients (He, Sun, Tang, IEEE TPAMI 35(6), 2013): `share` as a local function of codes."""
    import cv2

    radius = max(1, round(_RADIUS * max(share.shape)))

    def mean(plane: NDArray[np.floating]) -> NDArray[np.float64]:
        wide = 2 * radius + 1
        return np.asarray(cv2.blur(plane.astype(np.float64), (wide, wide), borderType=cv2.BORDER_REFLECT))

    middle, average = mean(codes).reshape(codes.shape), mean(share)
    spread = np.empty((*share.shape, 3, 3))
    for i in range(3):
        for j in range(i, 3):
            spread[..., i, j] = mean(codes[..., i] * codes[..., j]) - middle[..., i] * middle[..., j]
            spread[..., j, i] = spread[..., i, j]
    together = mean(codes * share[..., None]).reshape(codes.shape) - middle * average[..., None]
    slopes = np.linalg.solve(spread + _EVEN * np.eye(3), together[..., None])[..., 0]
    maps = np.concatenate([slopes, (average - np.einsum("rck,rck->rc", slopes, middle))[..., None]], axis=-1)
    maps = np.stack([mean(maps[..., k]) for k in range(4)], axis=-1)
    near = cv2.dilate((np.abs(share) > _NOTHING).astype(np.uint8), np.ones((4 * radius + 1,) * 2, np.uint8))
    maps[near.reshape(share.shape) == 0] = 0
    return maps.astype(np.float32)
