"""Steps that look around at lightness alone, on codes as they are read: the same pixels wherever bands are cut."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._lightness import UNITS, LightnessStep
from printprep.colour.icc import lab_from_device
from printprep.photo.pixels import Through
from printprep.render.chain import Chain

_NARROW = 8
"""Columns below which OpenCV might take a picture for a number."""


@dataclass(frozen=True)
class Scale:
    """Lightness of a profile's greys, and back.

    Parameters
    ----------
    light : (65536,) ndarray of uint16
        Print-referred L* times `UNITS` of each grey code.
    codes : (65536,) ndarray of int32
        Grey code of each lightness.
    """

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

    All three channels get what a grey of their luma (weights of ITU-R BT.601) would get: edges gain no colour.

    Parameters
    ----------
    inner : Pixels
        The picture, handed-over codes.
    chain : Chain
        What made them.
    steps : tuple of LightnessStep
        What is done, in order.
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

        first, last = max(0, top - self.reach), min(self.height, top + len(out) + self.reach)
        band = np.empty((last - first, self.width, 3), np.uint16)
        self.inner.read(first, band)
        grey = np.asarray(cv2.cvtColor(band, cv2.COLOR_RGB2GRAY)).reshape(band.shape[:2])
        light = made = self._scale.light.take(grey)
        for step in self.steps:
            made = step.lightness(made, self.chain.on)
        inside = slice(top - first, top - first + len(out))
        change = self._scale.codes.take(made[inside]) - self._scale.codes.take(light[inside])
        if self.width < _NARROW:
            out[:] = np.clip(band[inside] + change[..., None], 0, 65535)
            return
        brighter, darker = (
            cv2.cvtColor(np.maximum(part, 0).astype(np.uint16), cv2.COLOR_GRAY2RGB) for part in (change, -change)
        )
        cv2.add(band[inside], brighter, dst=out)
        cv2.subtract(out, darker, dst=out)
