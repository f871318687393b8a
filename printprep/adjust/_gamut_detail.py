"""The spatial part of gamut-fit: texture that fitting colour by colour flattens is given back.

Fitted one by one, the pixels of a petal are pushed towards the same place and its texture is flattened. So
lightness and chroma give way a little for the sake of the neighbours. How much is a matter of the neighbourhood:
for each cell of 4 x 4 pixels, what is seen of its surroundings (`_gamut_look`) leads to a few gains, one for each of
lightness and chroma asked for and of what fitting added to them; a pixel's change is what it differs from its
surroundings in these, times the gains. So a pixel costs a few multiplications, and what is learnt is looked up once
for sixteen. How 24 numbers lead to 26 was found by descent over photographs and papers, towards less CIEDE2000 and
more gradients and structure kept, without halos at step edges (`benchmarks/gamut_train.py` does it again): two
layers of 24 sums, each bent at zero; the numbers are in `_gamut_detail.txt`. Whatever they say, hue is held, changes
are bounded, lightness stays in the range found nearby but for what texture hides, and nothing happens where the
neighbourhood as a whole asks for no more than the paper holds.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Box, Planes
from printprep.adjust._blocks import at_pixels
from printprep.adjust._gamut_look import CELL, CHROMA, FADE, Sight, look, textured, weight_of_chroma

Array = NDArray[np.float32]

MOST_LIFT, FLAT_LIFT = np.float32(4.0), np.float32(1.0)
"""Largest change of lightness, Oklab times 100, and the largest beside what is flat; texture adds to that."""

MOST_TAKEN, MORE_TAKEN, MOST_GIVEN = np.float32(0.04), np.float32(0.1), np.float32(0.03)
"""Largest share of chroma that is taken, by how much that grows with texture, and the largest share given."""

OVER = np.float32(0.55)
"""How far lightness may leave the range it has nearby beside what is flat, Oklab times 100: halos are under 1 L*."""

MOST_HIDDEN = np.float32(6.0)
"""How much further lightness may go at most where texture hides it."""

SEEN = np.float32(0.4)
"""What a pixel must have lost itself to take part in full."""

_SURE = np.float32(0.5)
"""How far outside the mean colour of a block must lie for it to take part in full, as a weighted difference."""

_ROUNDING = np.float32(0.05)
"""What may come from tables' interpolation."""

_ROWS = 32
"""Rows whose pixels are worked out together: their planes stay in the processor's cache."""

_AT_ONCE = 1536
"""Cells whose sums are taken together: few enough for the processor's cache, and for one thread to do it."""

BENT = np.float32(0.1)
"""What sums below zero are multiplied with."""

Layers = list[tuple[Array, Array]]
"""Weights (sums, inputs) and offsets (sums, 1), from features to gains."""


def weigh(off: Array, C: Array, most: Array) -> Array:
    """How far blocks take part, 0..1: not at all where their mean colour lies in the gamut.

    Parameters
    ----------
    off : (n,) ndarray
        By how much blocks are lighter than white or darker than black, Oklab times 100.
    C, most : (n,) ndarray
        Their chroma, and the largest that the gamut holds there.
    """
    over = np.maximum(C - most, 0)
    over *= CHROMA / (1 + FADE * C)
    over += off
    over -= _ROUNDING
    return np.asarray(np.clip(over / _SURE, 0, 1), np.float32)


