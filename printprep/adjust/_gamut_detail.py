"""The spatial part of gamut-fit: texture that fitting colour by colour flattens is given back.

Fitted one by one, the pixels of a petal are pushed towards the same place and its texture is flattened.
So what each pixel lost is compared with what its neighbours lost: those that lost less give way a little,
in chroma, and where contrast still is missing the lightness that the edit had there counts for more. All
of it is bounded, by the lightness found nearby among others, so that no edge gets a halo; and it happens
only where the neighbourhood as a whole asks for more than the paper holds. The constants were found by
descent over photographs and papers, towards less CIEDE2000 and more gradients and structure kept, and
rounded.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Planes

Array = NDArray[np.float32]

_CHROMA, _FADE = np.float32(3.2), np.float32(0.144)
"""Chroma against lightness: a difference of chroma counts `_CHROMA` times near grey (C* of one unit of Oklab,
about) and fades with chroma C by 1 + `_FADE` C, as S_C of CIEDE2000 does (1 + 0.045 C*, CIE 142:2001)."""

_RADIUS = 4
"""Pixels on each side that texture is told from."""

_NEAR = 1
"""Pixels on each side over which contrast is measured."""

_BROAD, _FINE, _BORN = np.float32(0.105), np.float32(0.085), np.float32(0.033)
"""Share of chroma given way, for each unit of weighted chroma that a pixel lost less than its surroundings (those
of `_RADIUS`, those of `_NEAR`), and that it was born with less than its nearest: the others cannot gain."""

_MOST_DROP = np.float32(0.055)
"""Share of chroma given way at most."""

_GAIN, _MOST_GAIN, _EVER = np.float32(0.8), np.float32(4.4), np.float32(0.04)
"""How lightness counts for more with the share of contrast that is missing, how far that share counts, and by how
much it does where none is."""

_MOST_LIFT = np.float32(1.0)
"""Largest change of lightness, Oklab times 100."""

_OVER = np.float32(0.7)
"""How far lightness may leave the range that it has nearby (within `_RADIUS`), Oklab times 100: what is darkest and
lightest on both sides of an edge stays, but for this, so that halos are under 1 L*; texture has more room."""

_WINDOW = np.ones((2 * _RADIUS + 1, 2 * _RADIUS + 1), np.uint8)

_AGREED = np.float32(4.0)
"""How far the edit's lightness counts, times what fitting left of it: not at all where fitting turned light and dark
round, since then nothing would keep halos small."""

_SEEN = np.float32(0.3)
"""What a pixel must have lost itself to take part in full."""

_SURE = np.float32(0.3)
"""What a block must lose on average to take part in full."""

_FAINT = np.float32(0.1)
"""Contrast that is hardly seen: what is missing counts less beside it."""

_ROUNDING = np.float32(0.05)
"""Losses below this may come from tables' interpolation."""

AROUND = 2
"""Blocks that a pixel's result depends on, on each side."""

MARGIN = _RADIUS + _NEAR
"""Pixels that `mend` looks at, on each side."""


def weigh(asked: Planes, fitted: Planes, bent: float) -> Array:
    """How far blocks take part, 0..1: not at all where their mean colour lies in the gamut.

    Parameters
    ----------
    asked, fitted : three (rows, columns) ndarray
        Mean colours of blocks, Oklab times 100, and the same fitted.
    bent : float
        Largest share of chroma that colours inside the gamut lose to the knee.
    """
    C = np.hypot(asked[1], asked[2])
    lost = np.maximum(C * np.float32(1 - bent) - np.hypot(fitted[1], fitted[2]), 0)
    lost *= _CHROMA / (1 + _FADE * C)
    lost += np.abs(asked[0] - fitted[0])
    lost -= _ROUNDING
    return np.asarray(np.clip(lost / _SURE, 0, 1), np.float32)


def mend(asked: Planes, fitted: Planes, weight: Array) -> Planes:
    """Fitted colours with texture given back; hue is held.

    Parameters
    ----------
    asked, fitted : three (height, width) ndarray
        Oklab times 100, before and after fitting colour by colour; `fitted` is overwritten.
    weight : (height, width) ndarray
        How far pixels take part, 0..1.

    Returns
    -------
    three (height, width) ndarray
        Oklab times 100; may lie outside the gamut by what was given back.
    """
    import cv2

    # in place: this runs on every pixel of the neighbourhoods that take part
    (L, x, y), (new_L, new_x, new_y) = asked, fitted
    C, new_C = cv2.magnitude(x, y), cv2.magnitude(new_x, new_y)
    fine_L, fine_C, kept_L, kept_C = (cv2.subtract(p, _mean(p, _RADIUS)) for p in (L, C, new_L, new_C))
    counts = _FADE * new_C
    counts += 1
    np.divide(_CHROMA, counts, out=counts)

    share = C - new_C
    share *= counts
    share += cv2.absdiff(L, new_L)
    share *= 1 / _SEEN
    np.clip(share, 0, 1, out=share)
    share *= weight

    drop = _FINE * (C - new_C)
    drop += _BORN * C
    drop -= _mean(drop, _NEAR)
    drop += _BROAD * (fine_C - kept_C)
    drop *= counts
    np.clip(drop, -_MOST_DROP, 0, out=drop)
    drop *= share

    fine_C *= counts
    wanted = cv2.magnitude(fine_L, fine_C)
    kept_C += drop * new_C
    kept_C *= counts
    there = cv2.magnitude(kept_L, kept_C)
    np.minimum(there, wanted, out=there)
    lift, there = _mean(wanted, _NEAR), _mean(there, _NEAR)
    lift -= there
    there += _FAINT
    lift /= there
    np.minimum(lift, _MOST_GAIN, out=lift)
    lift *= _GAIN
    lift += _EVER
    kept_L *= _AGREED
    lift *= np.clip(fine_L, np.minimum(kept_L, 0), np.maximum(kept_L, 0))
    np.clip(lift, -_MOST_LIFT, _MOST_LIFT, out=lift)

    lift *= share
    low, high = cv2.erode(new_L, _WINDOW), cv2.dilate(new_L, _WINDOW)
    low -= _OVER
    high += _OVER
    new_L += lift
    np.clip(new_L, low, high, out=new_L)
    drop += 1
    new_x *= drop
    new_y *= drop
    return new_L, new_x, new_y


def _mean(plane: Array, radius: int) -> Array:
    """Means over squares around each pixel."""
    import cv2

    size = 2 * radius + 1
    return np.asarray(cv2.blur(plane, (size, size), borderType=cv2.BORDER_REPLICATE))
