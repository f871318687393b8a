"""The spatial part of gamut-fit: texture that fitting colour by colour flattens is given back.

Fitted one by one, the pixels of a petal are pushed towards the same place and its texture is flattened. So
lightness and chroma give way a little for the sake of the neighbours: what each pixel was asked to differ from
its surroundings, and what fitting left of that, over three sizes of surroundings, say how much (`features`).
How these 19 numbers lead to two was found by descent over photographs and papers, towards less CIEDE2000 and more
gradients and structure kept, without halos at step edges (`benchmarks/gamut_train.py` does it again): 16 sums,
each bent at zero, and sums of those for what is flat and for what is textured; the numbers are in
`_gamut_detail.txt`. Whatever they say, hue is held, changes are bounded, lightness stays in the range found nearby
but for what texture hides, and nothing happens where the neighbourhood as a whole asks for no more than the paper
holds.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Box, Planes

Array = NDArray[np.float32]

CHROMA, FADE = np.float32(3.2), np.float32(0.144)
"""Chroma against lightness: a difference of chroma counts `CHROMA` times near grey (C* of one unit of Oklab,
about) and fades with chroma C by 1 + `FADE` C, as S_C of CIEDE2000 does (1 + 0.045 C*, CIE 142:2001)."""

_SURROUNDINGS = ((1, 0), (4, 1), (10, 4))
"""Pixels on each side that a pixel is compared with, and over which contrast is measured there, if it is."""

_FEATURES = 20

MOST_LIFT = np.float32(4.0)
"""Largest change of lightness, Oklab times 100."""

MOST_TAKEN, MORE_TAKEN, MOST_GIVEN = np.float32(0.04), np.float32(0.1), np.float32(0.03)
"""Largest share of chroma that is taken, by how much that grows with texture, and the largest share given."""

_RANGE = 4
"""Pixels on each side in which the range of lightness is looked for."""

OVER = np.float32(0.55)
"""How far lightness may leave the range it has nearby beside what is flat, Oklab times 100: halos are under 1 L*."""

_TEXTURE, _APART = 2, 4
"""Texture counts where it is found in squares of `_TEXTURE` pixels on each side, `_APART` away, all around: beside a
step edge one of them is flat."""

MOST_HIDDEN = 6.0
"""How much further lightness may go at most where texture hides it."""

_SEEN = 0.3
"""What a pixel must have lost itself to take part in full."""

_DONE = np.float32(0.95)
"""Share of the change found that is made: CIEDE2000 0.004 less, detail 0.001, structure the same."""

_SURE = np.float32(0.3)
"""What a block must lose on average to take part in full."""

_ROUNDING = np.float32(0.05)
"""Losses below this may come from tables' interpolation."""

_AT_ONCE = 1280
"""Pixels whose sums are taken together: few enough for the processor's cache, and for one thread to do it."""

AROUND = 2
"""Blocks that a pixel's result depends on, on each side."""

MARGIN = max(size + near for size, near in _SURROUNDINGS)
"""Pixels that `mend` looks at, on each side: the largest surroundings, and contrast over them."""


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
    lost *= CHROMA / (1 + FADE * C)
    lost += np.abs(asked[0] - fitted[0])
    lost -= _ROUNDING
    return np.asarray(np.clip(lost / _SURE, 0, 1), np.float32)


def mend(asked: Planes, fitted: Planes, weight: Array, inner: Box) -> Planes:
    """Fitted colours with texture given back; hue is held.

    Parameters
    ----------
    asked, fitted : three (height, width) ndarray
        Oklab times 100, before and after fitting colour by colour.
    weight : (rows, columns) ndarray
        How far the pixels of `inner` take part, 0..1.
    inner : two slices
        Which part is wanted.

    Returns
    -------
    three (rows, columns) ndarray
        Oklab times 100; may lie outside the gamut by what was given back.
    """
    seen, share, low, high = features(asked, fitted, inner)
    share *= _DONE * weight
    lift, change = _change(seen)
    np.clip(lift, -MOST_LIFT, MOST_LIFT, out=lift)
    lift *= share
    np.clip(change, -MOST_TAKEN - MORE_TAKEN * seen[-2], MOST_GIVEN, out=change)
    change *= share
    change += 1
    L, x, y = (plane[inner] for plane in fitted)
    return np.clip(L + lift, low, high), x * change, y * change