def mend(asked: Planes, fitted: Planes, weight: Array, inner: Box) -> Planes:
    """Fitted colours with texture given back; hue is held.

    Parameters
    ----------
    asked, fitted : three (height, width) ndarray
        Oklab times 100, before and after fitting colour by colour; they begin where a cell of the picture does.
    weight : (rows, columns) ndarray
        How far the pixels of `inner` take part, 0..1.
    inner : two slices
        Which part is wanted.

    Returns
    -------
    three (rows, columns) ndarray
        Oklab times 100; may lie outside the gamut by what was given back.
    """
    planes = asked[0], _chroma(asked), fitted[0], _chroma(fitted)
    (top, bottom, _), (left, right, _) = (part.indices(size) for part, size in zip(inner, asked[0].shape, strict=True))
    above, beside = (max(0, edge // CELL - 1) for edge in (top, left))
    sight = look(*planes, (slice(above, -(-bottom // CELL) + 1), slice(beside, -(-right // CELL) + 1)))
    found, limits = gains(sight, kept()), bounds(sight)
    lightness, x, y = (np.empty(weight.shape, np.float32) for _ in range(3))
    for start in range(top, bottom, _ROWS):
        end = min(start + _ROWS, bottom)
        part, place = (slice(start, end), inner[1]), slice(start - top, end - top)
        laid = partial(
            at_pixels, top=start - above * CELL, rows=end - start, left=left - beside * CELL, columns=right - left
        )
        lightness[place], change = _changed([plane[part] for plane in planes], weight[place], found, limits, laid)
        np.multiply(fitted[1][part], change, out=x[place])
        np.multiply(fitted[2][part], change, out=y[place])
    return lightness, x, y


def _changed(
    planes: list[Array], weight: Array, found: Array, limits: tuple[Array, ...], laid: Callable[[Array], Array]
) -> tuple[Array, Array]:
    """Lightness, and what chroma is multiplied with, of some rows; cells are `laid` over their pixels."""
    import cv2

    L, C, new_L, new_C = planes
    added_L, added_C = cv2.subtract(new_L, L), cv2.subtract(new_C, C)
    lift, change = (_summed(laid, gains, (L, C, added_L, added_C)) for gains in found)
    low, high, most, least = (laid(plane) for plane in limits)
    share = share_of(added_L, added_C, weight_of_chroma(new_C))
    share *= weight
    np.minimum(lift, most, out=lift)
    np.maximum(lift, -most, out=lift)
    lift *= share
    lift += new_L
    np.maximum(change, least, out=change)
    np.minimum(change, MOST_GIVEN, out=change)
    change *= share
    change += 1
    return np.asarray(cv2.min(cv2.max(lift, low), high)), change


def gains(sight: Sight, layers: Layers) -> Array:
    """What pixels are multiplied with, cell by cell.

    Parameters
    ----------
    sight : Sight
    layers : list of pairs of ndarray
        As `kept` has them.

    Returns
    -------
    (2, 5, rows, columns) ndarray
        For the change of lightness and for the share of chroma: gains of lightness, of chroma, and of what fitting
        added to each; then what is added. Each gain is the sum of three, one for each of `Sight.means` that the
        pixel is compared with.
    """
    features, means = sight.features, sight.means
    flat = features.reshape(len(features), -1)
    found = np.empty((len(layers[-1][0]), flat.shape[1]), np.float32)
    for start in range(0, flat.shape[1], _AT_ONCE):
        sums = flat[:, start : start + _AT_ONCE]
        for weights, offsets in layers[:-1]:
            sums = weights @ sums
            sums += offsets
            sums = np.maximum(sums, BENT * sums)
        weights, offsets = layers[-1]
        found[:, start : start + _AT_ONCE] = weights @ sums + offsets
    found = found.reshape(2, -1, *means.shape[2:])
    each = found[:, :-1].reshape(2, *means.shape)
    out = np.empty((2, means.shape[1] + 1, *means.shape[2:]), np.float32)
    each.sum(axis=1, out=out[:, :-1])
    np.subtract(found[:, -1], (each * means).sum(axis=(1, 2)), out=out[:, -1])
    return out


def bounds(sight: Sight) -> tuple[Array, Array, Array, Array]:
    """The range in which lightness must stay, how far it may move, and the least change of chroma, cell by cell."""
    hidden = OVER + np.minimum(sight.texture, MOST_HIDDEN)
    most = np.minimum(FLAT_LIFT + sight.texture, MOST_LIFT)
    return sight.low - hidden, sight.high + hidden, most, -MOST_TAKEN - MORE_TAKEN * textured(sight.texture)


def _summed(laid: Callable[[Array], Array], gains: Array, planes: tuple[Array, ...]) -> Array:
    """A change of pixels, from gains of cells."""
    import cv2

    out = np.ascontiguousarray(laid(gains[-1]))
    for gain, plane in zip(gains[:-1], planes, strict=True):
        cv2.accumulateProduct(laid(gain), plane, out)
    return out


def _chroma(colours: Planes) -> Array:
    import cv2

    return np.asarray(cv2.magnitude(colours[1], colours[2]))


def share_of(added_L: Array, added_C: Array, counts: Array) -> Array:
    """How much pixels have lost themselves, 0..1."""
    share = np.abs(added_C)
    share *= counts
    share += np.abs(added_L)
    share *= 1 / SEEN
    return np.asarray(np.minimum(share, 1, out=share))


@cache
def kept() -> Layers:
    """The numbers of `_gamut_detail.txt`: a block of lines for each layer, a line for each sum, its offset last."""
    blocks = Path(__file__).with_suffix(".txt").read_text().split("\n\n")
    tables = [np.loadtxt(block.splitlines(), np.float32, ndmin=2) for block in blocks]
    return [(np.ascontiguousarray(table[:, :-1]), np.ascontiguousarray(table[:, -1:])) for table in tables]
