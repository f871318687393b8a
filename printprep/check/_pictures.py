"""The pictures of a report as they stand in its page: prints, maps of loss and the hardest places, small enough."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.check._judge import VISIBLE, Print
from printprep.check._tone import EDIT_LEVELS
from printprep.check.loss import PARTS, ninths
from printprep.check.rank import THUMBNAIL
from printprep.check.sampled import Sample
from printprep.check.seen import OnScreen
from printprep.colour.difference import ciede2000
from printprep.colour.icc import device_from_lab
from printprep.colour.lab import lab_from_lch
from printprep.colour.profile import Profile
from printprep.conditions.layout import Box
from printprep.files.png import data_uri, png
from printprep.page.pictures import fitted, jpeg, webp
from printprep.photo.photo import Photo
from printprep.render.field import Field

_WIDE, _HIGH = 1056, 800
"""Screen pixels that a large picture takes on a page, at most."""

NEEDED = 4 * _WIDE
"""Longer side, pixels, of a copy of the edit that serves for all of them."""

_BYTES = 700_000
"""Bytes of a large picture: what needs more is embedded in one pixel for each of the screen, not in two."""

PIECE_WIDE, _PIECE_HIGH = 330, 248
"""Pixels of a piece cut out of the picture: three of them stand beside each other on a page."""

_MOST = 3
"""Places shown, at most."""

_WORTH = 0.001
"""Mean loss in a piece, as a share of the scale, under which there is nothing to see in it."""

_EVEN, _RELIEF = 0.1, 2.0
"""What loss counts where the edit is even, and L* of relief from which it counts in full (our choice)."""

# The scale's way through CIELAB: L*, C*, hue angle; from straw over terracotta to a dark plum. Lightness
# falls all the way, so that it reads without colour vision and in a black and white print (our own choice).
_WAY = np.array([[82.0, 44.0, 86.0], [70.0, 48.0, 64.0], [54.0, 52.0, 38.0], [36.0, 46.0, 5.0], [17.0, 30.0, -38.0]])
_STEPS = 256
_COVER = 0.84
"""How far the scale's colour covers the picture underneath: enough of it shines through to find the place."""

_COLOUR_MOST = 10.0
"""End of the scale of colour, which begins at `VISIBLE`, CIEDE2000; that of tones goes from one JND to none."""

_LEAST = 1e-3
"""On a scale, of what is counted; 0 is what is not."""


def pictures(
    photo: Photo, picture: NDArray[np.uint16], part: Box, taken: Sample, names: list[str]
) -> tuple[dict[str, Any], NDArray[np.uint8]]:
    """What the page needs, by name, and a thumbnail of the prepared print.

    `picture` is a copy of the photo, of which `part` is printed; `taken` is a sample of that. `names` are the parts of
    it in which the hardest places are looked for.
    """
    codes = fitted(picture, 2 * _WIDE, 2 * _HIGH)
    exposed, field = codes.copy(), taken.sim.field(codes)
    field.expose(exposed)
    left, top, width, height = part
    across, down = codes.shape[1] / photo.width, codes.shape[0] / photo.height
    cut = np.s_[
        round(top * down) : max(round((top + height) * down), round(top * down) + 1),
        round(left * across) : max(round((left + width) * across), round(left * across) + 1),
    ]
    codes, exposed = np.ascontiguousarray(codes[cut]), np.ascontiguousarray(exposed[cut])
    view = OnScreen(taken.sim, light=True)
    views = [view.edit(codes), view.left_alone(codes), view.prepared(exposed, exposed=True)]
    packed = [jpeg(each, 84) for each in views]
    if max(map(len, packed)) > _BYTES:
        packed = [jpeg(fitted(each, _WIDE, _HIGH), 90) for each in views]
    grey = np.repeat(np.rint(views[0] @ np.array([0.2126, 0.7152, 0.0722]))[..., None], 3, axis=-1).astype(np.uint8)
    missing = [("1", 20.0), ("0.75", 40.0), ("0.5", 60.0), ("0.25", 80.0), ("0", 100.0)]
    thumbnail = OnScreen(taken.sim).prepared(fitted(exposed, THUMBNAIL), exposed=True)
    needed = {
        **dict(zip(("edit", "plain", "ready"), (data_uri(each, "jpeg") for each in packed), strict=True)),
        "wide": codes.shape[1],
        "high": codes.shape[0],
        "sheet": "rgb({} {} {})".format(*view.bare_sheet),
        "small": data_uri(jpeg(fitted(views[0], _WIDE / 2, _HIGH / 2)), "jpeg"),
        "under": data_uri(jpeg(fitted(grey, 0.6 * _WIDE, 0.6 * _HIGH), 80), "jpeg"),
        "maps": [
            {cause: data_uri(webp(picture), "webp") for cause, picture in maps(taken, each).items()}
            for each in taken.prints
        ],
        "scale": data_uri(png(np.repeat(scale()[None], 8, axis=0)), "png"),
        "bars": {
            "colour": [(f"{dE:g}", 100 * dE / _COLOUR_MOST) for dE in (VISIBLE, 4, 6, 8, _COLOUR_MOST)],
            "shadows": missing,
            "highlights": missing,
        },
        "places": _places(photo, part, taken, field, names),
    }
    return needed, thumbnail


