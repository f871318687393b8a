"""The resolution that a file states, where it makes sense."""

from __future__ import annotations

import numpy as np

from printprep.photo.resolution import DEFAULT_RESOLUTION, Resolution
from printprep.photo.tiff.directory import Damaged
from printprep.photo.tiff.storage import Reader

_X, _Y, _UNIT = 282, 283, 296
_PER_INCH = {2: 1.0, 3: 2.54}
_SENSIBLE = (1.0, 100_000.0)  # pixels per inch: a poster seen from across a square to a microscope slide
_SAME = 0.005  # relative difference of the axes that rounding may cause


def resolution(tags: Reader, said: list[str]) -> Resolution:
    """The resolution of a picture; refused if the two axes differ, as then the pixels are not square.

    `said` gets a sentence where another value is used than the file states.
    """
    x, y = _ratio(tags, _X), _ratio(tags, _Y)
    unit = tags.container.single(tags.directory.slots.get(_UNIT), absent=2, damaged=0)
    factor = _PER_INCH.get(unit, 0.0)
    values = [v[0] / v[1] * factor for v in (x, y) if v and v[1]]
    if not values or not all(_SENSIBLE[0] <= v <= _SENSIBLE[1] for v in values):
        said.append(f"states no usable resolution; {DEFAULT_RESOLUTION.ppi:g} pixels per inch is used")
        return DEFAULT_RESOLUTION
    if max(values) > min(values) * (1 + _SAME):
        raise tags.refuse(
            f"has different resolutions across and down ({values[0]:g} and {values[1]:g} pixels per inch)",
            "set one resolution",
        )
    stored = x if x and x[1] else y
    return Resolution(values[0], (*stored, unit) if stored else None)


def _ratio(tags: Reader, tag: int) -> tuple[int, int] | None:
    slot = tags.directory.slots.get(tag)
    if slot is None or slot.kind != 5 or slot.count != 1:
        return None
    try:
        pair = np.frombuffer(tags.container.bytes_of(slot), tags.container.order + "u4")
    except Damaged:
        return None
    return int(pair[0]), int(pair[1])
