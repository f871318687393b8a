"""Pictures and pages as files."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.arguments import output_path
from printprep.files.names import AnyPath
from printprep.files.sink import Sink


def fitted(picture: NDArray[Any], wide: float, high: float | None = None) -> NDArray[Any]:
    """A picture reduced, by averaging, to so many pixels across and down at most; a smaller one as it is."""
    import cv2

    rows, columns = picture.shape[:2]
    factor = min(wide / columns, (wide if high is None else high) / rows)
    if factor >= 1:
        return picture
    size = (max(1, round(columns * factor)), max(1, round(rows * factor)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), picture.dtype).reshape(*size[::-1], 3)


def jpeg(picture: NDArray[np.uint8], level: int = 90) -> bytes:
    """A JPEG (sRGB, all chroma kept) of (rows, columns, 3) screen values."""
    import imagecodecs

    return bytes(imagecodecs.jpeg_encode(np.ascontiguousarray(picture), level=level, subsampling="444", optimize=True))


def webp(picture: NDArray[np.uint8], level: int = 82) -> bytes:
    """A WebP of (rows, columns, 4) screen values and opacity: what lies over something else on a page."""
    import imagecodecs

    return bytes(imagecodecs.webp_encode(np.ascontiguousarray(picture), level=level))


def save(
    path: AnyPath, data: bytes, endings: tuple[str, ...], *, overwrite: bool = False, source: AnyPath | None = None
) -> None:
    """Write a file whole or not at all; see `printprep.files.sink.Sink` for what is refused."""
    with Sink(output_path(path), source, overwrite=overwrite, endings=endings) as sink:
        sink.write(data, 0)
        sink.publish()


def can_save(
    path: AnyPath, endings: tuple[str, ...], *, overwrite: bool = False, source: AnyPath | None = None
) -> None:
    """Refuse a name now that `save` would refuse later, before long work is done for nothing."""
    with Sink(path, source, overwrite=overwrite, endings=endings):
        pass
