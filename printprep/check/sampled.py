"""The sample that every figure is judged by: real pixels of the edit, and the same of the very job that is done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Lab
from printprep.check.simulate import Shown, simulation
from printprep.colour.profile import Profile
from printprep.photo.photo import Photo
from printprep.pipe import Pipeline
from printprep.render.sample import SIDE, SamplePixels

__all__ = ["SIDE", "Sample", "sample", "shown"]


@dataclass(frozen=True, eq=False)
class Sample:
    """Pixels of a picture, evenly spread, before and after a job.

    Parameters
    ----------
    before, after : (rows, columns, 3) ndarray of uint16
        Of the edit, and of what was handed over: at most 160 rows and columns each way.
    profile : Profile
        Of the edit.
    pipe : Pipeline
        What was done, with what depends on the picture decided.
    """

    before: NDArray[np.uint16] = field(repr=False)
    after: NDArray[np.uint16] = field(repr=False)
    profile: Profile
    pipe: Pipeline

    @property
    def size(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.before.shape[0], self.before.shape[1]


def sample(photo: Photo, pipe: Pipeline, progress: Callable[[int, int], None] | None = None) -> Sample:
    """Take the sample that `printprep.prepare` takes as it goes; no more is read and computed than its rows.

    Parameters
    ----------
    photo : Photo
        The edit.
    pipe : Pipeline
        What is done.
    progress : callable, optional
        Told of pixels passed since, and of all there are; may raise to stop.
    """
    pipe = pipe.suited(photo)
    before = SamplePixels(photo.pixels)
    codes = photo.small if len(pipe.steps) else None
    after = SamplePixels(pipe.plan(photo.profile).pixels(before, codes, part=photo.part))
    row = np.empty((1, photo.width, 3), np.uint16)
    passed = 0
    for top in after.rows:
        if progress is not None:
            progress((int(top) - passed) * photo.width, photo.height * photo.width)
            passed = int(top)
        after.read(int(top), row)
    if progress is not None:
        progress((photo.height - passed) * photo.width, photo.height * photo.width)
    return Sample(before.sample, after.sample, photo.profile, pipe)


def shown(taken: Sample, handed: Lab | None = None) -> Shown:
    """What was asked for at each pixel of a sample, and what both prints show, (rows, columns, 3).

    `handed` is what was handed over asks of the print, where that is known.
    """
    sim = simulation(taken.profile.data, taken.pipe)
    asked = sim.asks(values(taken.before))
    if np.array_equal(taken.before, taken.after) and taken.pipe.hand_over == "source":
        return asked
    got = sim.after(values(taken.after), handed)
    return replace(asked, ready=got, placed=got)


def values(codes: NDArray[np.uint16]) -> NDArray[np.float32]:
    """Device values 0..1."""
    return codes.astype(np.float32) / np.float32(65535)
