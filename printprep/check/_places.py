"""The hardest places of a picture, cut out pixel by pixel: the edit, left alone and prepared."""

from __future__ import annotations

from typing import Any

import numpy as np

from printprep.check._maps import lost
from printprep.check.loss import PARTS, ninths
from printprep.check.proof import edit_picture, print_picture
from printprep.check.sampled import Sample
from printprep.conditions.layout import Box
from printprep.files.png import data_uri
from printprep.page.pictures import jpeg
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


def places(photo: Photo, part: Box, taken: Sample, whole: Field, names: list[str]) -> list[dict[str, Any]]:
    """Where most is lost, the worst first, as a page shows it; one in each part of the picture at most.

    Parameters
    ----------
    photo : Photo
        The edit.
    part : (left, top, width, height), pixels
        What of it is printed.
    taken : Sample
        Of that.
    whole : Field
        Of the photo.
    names : list of str
        Parts of the picture to choose from.
    """
    import cv2

    (rows, columns), (first, above, width, height), sim = taken.size, part, taken.sim
    wide, high = min(WIDE, width), min(HIGH, height)
    loss = np.maximum.reduce([np.clip(v, 0, 1) for each in taken.prints for v in lost(taken, each).values()])
    window = (max(1, round(wide * columns / width)), max(1, round(high * rows / height)))
    # what is lost in an even area shows less than what is lost of something
    L = np.ascontiguousarray(taken.shown.edit[..., 0], np.float32)
    relief = np.abs(L - cv2.GaussianBlur(L, (0, 0), 2).reshape(L.shape))
    loss *= _EVEN + np.minimum(relief / _RELIEF, 1)
    mean = np.asarray(cv2.blur(loss, window, borderType=cv2.BORDER_REFLECT)).reshape(loss.shape)
    found = []
    for name, at in zip(PARTS, ninths(mean.shape), strict=True):
        piece = mean[at]
        if name in names and piece.size and piece.max() >= _WORTH:
            row, column = divmod(int(np.argmax(piece)), piece.shape[1])
            found.append((float(piece.max()), at[0].start + row, at[1].start + column, name))
    found.sort(key=lambda each: -each[0])
    over = whole.over(photo.height, photo.width)
    corners, out = list[tuple[int, int]](), list[dict[str, Any]]()
    for _, row, column, name in found:
        top = above + int(np.clip(round((row + 0.5) * height / rows - high / 2), 0, height - high))
        left = first + int(np.clip(round((column + 0.5) * width / columns - wide / 2), 0, width - wide))
        # the same thing may lie in two parts
        near = any(abs(y - top) < 0.75 * high and abs(x - left) < 0.75 * wide for y, x in corners)
        if near or len(out) == MOST:
            continue
        corners.append((top, left))
        codes = np.ascontiguousarray(photo.rows(top, top + high)[:, left : left + wide])
        placed = codes.copy()
        over.expose(placed, top, left)
        pictures = (
            edit_picture(codes, sim),
            print_picture(codes, "plain", sim, light=True),
            print_picture(placed, "placed", sim, light=True),
        )
        key, shown = name.replace(" ", "-"), [data_uri(jpeg(picture, 92), "jpeg") for picture in pictures]
        out.append({"name": name, "key": key, "pictures": shown, "wide": wide, "high": high})
    return out