def features(asked: Planes, fitted: Planes, inner: Box) -> tuple[Array, Array, Array, Array]:
    """What is seen of each pixel of `inner` and its surroundings.

    Parameters
    ----------
    asked, fitted : three (height, width) ndarray
        Oklab times 100.
    inner : two slices
        Which part is wanted.

    Returns
    -------
    (20, rows, columns) ndarray
        For each size of surroundings the differences from them that were asked for, in lightness and in weighted
        chroma, and what fitting added to these; for the larger two also the difference of lightness times the share
        of contrast that is missing; for the largest what fitting added to chroma, times the correlation of
        lightness and chroma. Then the weighted chroma lost, the lightness lost, the weight of chroma, and how
        textured it is all around, 0..1; and 1, whose weights are the sums' offsets.
    share : (rows, columns) ndarray
        0..1, how much the pixel lost itself.
    low, high : (rows, columns) ndarray
        The range in which lightness must stay.
    """
    import cv2

    L, new_L = asked[0], fitted[0]
    C, new_C = cv2.magnitude(asked[1], asked[2]), cv2.magnitude(fitted[1], fitted[2])
    less_L, less_C = cv2.subtract(new_L, L), cv2.subtract(new_C, C)
    counts = CHROMA / (1 + FADE * new_C)

    seen = np.empty((_FEATURES, *new_L[inner].shape), np.float32)
    rows = iter(seen)
    for size, near in _SURROUNDINGS:
        wide, within = _widened(inner, size + near, L.shape)
        fine_L, fine_C, more_L, more_C = (
            cv2.subtract(part, _mean(part, size)) for part in (plane[wide] for plane in (L, C, less_L, less_C))
        )
        fine_C *= counts[wide]
        more_C *= counts[wide]
        for plane in (fine_L, fine_C, more_L, more_C):
            next(rows)[:] = plane[within]
        if near:
            next(rows)[:] = _missing(fine_L, fine_C, more_L, more_C, near)[within]
    # of the last and largest
    np.multiply(_agreement(fine_L, fine_C, near)[within], more_C[within], out=next(rows))
    np.multiply(less_C[inner], counts[inner], out=next(rows))
    for plane in (less_L, counts):
        next(rows)[:] = plane[inner]
    wide, within = _widened(inner, _TEXTURE + _APART, L.shape)
    textured = _textured(L[wide], cv2.multiply(C[wide], counts[wide]))[within]
    np.multiply(_at_most(textured, 4), np.float32(1 / 4), out=next(rows))
    next(rows)[:] = 1

    share = cv2.addWeighted(np.abs(seen[-5]), 1 / _SEEN, np.abs(seen[-4]), 1 / _SEEN, 0)
    share = _at_most(share, 1)
    hidden = _at_most(textured, MOST_HIDDEN)
    hidden += OVER
    window = np.ones((2 * _RANGE + 1, 2 * _RANGE + 1), np.uint8)
    wide, within = _widened(inner, _RANGE, L.shape)
    low, high = cv2.erode(new_L[wide], window)[within], cv2.dilate(new_L[wide], window)[within]
    return seen, share, low - hidden, high + hidden


def _widened(inner: Box, by: int, shape: tuple[int, ...]) -> tuple[Box, Box]:
    """A part and what is around it, as far as there is any, and where in that it lies."""
    wide, within = [], []
    for part, whole in zip(inner, shape, strict=True):
        start, stop, _ = part.indices(whole)
        first = max(0, start - by)
        wide.append(slice(first, min(whole, stop + by)))
        within.append(slice(start - first, stop - first))
    return (wide[0], wide[1]), (within[0], within[1])