# ---------------------------------------------------------------- maps


@cache
def scale() -> NDArray[np.uint8]:
    """The scale's 256 colours, sRGB, from nothing to most; CIEDE2000 between neighbours is the same throughout."""
    fine = np.linspace(0, 1, 4001)
    knots = np.linspace(0, 1, len(_WAY))  # they bend so little that one polynomial through all of them does not swing
    lch = np.stack([np.polyval(np.polyfit(knots, _WAY[:, k], len(_WAY) - 1), fine) for k in range(3)], -1)
    lab = lab_from_lch(lch)
    length = np.concatenate([[0], np.cumsum(ciede2000(lab[:-1], lab[1:]))])
    even = np.interp(np.linspace(0, length[-1], _STEPS), length, fine)
    picked = np.stack([np.interp(even, fine, lab[:, k]) for k in range(3)], -1)
    srgb = device_from_lab(picked, Profile.named("sRGB").data)
    return np.asarray(np.rint(np.clip(srgb, 0, 1) * 255), np.uint8)


def maps(taken: Sample, print_: Print) -> dict[str, NDArray[np.uint8]]:
    """The three causes, each to be laid over the edit, (rows, columns, 4) sRGB and opacity.

    Coloured is exactly what the figures count; the rest is clear.
    """
    found = {}
    for cause, value in _lost(taken, print_).items():
        index = np.rint(np.clip(value, 0, 1) * (_STEPS - 1)).astype(np.intp)
        cover = np.where(value > 0, np.uint8(round(255 * _COVER)), np.uint8(0))[..., None]
        found[cause] = np.concatenate([scale()[index], cover], axis=-1)
    return found


def _lost(taken: Sample, print_: Print) -> dict[str, NDArray[np.float32]]:
    """Loss of colour, shadows and highlights on their scales, (rows, columns); 0 where it is not counted."""
    tones, L = print_.tones, taken.shown.edit[..., 0]
    over = (print_.apart - VISIBLE) / (_COLOUR_MOST - VISIBLE)
    dark = 1 - np.interp(L, EDIT_LEVELS, tones.per_step)  # what is missing to one JND
    light = 1 - np.interp(L, EDIT_LEVELS, tones.count[-1] - tones.count)
    return {
        cause: np.where(getattr(print_, cause), np.maximum(value, _LEAST), 0).astype(np.float32)
        for cause, value in (("colour", over), ("shadows", dark), ("highlights", light))
    }


# ---------------------------------------------------------------- places


def _places(photo: Photo, part: Box, taken: Sample, whole: Field, names: list[str]) -> list[dict[str, Any]]:
    """Where most is lost, the worst first, cut out pixel by pixel: the edit, left alone and prepared.

    `part` of the photo is printed, and `taken` is a sample of that; `whole` is the field of the photo. From each of the
    parts of the picture in `names` comes one piece at most.
    """
    import cv2

    (rows, columns), (first, above, width, height) = taken.size, part
    wide, high = min(PIECE_WIDE, width), min(_PIECE_HIGH, height)
    loss = np.maximum.reduce([np.clip(v, 0, 1) for each in taken.prints for v in _lost(taken, each).values()])
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
    over, view = whole.over(photo.height, photo.width), OnScreen(taken.sim, light=True)
    corners, out = list[tuple[int, int]](), list[dict[str, Any]]()
    for _, row, column, name in found:
        top = above + int(np.clip(round((row + 0.5) * height / rows - high / 2), 0, height - high))
        left = first + int(np.clip(round((column + 0.5) * width / columns - wide / 2), 0, width - wide))
        # the same thing may lie in two parts
        near = any(abs(y - top) < 0.75 * high and abs(x - left) < 0.75 * wide for y, x in corners)
        if near or len(out) == _MOST:
            continue
        corners.append((top, left))
        codes = np.ascontiguousarray(photo.rows(top, top + high)[:, left : left + wide])
        placed = codes.copy()
        over.expose(placed, top, left)
        seen = view.edit(codes), view.left_alone(codes), view.prepared(placed, exposed=True)
        key, shown = name.replace(" ", "-"), [data_uri(jpeg(picture, 92), "jpeg") for picture in seen]
        out.append({"name": name, "key": key, "pictures": shown, "wide": wide, "high": high})
    return out
