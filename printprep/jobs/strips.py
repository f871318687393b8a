"""Print a test strip first: crops of a picture at the final scale, one or two parameters varied over them."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from printprep import __version__
from printprep.arguments import listed, output_path
from printprep.conditions.sheet import Sheet
from printprep.errors import InputError, ParameterError, PrintprepError, expect
from printprep.files.names import AnyPath, printable
from printprep.files.sink import Sink
from printprep.jobs.strip_layout import HEADER_MM, LEAST_MM, MARGINS_MM, Grid, Window, arranged, hardest, inside
from printprep.jobs.strip_sheet import Crop, StripPixels
from printprep.jobs.vary import Vary, varied
from printprep.parameters import checked_call
from printprep.photo.bands import read_all
from printprep.photo.grey import GreyPixels, grey_profile_of
from printprep.photo.metadata import Metadata
from printprep.photo.photo import Photo
from printprep.photo.pixels import ArrayPixels, Pixels
from printprep.photo.read import read
from printprep.photo.resolution import Resolution
from printprep.pipe import Pipeline
from printprep.render.resample import ResizedPixels
from printprep.render.text import width as text_width
from printprep.render.text import wrapped
from printprep.results import Result
from printprep.ticket import STRIP_KIND, PendingTicket, dialogue

SCHEMA = 1

DRY_HOURS = {"gloss": 1, "lustre": 1, "matte": 24, "canvas": 24}
"""Hours until colours have settled, by surface (common practice, no source)."""

_PARTS = 3
"""Parts shown where neither parts nor a crop are asked for, if they fit."""


@dataclass(frozen=True)
class Strip(Result):
    """A test strip that has been written.

    Parameters
    ----------
    path : Path
        The TIFF.
    cells : mapping of str to mapping of str to float
        What each place, such as ``B3``, has set.
    crops : mapping of str to (left, top, width, height), pixels of the edit
        What each place shows.
    boxes : mapping of str to (left, top, width, height), pixels of the strip
        Where it is on the sheet.
    sheet_mm : (float, float)
        Width and height of the sheet, as it lies.
    ppi : float, pixels per inch
        Resolution.
    alike : bool
        Whether nothing differs between the first and last value on any crop.
    """

    path: Path
    cells: Mapping[str, Mapping[str, float]]
    crops: Mapping[str, tuple[float, float, float, float]]
    boxes: Mapping[str, tuple[int, int, int, int]]
    sheet_mm: tuple[float, float]
    ppi: float
    alike: bool

    def __str__(self) -> str:
        places = list(self.cells)
        wide, high = (side / self.ppi * 25.4 for side in self.boxes[places[0]][2:])
        crops = f"{len(places)} crops of {wide:.0f} x {high:.0f} mm, {places[0]} to {places[-1]}"
        return f"{self.path}: {crops}, on {self.sheet_mm[0]:g} x {self.sheet_mm[1]:g} mm"


@checked_call
def strip(
    path: AnyPath,
    output: AnyPath,
    pipe: Pipeline,
    vary: str | Vary | Sequence[str | Vary],
    *,
    crop: tuple[float, float, float, float] | None = None,
    parts: int | None = None,
    sheet: str = "A4",
    assume: str | Path | None = None,
    overwrite: bool = False,
    compress: str = "lzw",
    threads: int | None = None,
    progress: Callable[[int, int], None] | None = None,
    windows: Sequence[Window] | None = None,
) -> Strip:
    """Write a test strip: crops at the scale of the final print, each prepared with other values.

    Parameters
    ----------
    path : path
        The edit.
    output : path
        Where to write; whole or not at all.
    pipe : Pipeline
        What the final print would be made by; with a size in its sheet, crops are sized and sharpened as that will
        be, else one pixel is one pixel.
    vary : str or Vary, or one or two of them
        ``strength=0..1.2/5`` or ``STEP.PARAM=FIRST..LAST/COUNT``. With two, each crop is of the same part.
    crop : (left, top, width, height), pixels of the edit, optional
        What is shown; widened to 60 x 60 mm where it would print smaller. Chosen where the values differ most, if
        not given.
    parts : int, 1 to 9, optional
        How many parts of the picture are shown; as many as fit, three at most, if not given. With two parameters one.
    sheet : str
        Size of the strip's sheet: A4, 300x450mm.
    assume : str or Path, optional
        Profile of an edit that has none.
    overwrite, compress, threads
        As for `printprep.prepare`.
    progress : callable, optional
        Called with pixels newly done and pixels in all, from any thread.
    windows : sequence of (left, top, width, height), optional
        The parts, where they are known already; in place of `crop` and `parts`.

    Returns
    -------
    Strip

    Raises
    ------
    ParameterError
        For a range that is empty, a parameter that does not exist, a crop outside the picture.
    PrintprepError
        If the crops do not fit on the sheet.
    InputError, OutputError, OutsideError
        As `printprep.prepare`.

    Examples
    --------
    >>> import printprep as pp
    >>> made = pp.strip("edit.tif", "strip.tif", pp.pipeline(paper="gloss"), "strength=0..1/3", sheet="A5")
    >>> made.cells["A2"]
    {'strength': 0.5}
    """
    varies = _varies(vary)
    output = output_path(output)
    with Sink(output, path, overwrite=overwrite):
        pass  # refused now rather than after the work
    photo = read(path, assume=assume)
    job = _Job(photo, pipe, varies, crop, parts, sheet, windows)
    pixels = job.drawn(Path(output).name)
    ready = Photo(
        pixels, job.profile, Resolution(job.ppi), Metadata(), compression="lzw", ticket=lambda: job.ticket(sheet)
    )
    done = [0]

    def told(rows: int) -> None:
        if progress is not None:
            progress((rows - done[0]) * ready.width, ready.width * ready.height)
        done[0] = rows

    ready.write(output, overwrite=overwrite, compress=compress, threads=threads, progress=told)
    boxes = {name: (c.left, c.top, c.width, c.height) for name, c in job.crops.items()}
    return Strip(
        Path(output), job.cells, {n: job.window(n) for n in job.cells}, boxes, (job.grid.width, job.grid.height),
        job.ppi, job.alike(),
    )  # fmt: skip


def _varies(vary: object) -> list[Vary]:
    given = [vary] if isinstance(vary, (str, Vary)) else listed("vary", vary, "parameters and their values")
    for each in given:
        expect("vary", each, (str, Vary), "must be text such as strength=0..1.2/5")
    varies = [Vary.parse(each) if isinstance(each, str) else each for each in given]
    if not 1 <= len(varies) <= 2:
        raise ParameterError("vary", len(varies), "must be one or two parameters", "leave some out")
    if len({each.key for each in varies}) < len(varies):
        raise ParameterError("vary", varies[0].key, "is there twice", "leave one out")
    return varies


class _Job:
    """One strip: what is where, and the pictures that its crops are parts of."""

    def __init__(
        self, photo: Photo, pipe: Pipeline, varies: list[Vary], crop: tuple[float, float, float, float] | None,
        parts: int | None, sheet: str, windows: Sequence[Window] | None,
    ) -> None:  # fmt: skip
        self.photo, self.pipe, self.varies = photo, pipe, varies
        self.layout = layout = pipe.layout(photo)
        self.ppi = layout.ppi if layout else pipe.sheet.ppi or pipe.paper.native_ppi
        # the part of the edit that is printed, where it is in the finished picture, and how much larger
        self._within: Window = layout.part if layout else (0.0, 0.0, float(photo.width), float(photo.height))
        self._box = layout.picture if layout else (0, 0, photo.width, photo.height)
        self._scale, self._per_mm = self._box[2] / self._within[2], self.ppi / 25.4
        self._check(crop, parts, windows)
        across, *down = varies
        self._numbers = len(across.values)
        self._settings = [{across.key: value} for value in across.values]
        if down:
            self._settings = [{**each, down[0].key: value} for value in down[0].values for each in self._settings]
        made = [varied(pipe, each)(photo) for each in self._settings]
        self.profile = made[0].profile
        greys = [grey_profile_of(ready.pixels) for ready in made]
        self._grey = greys[0] if None not in greys else None
        if self._grey is None and pipe.hand_over == "grey":
            raise InputError("some of the values would leave colour", where="strip", do="hand over source")
        self.grid = self._grid(sheet, crop, len(windows) if windows else 1 if crop else parts)
        known = [crop] if crop is not None else windows
        self._windows = self._chosen(known, 1 if down else len(self.grid.places) // self._numbers)
        self.cells, self.crops = {}, {}
        for k, (name, (x, y)) in enumerate(self.grid.places.items()):
            part, number = (0, k) if down else divmod(k, self._numbers)
            self.cells[name] = self._settings[number]
            self.crops[name] = self._cropped(x, y, made[number].pixels, self._windows[part])

    # --- what is shown ----------------------------------------------------------------------

    def _mm(self, pixels: float) -> float:
        """Millimetres of so many pixels of the edit."""
        return pixels * self._scale / self.ppi * 25.4

    def _check(self, crop: object, parts: int | None, windows: object) -> None:
        if (parts is not None) + (crop is not None) + (windows is not None) > 1:
            raise ParameterError("parts", parts, "stands beside a crop", "give one of them")
        if parts is not None and (isinstance(parts, bool) or not 1 <= parts <= 9):
            raise ParameterError("parts", parts, "must be a whole number, 1 to 9")
        if len(self.varies) == 2 and (parts or 1) > 1:
            raise ParameterError("parts", parts, "must be 1 where two parameters are varied", "leave it out")
        if crop is None:
            return
        if not (isinstance(crop, (tuple, list)) and len(crop) == 4 and np.isfinite(crop).all()):
            raise ParameterError("crop", crop, "must be left, top, width and height, in pixels of the edit")
        x, y, wide, high = crop
        left, top, width, height = self._within
        if wide <= 0 or high <= 0 or x < left or y < top or x + wide > left + width or y + high > top + height:
            cut = ", the part of it that is printed" if (width, height) != (self.photo.width, self.photo.height) else ""
            reach = f"{left:.0f},{top:.0f} to {left + width:.0f},{top + height:.0f}"
            raise ParameterError("crop", tuple(crop), f"must lie within the picture, {reach}{cut}")

    def _grid(self, sheet: str, crop: Sequence[float] | None, parts: int | None) -> Grid:
        most = self._mm(self._within[2]), self._mm(self._within[3])
        cell = None
        if crop is not None:
            wide, high = (min(max(self._mm(crop[k + 2]), LEAST_MM), most[k]) for k in (0, 1))
            cell = wide, high
        if len(self.varies) == 2:
            parts = len(self.varies[1].values)
        for some in range(_PARTS, 1, -1) if parts is None else ():
            with suppress(PrintprepError):
                return arranged(sheet, some, self._numbers, cell, most)
        return arranged(sheet, parts or 1, self._numbers, cell, most)

    def _chosen(self, known: Sequence[Window] | None, count: int) -> list[Window]:
        wide, high = (min(self.grid.cell[k] * self.ppi / 25.4 / self._scale, self._within[k + 2]) for k in (0, 1))
        if known is not None:
            middles = [(w[0] + w[2] / 2, w[1] + w[3] / 2) for w in known]
            return [inside((x - wide / 2, y - high / 2, wide, high), self._within) for x, y in middles]
        plain = [replace(varied(self.pipe, each), sheet=Sheet()) for each in self._settings]
        pairs = [(plain[0], plain[-1])]
        if len(self.varies) == 2:
            pairs.append((plain[self._numbers - 1], plain[-self._numbers]))
        return hardest(self.photo, pairs, self._within, (wide, high), count)

    def _cropped(self, x: float, y: float, pixels: Pixels, window: Window) -> Crop:
        left, top, width, height = self._box
        per_mm = self._per_mm
        wide, high = (min(int(self.grid.cell[k] * per_mm + 1e-6), (width, height)[k]) for k in (0, 1))
        u, v = (round((window[k] - self._within[k]) * self._scale) for k in (0, 1))
        u, v = min(max(u, 0), width - wide), min(max(v, 0), height - high)
        return Crop(round(x * per_mm), round(y * per_mm), wide, high, pixels, left + u, top + v)

    def window(self, name: str) -> tuple[float, float, float, float]:
        """What a place shows, in pixels of the edit."""
        crop, box = self.crops[name], self._box
        return (
            self._within[0] + (crop.x - box[0]) / self._scale, self._within[1] + (crop.y - box[1]) / self._scale,
            crop.width / self._scale, crop.height / self._scale,
        )  # fmt: skip

    def alike(self) -> bool:
        """Whether the first and last values have the same pixels in the middle of every part."""
        crops = list(self.crops.values())
        each = self._numbers if len(self.varies) == 1 else len(crops)
        high = min(32, crops[0].height)
        top = (crops[0].height - high) // 2
        return all(
            np.array_equal(first.rows(top, top + high), last.rows(top, top + high))
            for first, last in zip(crops[::each], crops[each - 1 :: each], strict=True)
        )

    # --- what is drawn and said ---------------------------------------------------------------

    def drawn(self, name: str) -> StripPixels:
        """The sheet; `name` is what it will be called."""
        per_mm = self._per_mm
        thumb = self._whole(per_mm)
        width, height = round(self.grid.width * per_mm), round(self.grid.height * per_mm)
        pixels = StripPixels(width, height, [*self.crops.values(), thumb], self._grey)
        scale = thumb.width / self._within[2]
        for k, (x, y, wide, high) in enumerate(self._windows):
            at = thumb.left + (x - self._within[0]) * scale, thumb.top + (y - self._within[1]) * scale
            pixels.framed(*at, wide * scale, high * scale, per_mm, chr(65 + k) if len(self._windows) > 1 else "")
        left, right = MARGINS_MM[0], thumb.left / per_mm - 6
        pixels.words(left * per_mm, (MARGINS_MM[1] + 4.2) * per_mm, "Test strip", 5.2 * per_mm, bold=True)
        y = MARGINS_MM[1] + 8.6
        em = 2.15
        for line in self._said(name):
            for piece in wrapped(line, em, right - left):
                if y < MARGINS_MM[1] + HEADER_MM - 5.6:
                    pixels.words(left * per_mm, y * per_mm, piece, em * per_mm)
                    y += 2.9
        pixels.rule(left * per_mm, (MARGINS_MM[1] + HEADER_MM - 4.4) * per_mm, per_mm)
        for place, crop in self.crops.items():
            base = crop.top + crop.height + 3.4 * per_mm
            pixels.words(crop.left, base, place, 3.1 * per_mm, bold=True)
            said = "  ".join(f"{key} {value:g}" for key, value in self.cells[place].items())
            room = crop.width / per_mm - 8.5
            size = min(2.3, 2.3 * room / max(text_width(said, 2.3), 1e-6))
            pixels.words(crop.left + 8.0 * per_mm, base, said, size * per_mm)
        return pixels

    def _said(self, name: str) -> list[str]:
        """Lines of the header."""
        pipe, photo = self.pipe, self.photo
        of = printable(photo.path.name, 80) if photo.path else "a picture"
        size = f", as part of {self.layout}" if self.layout else ""
        room = f"{pipe.room_name}, {pipe.room.prepared_lux:g} lx"
        across, *down = self.varies
        counted = f"1 to {self._numbers}: {across}."
        letters = chr(64 + (len(down[0].values) if down else len(self._windows)))
        if down:
            counted += f" A to {letters}: {down[0]}."
        elif letters != "A":
            counted += f" A to {letters}: the parts framed in the small picture."
        hours = DRY_HOURS[pipe.paper.surface or "matte"]
        dry = "J" if pipe.paper.dry_hours else f"Let it dry {hours} hour{'s' if hours > 1 else ''}, then j"
        return [
            f"{of}{size}. Paper {printable(pipe.paper.title or pipe.paper_name, 60)}; room {printable(room, 60)}.",
            counted,
            "Print at 100 % on the same paper, with the same settings as the final print: "
            f"{dialogue(pipe.hand_over, pipe.paper)}.",
            f"{dry}udge it in the room where the print will hang. "
            f"Keep the best: printprep pick {printable(name, 60)} {list(self.cells)[-1]} --save NAME",
        ]

    def _whole(self, per_mm: float) -> Crop:
        """The picture in the corner, as asked for without the varied values."""
        wide, high = self._within[2:]
        scale = min((HEADER_MM - 5) * per_mm / high, 62.0 * per_mm / wide, 1.0)
        size = max(1, round(high * scale)), max(1, round(wide * scale))
        small: Pixels = ArrayPixels(read_all(ResizedPixels(self.photo.pixels, *size, self._within)))
        if (grey := grey_profile_of(self.photo.pixels)) is not None:
            small = GreyPixels(small, grey)
        whole = replace(self.pipe, sheet=Sheet())(replace(self.photo, pixels=small))
        array = read_all(whole.pixels)
        if grey_profile_of(whole.pixels) is None:
            self._grey = None
        left = round((self.grid.width - MARGINS_MM[0]) * per_mm) - size[1]
        return Crop(left, round(MARGINS_MM[1] * per_mm), size[1], size[0], ArrayPixels(array))

    def ticket(self, sheet: str) -> str:
        """What the strip's file says of itself: all that `pick` needs; JSON, keys sorted, one line."""
        base = self.pipe(self.photo).ticket
        assert isinstance(base, PendingTicket)
        doc: dict[str, Any] = {
            "kind": STRIP_KIND,
            "schema": SCHEMA,
            "job": base.known,
            "version": __version__,
            "sheet": sheet,
            "ppi": self.ppi,
            "vary": [{"key": each.key, "values": list(each.values)} for each in self.varies],
            "cells": {
                name: {"settings": settings, "crop": [round(v, 3) for v in self.window(name)]}
                for name, settings in self.cells.items()
            },
        }
        return json.dumps(doc, sort_keys=True, ensure_ascii=True)