def _missing(fine_L: Array, fine_C: Array, more_L: Array, more_C: Array, near: int) -> Array:
    """The difference of lightness asked for, times the share of contrast that fitting left out."""
    import cv2

    wanted = cv2.magnitude(fine_L, fine_C)
    there = cv2.magnitude(fine_L + more_L, fine_C + more_C)
    np.minimum(there, wanted, out=there)
    out, there = _mean(wanted, near), _mean(there, near)
    out -= there
    there += np.float32(0.1)  # contrast that is hardly seen counts less
    out /= there
    out = _at_most(out, 3)
    out *= np.clip(fine_L, -3, 3)
    return out


def _agreement(fine_L: Array, fine_C: Array, near: int) -> Array:
    """The correlation of lightness and chroma asked for, -1..1."""
    import cv2

    both = cv2.sqrt(_mean(cv2.multiply(fine_L, fine_L), near) * _mean(cv2.multiply(fine_C, fine_C), near) + 0.01)
    return np.asarray(cv2.divide(_mean(cv2.multiply(fine_L, fine_C), near), both))


def _textured(L: Array, C: Array) -> Array:
    """The least range of lightness and weighted chroma of the squares all around a pixel, each `_APART` away."""
    import cv2

    window = np.ones((2 * _TEXTURE + 1, 2 * _TEXTURE + 1), np.uint8)
    ring = np.zeros((2 * _APART + 1, 2 * _APART + 1), np.uint8)
    ring[::_APART, ::_APART] = 1
    ring[_APART, _APART] = 0
    found = cv2.subtract(cv2.dilate(L, window), cv2.erode(L, window))
    found += cv2.subtract(cv2.dilate(C, window), cv2.erode(C, window))
    return np.asarray(cv2.erode(found, ring, borderType=cv2.BORDER_REPLICATE))


def _change(seen: Array) -> Array:
    """Change of lightness and share of chroma, (2, rows, columns), before they are bounded."""
    import cv2

    into, out = _numbers()
    sums = len(into) - len(out)
    flat = seen.reshape(len(seen), -1)
    four = np.empty((len(out), flat.shape[1]), np.float32)
    for start in range(0, flat.shape[1], _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        every = into @ flat[:, part]
        bent = cv2.threshold(every[:sums], 0, 0, cv2.THRESH_TOZERO)[1]
        np.matmul(out, bent, out=four[:, part])
        four[:, part] += every[sums:]
    four[2:] *= flat[-2]
    return np.asarray(four[:2] + four[2:]).reshape(2, *seen.shape[1:])


@cache
def _numbers() -> tuple[Array, Array]:
    """What is multiplied with `features`, and what the bent sums are multiplied with.

    Each sum s is bent to max(s, 0.1 s) = 0.1 s + 0.9 max(s, 0), and what is straight in that needs no sums between:
    the last four rows hold it.
    """
    into, bias, out, offset = kept()
    into = np.concatenate([into, bias], axis=1)
    tenth = np.float32(0.1)
    straight = tenth * out @ into
    straight[:, -1:] += offset
    return np.concatenate([into, straight]), (1 - tenth) * out


def kept() -> tuple[Array, Array, Array, Array]:
    """The numbers of `_gamut_detail.txt`.

    Returns
    -------
    (16, 19) and (16, 1) ndarray
        Weights and offsets of the sums.
    (4, 16) and (4, 1) ndarray
        Weights and offsets of the change of lightness, of chroma, and of both once more where it is textured.
    """
    table = np.loadtxt(Path(__file__).with_suffix(".txt"), np.float32, ndmin=2)
    sums, last = table[:-1], table[-1]
    return sums[:, :-5], sums[:, -5:-4], sums[:, -4:].T, last[-4:, None]


def _at_most(plane: Array, most: float) -> Array:
    """No more than `most`; numpy's minimum is several times slower where one side is a single number."""
    import cv2

    return np.asarray(cv2.threshold(plane, most, 0, cv2.THRESH_TRUNC)[1])


def _mean(plane: Array, radius: int) -> Array:
    """Means over squares around each pixel."""
    import cv2

    size = 2 * radius + 1
    return np.asarray(cv2.blur(plane, (size, size), borderType=cv2.BORDER_REPLICATE))
