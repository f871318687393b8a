"""Steps that look around at lightness alone, on codes as they are read: the same pixels wherever bands are cut."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._lightness import AT_ONCE, UNITS, LightnessStep
from printprep.colour.icc import lab_from_device
from printprep.photo.pixels import Through
from printprep.render.chain import Chain

_NARROW = 8
"""Columns below which OpenCV might take a picture for a number."""


@dataclass(frozen=True)
class Scale:
    """Print-referred L* times `UNITS` of each grey code of a profile, and the grey code of each such lightness."""

    light: NDArray[np.uint16]
    codes: NDArray[np.int32]

    @classmethod
    def of(cls, chain: Chain) -> Scale:
        """That of the codes that a chain hands over."""
        codes = np.arange(65536)
        greys = np.repeat(codes[:, None].astype(np.float32) / np.float32(65535), 3, axis=1)
        own = chain.on.hand_over == "paper"  # the paper's own codes
        lab = lab_from_device(greys, chain.out_profile) if own else chain.to_print(greys)
        light = np.maximum.accumulate(np.clip(lab[:, 0].astype(np.float64), 0, 100)) * UNITS
        back = np.interp(np.arange(65536), light, codes)
        return cls(np.rint(light).astype(np.uint16), np.rint(back).astype(np.int32))


@dataclass(frozen=True)
class LightnessPixels(Through):
    """Another picture's pixels, with steps of lightness done to them as they are read.

    All three channels get what a grey of their luma (weights of ITU-R BT.601) would get: edges gain no colour. The
    picture's codes are those that `chain` hands over.
    """

    chain: Chain
    steps: tuple[LightnessStep, ...]

    @cached_property
    def reach(self) -> int:
        """Rows looked at on each side."""
        return sum(step.reach(self.chain.on) for step in self.steps)

    @cached_property
    def _scale(self) -> Scale:
        return Scale.of(self.chain)

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on."""
        import cv2

        bottom, step = top + len(out), self.row_step
        first, last = max(0, top - self.reach), min(self.height, bottom + self.reach)
        # `out` holds the rows meanwhile; what lies beside whole steps of them is read once, with the rows around
        begin = min(bottom, -(-top // step) * step)
        end = max(begin, bottom // step * step)
        grey = np.empty((last - first, self.width), np.uint16)
        for low, high in ((first, begin), (begin, end), (end, last)):
            if low == high:
                continue
            inside = low == begin and high == end
            rows = out[low - top : high - top] if inside else np.empty((high - low, self.width, 3), np.uint16)
            self.inner.read(low, rows)
            if not inside:
                within = slice(max(low, top), min(high, bottom))
                out[within.start - top : within.stop - top] = rows[within.start - low : within.stop - low]
            grey[low - first : high - first] = cv2.cvtColor(rows, cv2.COLOR_RGB2GRAY).reshape(rows.shape[:2])
        light = made = self._scale.light.take(grey)
        del grey  # as large as all that a step works with, and not wanted again
        for each in self.steps:
            made = each.lightness(made, self.chain.on)
        own = slice(top - first, top - first + len(out))
        self._change(out, light[own], made[own])

    def _change(self, out: NDArray[np.uint16], light: NDArray[np.uint16], made: NDArray[np.uint16]) -> None:
        """Give all channels what their grey got: in a few rows at a time, for its arrays are several times as large."""
        import cv2

        codes, rows = self._scale.codes, max(1, AT_ONCE // self.width)
        for top in range(0, len(out), rows):
            part, some = out[top : top + rows], slice(top, top + rows)
            change = codes.take(made[some]) - codes.take(light[some])
            if self.width < _NARROW:
                part[:] = np.clip(part + change[..., None], 0, 65535)
                continue
            brighter, darker = (
                cv2.cvtColor(np.maximum(each, 0).astype(np.uint16), cv2.COLOR_GRAY2RGB) for each in (change, -change)
            )
            cv2.add(part, brighter, dst=part)
            cv2.subtract(part, darker, dst=part)
