"""Prepare arrays: one function from codes to codes, for pipelines of other tools."""

from functools import cache

import numpy as np
from numpy.typing import NDArray

import printprep as pp


@cache
def _pipeline(paper: str, lux: float) -> pp.Pipeline:
    return pp.pipeline(paper=paper, room=pp.Room(illuminance_lux=lux))


def for_print(pictures: NDArray[np.uint8], paper: str = "lustre", lux: float = 150.0) -> NDArray[np.uint8]:
    """sRGB pictures, (..., height, width, 3), made ready for a paper under so many lux; the same shape and type."""
    return _pipeline(paper, lux).apply(pictures, "sRGB")
