"""Choose a place on a test strip: keep what it shows as a preset, and make the next, narrower strip."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from printprep.adjust._registry import step_name
from printprep.conditions.measurement import Measurement
from printprep.conditions.paper import Paper
from printprep.conditions.room import Reference
from printprep.errors import InputError, PrintprepError, UnknownName
from printprep.files.names import AnyPath, shown
from printprep.jobs.new_preset import adjust_lines, head_lines, patch_lines, published, spoken, value_lines
from printprep.jobs.strip_crops import Window
from printprep.jobs.strips import SCHEMA, Strip, strip
from printprep.jobs.ticket import Ticket
from printprep.jobs.vary import Vary, varied
from printprep.photo.metadata import ticket_text
from printprep.pipe import Pipeline
from printprep.preset_files import file_in, own_folder, toml_text
from printprep.ticket import STRIP_KIND

_FIELDS = {
    "CMYK": ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K"), "CMY": ("CMY_C", "CMY_M", "CMY_Y"),
    "RGB": ("RGB_R", "RGB_G", "RGB_B"), "GRAY": ("GRAY_W",),
}  # fmt: skip


@dataclass(frozen=True)
class Picked:
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
        """Keep it as a preset, with paper, room and every step in full: it repeats exactly what was seen.

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
            Its file, in the user's folder of presets; what it needs of a profile or chart lies beside it.

        Raises
        ------
        ParameterError
            If the name cannot be one.
        OutputError, OutsideError
            If there is a preset of this name already, or it cannot be written; nothing is then.
        """
        file, pipe = file_in(own_folder(), name, "bundle"), self.pipe
        if not len(pipe.steps):
            raise PrintprepError("has no steps to keep", where=self.place, do="vary a step and pick again")
        said = ", ".join(f"{key} {value:g}" for key, value in self.settings.items())
        source = f"picked from a test strip of {self.edit}, {self.place}: {said}"
        lines = [*head_lines(title or spoken(name), source), f"strength = {pipe.strength!r}"]
        table, copied = _paper(pipe.paper, file)
        lines += ["", "[paper]", *table, "", "[room]", *value_lines(pipe.room, ("reference",))]
        if pipe.room.reference != Reference():
            lines += ["[room.reference]", *value_lines(pipe.room.reference)]
        steps = {step_name(step): {f.name: getattr(step, f.name) for f in fields(step)} for step in pipe.steps}
        given = {name: {k: v for k, v in table.items() if v is not None} for name, table in steps.items()}
        text = "\n".join([*lines, *adjust_lines({}, given), ""])
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
    """
    return _picked(path, _document(path), place, paper)


def _document(path: AnyPath) -> dict[str, Any]:
    """What a strip's file says of itself."""
    do = "name the file that printprep strip wrote"
    text = ticket_text(path)
    if text is None or STRIP_KIND not in text:
        raise InputError("is no test strip", where=shown(path), do=do)
    try:
        doc = json.loads(text)
        if doc["kind"] != STRIP_KIND:
            raise InputError("is no test strip", where=shown(path), do=do)
        if doc["schema"] != SCHEMA:
            raise InputError("is a strip of a newer printprep", where=shown(path), do="use that")
        return dict(doc)
    except (ValueError, KeyError, TypeError, RecursionError):
        raise InputError("the strip's ticket is damaged", where=shown(path), do="make the strip again") from None


def _picked(path: AnyPath, doc: dict[str, Any], place: str, paper: str | Path | Paper | None) -> Picked:
    try:
        cells, ticket = doc["cells"], msgspec.convert(doc["job"], Ticket)
        name = place.strip().upper()
        if name not in cells:
            raise UnknownName("place on the strip", place, cells)
        settings = {str(key): float(value) for key, value in cells[name]["settings"].items()}
        windows = {key: _window(cell["crop"]) for key, cell in sorted(cells.items())}
        varies = tuple(Vary(each["key"], tuple(each["values"])) for each in doc["vary"])
        sheet = str(doc["sheet"])
    except (KeyError, TypeError, AttributeError, ValueError, msgspec.ValidationError) as error:
        if isinstance(error, PrintprepError):
            raise
        raise InputError("the strip's ticket is damaged", where=shown(path), do="make the strip again") from None
    try:
        base = Pipeline.from_ticket(ticket, paper=paper)
        first = tuple(window for key, window in windows.items() if key.endswith("1"))
        return Picked(
            name, settings, varied(base, settings), str(ticket.edit.get("name", "")), windows[name],
            Path(os.fsdecode(path)), varies, first if len(varies) == 1 else first[:1], sheet,
        )  # fmt: skip
    except PrintprepError as error:
        raise error.within(shown(path)) from error


def _window(values: Any) -> Window:
    left, top, wide, high = (float(v) for v in values)
    return left, top, wide, high


def _paper(paper: Paper, file: Path) -> tuple[list[str], tuple[Path, bytes] | None]:
    """A paper's table in full, and the profile or chart that lies beside it."""
    lines = [
        f"title = {toml_text(paper.title)}", f"surface = {toml_text(str(paper.surface))}",
        f"native_ppi = {paper.native_ppi!r}", f"source = {toml_text(paper.source)}",
        *(f"{key} = true" for key in ("typical", "any_profile") if getattr(paper, key)),
    ]  # fmt: skip
    if paper.solids is not None:
        return [*lines, *patch_lines(paper)], None
    key, ending = ("profile", ".icc") if paper.profile is not None else ("measurements", ".txt")
    beside = file.with_suffix(ending)
    data = paper.profile if paper.profile is not None else _chart(paper.measured)
    return [*lines, f"{key} = {toml_text(beside.name)}"], (beside, data)


def _chart(chart: Measurement | None) -> bytes:
    """A chart as CGATS.17 text (ISO 28178), digits enough to be the same chart."""
    assert chart is not None
    names = (*_FIELDS[chart.channels], "LAB_L", "LAB_A", "LAB_B")
    rows = np.concatenate([chart.device * 100, chart.lab], axis=1).tolist()
    return "\n".join([
        "CGATS.17", "BEGIN_DATA_FORMAT", " ".join(names), "END_DATA_FORMAT", f"NUMBER_OF_SETS {len(rows)}",
        "BEGIN_DATA", *(" ".join(repr(value) for value in row) for row in rows), "END_DATA", "",
    ]).encode()  # fmt: skip
