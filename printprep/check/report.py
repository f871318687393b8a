"""The report: one page that says what a print keeps and loses, with pictures, charts and figures."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, fields
from datetime import date
from html import escape
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep import __version__
from printprep.adjust._base import Adjustment
from printprep.adjust._registry import step_name
from printprep.check._charts import steps_chart, tone_chart
from printprep.check._pictures import NEEDED, PIECE_WIDE, pictures
from printprep.check._words import headline, notes, percent, verdict_lines
from printprep.check.bare import bare_paper
from printprep.check.basis import typical_values
from printprep.check.loss import Loss, loss_of
from printprep.check.place import room_lines
from printprep.check.sampled import samples
from printprep.conditions.viewing import hung
from printprep.files.names import AnyPath, printable
from printprep.page.html import filled
from printprep.page.pictures import look, save
from printprep.parameters import checked_call
from printprep.photo.photo import Photo
from printprep.pipe import Pipeline
from printprep.results import Result


@dataclass(frozen=True)
class Report(Result):
    """A page and the figures on it.

    Parameters
    ----------
    loss : Loss
        The figures.
    html : str
        The page; needs nothing from elsewhere.
    pipe : Pipeline
        Paper, room and what is done, with what depends on the picture decided.
    size : str
        How large the picture is on its sheet, and whether it has the pixels for it; empty where no size is asked for.
    notes : tuple of str
        What is to be said of the file and of its sheet.
    source : Path or None
        The edit's file, which is never replaced.
    print_ : (rows, columns, 3) ndarray of uint8, or None
        A small picture of the prepared print, sRGB.

    Examples
    --------
    >>> import printprep as pp
    >>> page = pp.report(pp.read("edit.tif"), pp.pipeline(paper="gloss", room="office"))
    >>> page.loss == pp.loss(pp.read("edit.tif"), pp.pipeline(paper="gloss", room="office"))
    True
    """

    loss: Loss
    html: str = field(repr=False)
    pipe: Pipeline = field(repr=False)
    size: str = ""
    notes: tuple[str, ...] = ()
    source: Path | None = None
    print_: NDArray[np.uint8] | None = field(default=None, repr=False)

    _kept_out = ("html", "print_")

    def __str__(self) -> str:
        return f"report on {printable(self.source.name) if self.source else 'a picture'}: {self.loss}"

    def write(self, path: AnyPath, *, overwrite: bool = False) -> None:
        """Write the page, whole or not at all.

        Raises
        ------
        OutputError, OutsideError
            Nothing was written.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.report(pp.read("edit.tif"), pp.pipeline(paper="gloss")).write("report.html")
        """
        save(path, self.html.encode(), (".html", ".htm"), overwrite=overwrite, source=self.source)

    def _repr_html_(self) -> str:
        return f'<iframe srcdoc="{escape(self.html)}" style="width:100%;height:42rem;border:0" title="report"></iframe>'


@checked_call
def report(
    photo: Photo,
    pipe: Pipeline,
    *,
    command: str = "",
    threads: int | None = None,
    progress: Callable[[int, int], None] | None = None,
    tell: Callable[[str], None] | None = None,
) -> Report:
    """Make the report on a picture, a paper and a room.

    Parameters
    ----------
    photo : Photo
        The edit; read once, in bands.
    pipe : Pipeline
        Paper, room and what is done.
    command : str
        What makes this page again, to be said on it.
    threads : int, optional
        All cores if not given.
    progress : callable, optional
        Told of pixels done, and of all there are; may raise to stop.
    tell : callable, optional
        Told of each step as it begins.

    Returns
    -------
    Report
        The same for the same picture and conditions on the same day: no random names.

    Raises
    ------
    ParameterError
        For an argument of another kind.
    InputError
        If the picture cannot be read.

    Examples
    --------
    >>> import printprep as pp
    >>> page = pp.report(pp.read("edit.tif"), pp.pipeline(paper="gloss", room="office"))
    >>> page.write("report.html")
    """
    tell = tell or (lambda _: None)
    tell("reading the picture")
    picture = look(photo, NEEDED, threads=threads, progress=progress)
    tell("judging a sample of it")
    (taken,) = samples(photo, [pipe])
    pipe, sim, loss = taken.pipe, taken.sim, loss_of(taken)
    tell("drawing pictures and charts")
    layout = pipe.layout(photo)
    left, top, width, height = layout.part if layout else (0, 0, photo.width, photo.height)
    part = int(left), int(top), max(int(width), 1), max(int(height), 1)
    parts = [r for r in loss.regions if r.outside >= 0.005 or max(r.shadows, r.shadows_alone) >= 0.005]
    shown, thumbnail = pictures(photo, picture, part, taken, [r.name for r in parts])
    (alone, ready), L = (each.tones for each in taken.prints), taken.shown.edit[..., 0]
    share = np.histogram(L, np.arange(101))[0] / L.size  # of the picture, in each whole L* of the edit
    said = notes(photo)
    if layout is not None:
        bare = bare_paper(taken.after, keyline=layout.sheet.keyline, margins=not layout.sheet.wrap_mm)
        said += [*layout.warnings, *([bare] if bare else [])]
    name, paper = printable(photo.path.name, 255) if photo.path else "the picture", pipe.paper.title or pipe.paper_name
    html = filled(
        "report",
        **shown,
        piece_mm=f"{25.4 * min(width, PIECE_WIDE) / (layout.edit_ppi if layout else photo.resolution.ppi):.0f}",
        title=f"{name} on {paper}, {pipe.room_name}",
        name=name,
        size=f"{photo.width} × {photo.height} pixels, {photo.profile.description}",
        printed=str(layout) if layout else _file_says(photo),
        date=date.today().isoformat(),
        version=__version__,
        command=command,
        paper=paper,
        room=pipe.room_name,
        lux=f"{pipe.room.prepared_lux:.0f}",
        conditions=pipe.room,
        pane=hung(pipe.paper, pipe.room).glazing != "none",
        reference=pipe.room.reference,
        headline=headline(loss),
        verdict=verdict_lines(loss),
        place=room_lines(pipe),
        notes=said,
        loss=loss,
        rows=_figure_rows(loss),
        percent=percent,
        typical=typical_values() if pipe.paper.typical else "",
        certainty=pipe.paper.certainty,
        tone=tone_chart(alone, ready, share),
        steps=steps_chart(alone, ready, taken.edit, share),
        regions=parts,
        steps_done=[_step_words(step) for step in sim.plan.steps],
        lightest_black=f"{sim.on.black:.0f}",
    )
    return Report(loss, html, pipe, str(layout or ""), tuple(said), photo.path, thumbnail)


def _file_says(photo: Photo) -> str:
    """How large the file says it is to be printed; empty where it says nothing."""
    if photo.resolution.stored is None:
        return ""
    ppi = photo.resolution.ppi
    return f"{photo.width / ppi * 2.54:.1f} × {photo.height / ppi * 2.54:.1f} cm at {ppi:.0f} ppi, as the file says"


def _step_words(step: Adjustment) -> str:
    """A step by the name it has in presets, with its parameters."""
    values = ((f.name, getattr(step, f.name)) for f in fields(step))
    numbers = ", ".join(f"{name} {value:g}" for name, value in values if type(value) in (int, float))
    return f"{step_name(step)} ({numbers})" if numbers else step_name(step)


def _figure_rows(loss: Loss) -> list[tuple[str, str, str, str]]:
    """Each figure: its name, prepared, unprepared, and what it means."""
    r, p = loss.prepared, loss.left_alone
    return [
        (
            "Visible loss, share of the area", percent(r.visible), percent(p.visible),
            "Where colour is lost or tones merge; in the shadows, by the share of their visible steps that is lost.",
        ),
        (
            "Colour that loses visibly, share of the area", percent(r.colour), percent(p.colour),
            "Of the colours outside the paper, those that the print shows as others, by more than 3 CIEDE2000.",
        ),
        (
            "Lost in the shadows, share of the area", percent(r.flat), percent(p.flat),
            f"{percent(loss.dark)} of the picture is darker than L* 20, times the share of visible steps lost there.",
        ),
        (
            "Shadows that merge, share of the area", percent(r.shadows), percent(p.shadows),
            "Tones of the darker half where a step of one L* in the edit is seen as less than one just-noticeable "
            "difference in this room (DICOM PS3.14).",
        ),
        (
            "Highlights that merge, share of the area", percent(r.highlights), percent(p.highlights),
            "Tones that the edit shows apart from white, but the print less than one just-noticeable difference "
            "from bare paper.",
        ),
        (
            "Visible steps in the shadows, JND", f"{r.steps:.0f}", f"{p.steps:.0f}",
            f"Just-noticeable differences between the edit's L* 0 and 20; the edit itself has {loss.steps_edit:.0f}.",
        ),
        (
            "Difference outside the paper, mean, CIEDE2000", f"{r.difference:.2f}", f"{p.difference:.2f}",
            "Colour asked for against colour shown, both against paper white, over the colours outside the paper.",
        ),
        (
            "Chroma kept outside the paper", percent(r.kept_chroma), percent(p.kept_chroma),
            "Share of their C* that the colours outside the paper keep.",
        ),
        (
            "Hue shift outside the paper, degrees", f"{r.hue_shift:.1f}", f"{p.hue_shift:.1f}",
            "Mean turn of the CIELAB hue angle of those colours.",
        ),
        (
            "Contrast between neighbours kept outside the paper", percent(r.detail), percent(p.detail),
            "Share of the difference between neighbours of the sample that is left inside those areas.",
        ),
        (
            "Difference from the edit, mean, CIEDE2000", f"{r.from_edit:.1f}", f"{p.from_edit:.1f}",
            "Print against edit, each against its own white: the paper's lighter black and tones moved on purpose "
            "for the room count here.",
        ),
    ]  # fmt: skip
