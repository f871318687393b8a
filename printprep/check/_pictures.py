"""The pictures of a report as they stand in its page: prints, maps and pieces, in as many pixels as are shown."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.check._maps import COLOUR_MOST, STEPS_MOST, Maps, maps, scale
from printprep.check._places import places
from printprep.check._tone import Tones
from printprep.check.proof import bare_sheet, edit_picture, print_picture
from printprep.check.simulate import Shown, Simulation
from printprep.files.png import data_uri, png
from printprep.page.pictures import jpeg, webp
from printprep.photo.photo import Photo

WIDE, HIGH = 1056, 800
"""Screen pixels that a large picture takes on a page, at most."""

_BYTES = 700_000
"""Bytes of a large picture: what needs more is embedded in one pixel for each of the screen, not in two."""


def large(picture: NDArray[np.uint16]) -> NDArray[np.uint16]:
    """A copy in two pixels for each that a page shows, each way; as it is where it is smaller."""
    return _within(picture, 2)


def pictures(
    photo: Photo, picture: NDArray[np.uint16], copy: Shown, tones: tuple[Tones, Tones], edit: Tones, sim: Simulation,
    names: list[str],
) -> dict[str, Any]:
    """What the page's pictures need, by name.

    Parameters
    ----------
    photo : Photo
        The edit.
    picture : (rows, columns, 3) ndarray of uint16
        A copy of it, as `large` makes it.
    copy : Shown
        Colours of a smaller copy, (rows, columns, 3), for maps.
    tones : tuple of Tones
        Of the print left alone, and prepared.
    edit : Tones
        Of the edit.
    sim : Simulation
        Paper and room.
    names : list of str
        Parts of the picture that the page has a row for.
    """  # fmt: skip
    views = [
        edit_picture(picture, sim),
        print_picture(picture, "plain", sim, light=True),
        print_picture(picture, "ready", sim, light=True),
    ]
    packed = [jpeg(view, 84) for view in views]
    if max(map(len, packed)) > _BYTES:
        packed = [jpeg(_within(view, 1), 90) for view in views]
    small = _within(views[0], 0.5)
    grey = np.repeat(np.rint(views[0] @ np.array([0.2126, 0.7152, 0.0722]))[..., None], 3, axis=-1).astype(np.uint8)
    return {
        **dict(zip(("edit", "plain", "ready"), (data_uri(each, "jpeg") for each in packed), strict=True)),
        "wide": picture.shape[1],
        "high": picture.shape[0],
        "sheet": "rgb({} {} {})".format(*bare_sheet(sim, light=True)),
        "small": data_uri(jpeg(small), "jpeg"),
        "under": data_uri(jpeg(_within(grey, 0.6), 80), "jpeg"),
        "maps": [_addresses(maps(copy, t, edit, n, sim)) for n, t in zip(("plain", "ready"), tones, strict=True)],
        "map_wide": copy.edit.shape[1],
        "map_high": copy.edit.shape[0],
        "scale": data_uri(png(np.repeat(scale()[None], 8, axis=0)), "png"),
        "bars": {
            "colour": _bar([1, 2, 4, 6, 8, COLOUR_MOST], 0, COLOUR_MOST),
            "shadows": _bar([1, 0.75, 0.5, 0.25, 0], 1.25 * STEPS_MOST, 0),
            "highlights": _bar([1, 0.75, 0.5, 0.25, 0], 1.25 * STEPS_MOST, 0),
        },
        "places": [
            {
                "name": each.name,
                "key": each.name.replace(" ", "-"),
                "pictures": [data_uri(jpeg(p, 92), "jpeg") for p in each.pictures],
                "wide": each.pictures[0].shape[1],
                "high": each.pictures[0].shape[0],
                "at": f"{each.left}, {each.top}",
            }
            for each in places(photo, copy, tones, edit, sim, sim.field(picture), names)
        ],
    }


def _addresses(found: Maps) -> dict[str, str]:
    return {name: data_uri(webp(getattr(found, name)), "webp") for name in ("colour", "shadows", "highlights")}


def _bar(ticks: list[float], first: float, last: float) -> list[tuple[str, float]]:
    """Figures along a bar and where they stand, in percent; the first is where counting starts."""
    return [(f"{tick:g}", 100 * (tick - first) / (last - first)) for tick in ticks]


def _within(picture: NDArray[Any], dense: float) -> NDArray[Any]:
    """A picture reduced to what a page shows, times a density."""
    import cv2

    rows, columns = picture.shape[:2]
    factor = min(dense * WIDE / columns, dense * HIGH / rows)
    if factor >= 1:
        return picture
    size = (max(1, round(columns * factor)), max(1, round(rows * factor)))
    reduced = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return np.asarray(reduced, picture.dtype).reshape(size[1], size[0], 3)
