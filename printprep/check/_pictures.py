"""The pictures of a report as they stand in its page: prints, maps and pieces, in as many pixels as are shown."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.check._judge import VISIBLE
from printprep.check._maps import COLOUR_MOST, maps, scale
from printprep.check.proof import bare_sheet, edit_picture, print_picture
from printprep.check.sampled import Sample
from printprep.check.simulate import Simulation
from printprep.conditions.layout import Box
from printprep.files.png import data_uri, png
from printprep.page.pictures import fitted, jpeg, webp
from printprep.photo.photo import Photo
from printprep.render.field import Field

WIDE, HIGH = 1056, 800
"""Screen pixels that a large picture takes on a page, at most."""

_BYTES = 700_000
"""Bytes of a large picture: what needs more is embedded in one pixel for each of the screen, not in two."""


def pair(
    picture: NDArray[np.uint16], photo: Photo, part: Box, sim: Simulation
) -> tuple[NDArray[np.uint16], NDArray[np.uint16], Field]:
    """A copy of what is printed, in two pixels for each that a page shows; the same as its field exposes it; the field.

    Parameters
    ----------
    picture : (rows, columns, 3) ndarray of uint16
        A copy of the edit.
    photo : Photo
        The edit.
    part : (left, top, width, height), pixels
        What of it is printed.
    sim : Simulation
        Paper and room.
    """
    codes = fitted(picture, 2 * WIDE, 2 * HIGH)
    exposed, field = codes.copy(), sim.field(codes)
    field.expose(exposed)
    left, top, width, height = part
    across, down = codes.shape[1] / photo.width, codes.shape[0] / photo.height
    cut = np.s_[
        round(top * down) : max(round((top + height) * down), round(top * down) + 1),
        round(left * across) : max(round((left + width) * across), round(left * across) + 1),
    ]
    return np.ascontiguousarray(codes[cut]), np.ascontiguousarray(exposed[cut]), field


def pictures(codes: NDArray[np.uint16], exposed: NDArray[np.uint16], taken: Sample) -> dict[str, Any]:
    """What the page's large pictures and maps need, by name: of what `pair` makes, and of a sample."""
    sim = taken.sim
    views = [
        edit_picture(codes, sim),
        print_picture(codes, "plain", sim, light=True),
        print_picture(exposed, "placed", sim, light=True),
    ]
    packed = [jpeg(view, 84) for view in views]
    if max(map(len, packed)) > _BYTES:
        packed = [jpeg(fitted(view, WIDE, HIGH), 90) for view in views]
    grey = np.repeat(np.rint(views[0] @ np.array([0.2126, 0.7152, 0.0722]))[..., None], 3, axis=-1).astype(np.uint8)
    missing = [("1", 20.0), ("0.75", 40.0), ("0.5", 60.0), ("0.25", 80.0), ("0", 100.0)]
    return {
        **dict(zip(("edit", "plain", "ready"), (data_uri(each, "jpeg") for each in packed), strict=True)),
        "wide": codes.shape[1],
        "high": codes.shape[0],
        "sheet": "rgb({} {} {})".format(*bare_sheet(sim, light=True)),
        "small": data_uri(jpeg(fitted(views[0], WIDE / 2, HIGH / 2)), "jpeg"),
        "under": data_uri(jpeg(fitted(grey, 0.6 * WIDE, 0.6 * HIGH), 80), "jpeg"),
        "maps": [
            {cause: data_uri(webp(picture), "webp") for cause, picture in maps(taken, each).items()}
            for each in taken.prints
        ],
        "scale": data_uri(png(np.repeat(scale()[None], 8, axis=0)), "png"),
        "bars": {
            "colour": [(f"{dE:g}", 100 * dE / COLOUR_MOST) for dE in (VISIBLE, 4, 6, 8, COLOUR_MOST)],
            "shadows": missing,
            "highlights": missing,
        },
    }
