"""A picture that is larger than memory, as a Dask array of tiles."""

import dask.array as da
import numpy as np
from numpy.typing import NDArray

import printprep as pp


class Rows:
    """What printprep asks of a picture: its size, and rows of 16-bit RGB."""

    def __init__(self, picture: da.Array) -> None:
        self.picture = picture
        self.height, self.width = picture.shape[:2]

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        out[:] = self.picture[top : top + len(out)].compute()


def prepare(picture: da.Array, pipe: pp.Pipeline, profile: str = "sRGB") -> da.Array:
    """Prepare a (height, width, 3) array of uint16, tile by tile; lazily, but for a first look at all of it."""
    picture = picture.rechunk((*picture.chunks[:2], 3))
    # What depends on surroundings is decided once, for the whole picture. Each tile then needs to know where it lies.
    field = pipe.field(pp.Photo(Rows(picture), pp.Profile.named(profile)))
    depth = pipe.reach(profile)  # so many pixels around a tile are looked at; tiles may begin anywhere
    tops, lefts = (np.cumsum((0, *sizes)) for sizes in picture.chunks[:2])

    def tile(block: NDArray[np.uint16], block_info: dict[int, dict[str, tuple[int, ...]]]) -> NDArray[np.uint16]:
        row, column, _ = block_info[0]["chunk-location"]
        at = max(0, int(tops[row]) - depth), max(0, int(lefts[column]) - depth)
        return pipe.apply(block, profile, field=field, at=at)

    around = {0: depth, 1: depth, 2: 0}
    return da.map_overlap(tile, picture, depth=around, boundary="none", dtype=picture.dtype, meta=picture._meta)
