"""The sample that every figure is judged by: real pixels of the edit, and the same of the very job that is done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from printprep.check._judge import Print, judged, outside
from printprep.check._tone import Tones, edit_tones, print_tones
from printprep.check.simulate import Shown, Simulation, simulation
from printprep.colour.lab import Lab
from printprep.colour.profile import Profile
from printprep.photo.photo import Photo
from printprep.photo.pixels import Pixels, Through
from printprep.pipe import Pipeline
from printprep.render.resample import Area
from printprep.render.sample import SamplePixels


@dataclass(frozen=True, eq=False)
class Sample:
    """Pixels of an edit, evenly spread, (rows, columns, 3), and of what was handed over; at most 160 each way.

    `pipe` is what was done, with what depends on the picture decided.
    """

    before: NDArray[np.uint16] = field(repr=False)
    after: NDArray[np.uint16] = field(repr=False)
    profile: Profile
    pipe: Pipeline

    @property
    def size(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.before.shape[0], self.before.shape[1]

    @cached_property
    def sim(self) -> Simulation:
        """How the edit's colours print."""
        return simulation(self.profile.data, self.pipe)

    @cached_property
    def handed(self) -> Lab:
        """What was handed over asks of the print, (rows, columns, 3)."""
        return self.sim.handed(_values(self.after))

    @cached_property
    def shown(self) -> Shown:
        """What was asked for at each pixel, and what both prints show, (rows, columns, 3)."""
        asked = self.sim.asks(_values(self.before))
        if np.array_equal(self.before, self.after) and self.pipe.hand_over == "source":
            return asked
        return replace(asked, ready=self.sim.after(_values(self.after), self.handed))

    @cached_property
    def edit(self) -> Tones:
        """Greys of the edit as it was viewed."""
        return edit_tones(self.sim.on)

    @cached_property
    def over(self) -> NDArray[np.bool_]:
        """Where more is asked for than the paper holds, (rows, columns)."""
        return outside(self.shown.toned, self.sim)

    @cached_property
    def prints(self) -> tuple[Print, Print]:
        """The print left alone, and the prepared one."""
        plain, ready = print_tones(self.sim, self.pipe.room)
        return (
            judged(self.shown, self.shown.plain, self.over, plain, self.edit),
            judged(self.shown, self.shown.ready, self.over, ready, self.edit),
        )


def samples(
    photo: Photo, pipes: Sequence[Pipeline], progress: Callable[[int, int], None] | None = None
) -> list[Sample]:
    """Take the samples that `printprep.prepare` takes as it goes; no more is read and computed than their rows.

    The photo is read once; where a sheet cuts it, the rest alone is sampled. `progress` is told of pixels passed since,
    and of all there are; it may raise to stop.
    """
    once = _Once(photo.pixels)
    begun = [_begun(photo, once, pipe) for pipe in pipes]
    row = np.empty((1, photo.width, 3), np.uint16)
    passed = 0
    for at in [*map(int, SamplePixels(once).rows), photo.height]:
        if progress is not None:
            progress((at - passed) * photo.width, photo.height * photo.width)
            passed = at
        for _, _, after, (_, top, _, height) in begun:
            if top <= at and at + 1 <= top + height:
                after.read(at, row)
    return [
        Sample(before.of(before, area), before.of(after, area), photo.profile, pipe)
        for pipe, before, after, area in begun
    ]


def _begun(photo: Photo, once: Pixels, pipe: Pipeline) -> tuple[Pipeline, SamplePixels, SamplePixels, Area]:
    """A pipeline with all decided; the pixels of a photo before and after it; left, top, width and height printed."""
    layout, pipe = pipe.layout(photo), pipe.suited(photo)
    if layout is not None:
        pipe = replace(pipe, sheet=layout.sheet)
    taps: list[SamplePixels] = []

    def tap(pixels: Pixels) -> Pixels:
        taps.append(SamplePixels(pixels))
        return taps[0]

    before = SamplePixels(once)
    pipe.plan(photo.profile).pixels(before, photo.small if len(pipe.steps) else None, tap=tap, part=photo.part)
    return pipe, before, taps[0], layout.part if layout else (0.0, 0.0, float(photo.width), float(photo.height))


@dataclass(frozen=True, eq=False)
class _Once(Through):
    """Pixels that are asked for several times in a row, and read once."""

    kept: dict[tuple[int, int], NDArray[np.uint16]] = field(default_factory=dict, repr=False)

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        if (key := (top, len(out))) not in self.kept:
            self.kept.clear()
            self.inner.read(top, out)
            self.kept[key] = out.copy()
        out[:] = self.kept[key]


def _values(codes: NDArray[np.uint16]) -> NDArray[np.float32]:
    """Device values 0..1."""
    return codes.astype(np.float32) / np.float32(65535)
