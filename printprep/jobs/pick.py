"""Choose a place on a test strip: keep what it shows as a preset, and make the next, narrower strip."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import msgspec

from printprep.conditions.paper import Paper
from printprep.errors import InputError, PrintprepError, UnknownName
from printprep.files.names import AnyPath, shown
from printprep.jobs.new_preset import published, spoken
from printprep.jobs.strip_layout import Window
from printprep.jobs.strips import SCHEMA, Strip, strip
from printprep.jobs.vary import Vary, varied
from printprep.photo.metadata import ticket_text
from printprep.pipe import Pipeline
from printprep.preset_files import file_in, own_folder
from printprep.results import Result
from printprep.stored import as_preset
from printprep.ticket import STRIP_KIND, Ticket


@dataclass(frozen=True)
class Picked(Result):
    """A place on a strip.

    Parameters
    ----------
    place : str
        Such as ``B3``.
    settings : mapping of str to float
        What it has set.
    pipe : Pipeline
        What makes it.
    edit : str
        Name of the edit's file.
    crop : (left, top, width, height), pixels of the edit
        What it shows.
    strip : Path
        The strip's file.
    varies : tuple of Vary
        What the strip varied.
    windows : tuple of (left, top, width, height), pixels of the edit
        The parts that it shows.
    sheet : str
        Its size.
    """

    place: str
    settings: Mapping[str, float]
    pipe: Pipeline
    edit: str
    crop: Window
    strip: Path
    varies: tuple[Vary, ...]
    windows: tuple[Window, ...]
    sheet: str

    def save(self, name: str, *, title: str = "", overwrite: bool = False) -> Path:
        """Keep it as a preset, with paper, room, sheet and every step in full: it repeats exactly what was seen.

        Parameters
        ----------
        name : str
            What the preset will be called.
        title : str
            A name for people.
        overwrite : bool
            Whether a preset of this name may be replaced.

        Returns
        -------
        Path
            Its file, in the user's folder of presets; a copy of the paper's profile lies beside it.

        Raises
        ------
        ParameterError
            If the name cannot be one.
        OutputError, OutsideError
            If there is a preset of this name already, or it cannot be written; nothing is then.
        """
        file, profile = file_in(own_folder(), name, "bundle"), self.pipe.paper.profile
        said = ", ".join(f"{key} {value:g}" for key, value in self.settings.items())
        copied = None if profile is None else (file.with_suffix(".icc"), profile)  # too large for a preset
        text = as_preset(
            self.pipe, title or spoken(name), f"picked from a test strip of {self.edit}, {self.place}: {said}",
            copied[0].name if copied else "",
        )  # fmt: skip
        return published(file, text, copied, overwrite=overwrite)

    def refine(
        self, output: AnyPath, *, edit: AnyPath | None = None, overwrite: bool = False, threads: int | None = None,
        progress: Callable[[int, int], None] | None = None,
    ) -> Strip:  # fmt: skip
        """Write the next strip: the same parts, and values around this place's own, as far as to its neighbours.

        Parameters
        ----------
        output : path
            Where to write the next strip.
        edit : path, optional
            The edit; a file of its name beside the strip, if not given.
        overwrite, threads, progress
            As for `printprep.strip`.

        Raises
        ------
        InputError
            If the edit is not found.
        PrintprepError
            As `printprep.strip`.
        """
        source = self.strip.parent / self.edit if edit is None else Path(os.fsdecode(edit))
        if not source.is_file():
            do, way = "name it with {way}", "edit=FILE"
            raise InputError("the strip's edit is not there", where=repr(str(source)), do=do, way=way)
        varies = [each.around(self.settings[each.key]) for each in self.varies]
        return strip(
            source, output, self.pipe, varies, sheet=self.sheet, overwrite=overwrite, threads=threads,
            progress=progress, windows=self.windows,
        )  # fmt: skip


def pick(path: AnyPath, place: str, *, paper: str | Path | Paper | None = None) -> Picked:
    """Read what one place of a strip shows, from the strip alone.

    Parameters
    ----------
    path : path
        The strip's file.
    place : str
        Such as ``B3``, in either case.
    paper : str, Path or Paper, optional
        Where the paper's profile or chart is now, if it is no more where it was.

    Raises
    ------
    InputError
        If the file is no strip, or its paper is not found or has changed.
    UnknownName
        If it has no such place.

    Examples
    --------
    >>> import printprep as pp
    >>> _ = pp.strip("edit.tif", "strip.tif", pp.pipeline(paper="gloss"), "strength=0..1/3", sheet="A5")
    >>> pp.pick("strip.tif", "A2").pipe.strength
    0.5
    """
    said, name = _said(path), place.strip().upper()
    if name not in said.cells:
        raise UnknownName("place on the strip", place, said.cells)
    cells, edit = said.cells, str(said.job.edit.get("name", ""))
    first = tuple(cells[key].crop for key in sorted(cells) if key.endswith("1"))
    try:
        pipe = varied(Pipeline.from_ticket(said.job, paper=paper), cells[name].settings)
    except PrintprepError as error:
        raise error.within(shown(path)) from error
    return Picked(
        name, cells[name].settings, pipe, edit, cells[name].crop, Path(os.fsdecode(path)), said.vary,
        first if len(said.vary) == 1 else first[:1], said.sheet,
    )  # fmt: skip


@dataclass(frozen=True)
class _Cell:
    settings: dict[str, float]
    crop: Window


@dataclass(frozen=True)
class _Said:
    """What a strip's file says of itself."""

    job: Ticket
    cells: dict[str, _Cell]
    vary: tuple[Vary, ...]
    sheet: str


def _said(path: AnyPath) -> _Said:
    text = ticket_text(path)
    try:
        doc = json.loads(text or "null")
        if not isinstance(doc, dict) or doc.get("kind") != STRIP_KIND:
            raise InputError("is no test strip", where=shown(path), do="name the TIFF of a strip, as it was written")
        if doc.get("schema") != SCHEMA:
            raise InputError("is a strip of a newer printprep", where=shown(path), do="use that")
        return msgspec.convert(doc, _Said)
    except (ValueError, RecursionError, msgspec.ValidationError):
        raise InputError("the strip's ticket is damaged", where=shown(path), do="make the strip again") from None
