"""Grey pictures: worked on as opRGB, and written grey again where they still are."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from printprep.colour.icc import device_from_device
from printprep.colour.profile import Profile
from printprep.photo.pixels import Pixels, Through

_LOSS = 2
"""Codes of opRGB, of 65536, that a grey profile may leave out at either end and still be written."""


@dataclass(frozen=True)
class Scale:
    """Codes of a grey profile beside those of an RGB space, whose three are equal.

    `rgb`, (65536,), has the RGB code of each grey code; `grey` the grey code nearest to each RGB code, or None where
    the profile does not lead back: its codes do not rise, or not from black to white.
    """

    rgb: NDArray[np.uint16]
    grey: NDArray[np.uint16] | None

    @classmethod
    @lru_cache(maxsize=4)
    def of(cls, profile: Profile, space: Profile | None = None) -> Scale:
        """That of a grey profile, beside an RGB space: opRGB where none is given."""
        rgb = greys_in(space or Profile.named("opRGB"), profile, 65536)
        wide = rgb.astype(np.int64)
        if (np.diff(wide) < 0).any() or wide[0] > _LOSS or wide[-1] < 65535 - _LOSS:
            return cls(rgb, None)
        codes = np.arange(65536)
        above = np.clip(np.searchsorted(wide, codes), 1, 65535)
        below = above - 1
        nearer = np.where(codes - wide[below] < wide[above] - codes, below, above)
        return cls(rgb, nearer.astype(np.uint16))


def greys_in(space: Profile, profile: Profile, count: int) -> NDArray[np.uint16]:
    """Evenly spaced grey values in an RGB space, (count,): by LittleCMS, relative colorimetric, in floating point."""
    rgb = device_from_device(np.linspace(0, 1, count)[:, None], profile.data, space.data)
    return np.asarray(np.rint(np.clip(rgb[:, 1], 0, 1) * 65535), np.uint16)


@dataclass(frozen=True)
class GreyPixels(Through):
    """Neutral pixels of opRGB, or of `space`, that are the greys of a profile and can be written as such."""

    grey: Profile
    space: Profile | None = None

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        """Fill `out` with the rows from `top` on, as they will be read from a grey file."""
        self.inner.read(top, out)
        out[:] = Scale.of(self.grey).rgb.take(grey_codes(out, self.grey, self.space))


def grey_codes(rgb: NDArray[np.uint16], profile: Profile, space: Profile | None = None) -> NDArray[np.uint16]:
    """The codes in a grey profile, (rows, columns, 1), of neutral pixels in an RGB space; opRGB where none is given."""
    scale = Scale.of(profile, space).grey
    assert scale is not None
    return scale.take(rgb[..., 1:2])


def grey_profile_of(pixels: Pixels) -> Profile | None:
    """The profile that pixels can be written grey in; None where they are colour."""
    return getattr(pixels, "grey", None)
