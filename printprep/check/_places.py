"""The hardest places of a picture, cut out pixel by pixel: the edit, left alone and prepared."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from printprep.check._maps import lost
from printprep.check._regions import NAMES, ninths
from printprep.check._tone import Tones
from printprep.check.proof import edit_picture, print_picture
from printprep.check.simulate import Shown, Simulation
from printprep.conditions.layout import Box
from printprep.photo.photo import Photo
from printprep.render.field import Field

WIDE, HIGH = 330, 248
"""Pixels of a piece: three of them stand beside each other on a page."""

MOST = 3
"""Places shown, at most."""

_WORTH = 0.001
"""Mean loss in a piece, as a share of the scale, under which there is nothing to see in it."""

_EVEN, _RELIEF = 0.1, 2.0
"""What loss counts where the edit is even, and L* of relief from which it counts in full (our choice)."""


@dataclass(frozen=True)
class Place:
    """A piece of the picture where much is lost.

    Parameters
    ----------
    name : str
        The part of the picture it lies in, such as "lower left".
    pictures : tuple of (rows, columns, 3) ndarray of uint8
        The edit, the print left alone, and prepared; a pixel of the file to one of the screen.
    left, top : int, pixels
        Its upper left corner.
    """

    name: str
    pictures: tuple[NDArray[np.uint8], ...] = field(repr=False)
    left: int
    top: int


def places(
    photo: Photo, part: Box, shown: Shown, tones: tuple[Tones, Tones], edit: Tones, sim: Simulation, whole: Field,
    names: list[str],
) -> list[Place]:
    """Where most is lost, the worst first; one in each part of the picture at most.

    Parameters
    ----------
    photo : Photo
        The edit.
    part : (left, top, width, height), pixels
        What of it is printed.
    shown : Shown
        Colours of a sample of that, (rows, columns, 3).
    tones : tuple of Tones
        Of the print left alone, and prepared.
    edit : Tones
        Of the edit.
    sim : Simulation
        Paper and room.
    whole : Field
        Of the photo.
    names : list of str
        Parts of the picture to choose from.
    """  # fmt: skip
    import cv2

    (rows, columns), (first, above, width, height) = shown.edit.shape[:2], part
    wide, high = min(WIDE, width), min(HIGH, height)
    loss = np.zeros((rows, columns), np.float32)
    for got, each in zip((shown.plain, shown.ready), tones, strict=True):
        loss = np.maximum.reduce([loss, *(np.clip(v, 0, 1) for v in lost(shown, got, each, edit, sim).values())])
    window = (max(1, round(wide * columns / width)), max(1, round(high * rows / height)))
    # what is lost in an even area shows less than what is lost of something
    L = np.ascontiguousarray(shown.edit[..., 0], np.float32)
    relief = np.abs(L - cv2.GaussianBlur(L, (0, 0), 2).reshape(L.shape))
    loss *= _EVEN + np.minimum(relief / _RELIEF, 1)
    mean = np.asarray(cv2.blur(loss, window, borderType=cv2.BORDER_REFLECT)).reshape(loss.shape)
    found = []
    for name, at in zip(NAMES, ninths(mean.shape), strict=True):
        piece = mean[at]
        if name in names and piece.size and piece.max() >= _WORTH:
            row, column = divmod(int(np.argmax(piece)), piece.shape[1])
            found.append((float(piece.max()), at[0].start + row, at[1].start + column, name))
    found.sort(key=lambda each: -each[0])
    over = whole.over(photo.height, photo.width)
    out = list[Place]()
    for _, row, column, name in found:
        top = above + int(np.clip(round((row + 0.5) * height / rows - high / 2), 0, height - high))
        left = first + int(np.clip(round((column + 0.5) * width / columns - wide / 2), 0, width - wide))
        near = [each for each in out if abs(each.top - top) < 0.75 * high and abs(each.left - left) < 0.75 * wide]
        if near or len(out) == MOST:  # the same thing may lie in two parts
            continue
        band = np.empty((high, photo.width, 3), np.uint16)
        photo.pixels.read(top, band)
        codes = np.ascontiguousarray(band[:, left : left + wide])
        placed = codes.copy()
        over.expose(placed, top, left)
        pictures = (
            edit_picture(codes, sim),
            print_picture(codes, "plain", sim, light=True),
            print_picture(placed, "placed", sim, light=True),
        )
        out.append(Place(name, pictures, left, top))
    return out
