"""The report: one page that says what a print keeps and loses, with pictures, charts and figures."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, fields
from datetime import date
from html import escape
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep import __version__
from printprep.arguments import photo_and_pipe
from printprep.check import sampled
from printprep.check._charts import (
    SLICES,
    cut_chart,
    lightness_share,
    slice_chart,
    slice_reach,
    steps_chart,
    tone_chart,
)
from printprep.check._judge import VISIBLE
from printprep.check._pictures import HIGH, WIDE, large, pictures
from printprep.check._place import place_lines
from printprep.check._regions import family
from printprep.check._shares import percent
from printprep.check._tone import edit_tones, print_tones
from printprep.check._words import figure_rows, headline, step_words, verdict_lines
from printprep.check.basis import typical_values
from printprep.check.look import Look, look, reduced
from printprep.check.loss import Loss, loss_of
from printprep.check.proof import print_picture, shrink
from printprep.check.rank import SIDE
from printprep.check.sampled import sample
from printprep.check.simulate import Shown, Simulation, simulation
from printprep.conditions.viewing import hung
from printprep.files.names import AnyPath, printable
from printprep.page.html import environment
from printprep.page.pictures import save
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
    photo_and_pipe(photo, pipe)
    tell = tell or (lambda _: None)
    tell("reading the picture")
    seen = look(photo, side=4 * max(WIDE, HIGH), threads=threads, progress=progress)
    tell("judging a sample of it")
    taken = sample(photo, pipe)
    sim = simulation(photo.profile.data, taken.pipe)
    shown = sampled.shown(taken)
    loss = loss_of(taken, shown)
    tell("drawing pictures and charts")
    small = print_picture(shrink(seen, SIDE), "ready", sim, glazing=True)
    content = {**_content(seen, sim, _flat(shown), loss, photo), "command": command}
    return Report(loss, environment().get_template("report.html.j2").render(content), photo.path, small)


def _content(seen: Look, sim: Simulation, shown: Shown, loss: Loss, photo: Photo) -> dict[str, object]:
    pipe, on = sim.pipe, sim.on
    pane = hung(pipe.paper, pipe.room).glazing != "none"
    tones, edit = print_tones(sim, pipe.room), edit_tones(on)
    copy = sim(reduced(seen.picture))
    shares = np.full(len(shown.edit), 1 / len(shown.edit))
    reach, light = slice_reach(shown, shares, sim), lightness_share(shown, shares)
    parts = [r for r in loss.regions if r.outside >= 0.005 or max(r.shadows, r.shadows_alone) >= 0.005]

    def charts() -> dict[str, object]:
        return {
            "tone": tone_chart(*tones, light),
            "steps": steps_chart(*tones, edit, light),
            "slices": [slice_chart(level, shown, shares, sim, reach) for level in SLICES],
            "cut": cut_chart(loss.worst_hue, shown, shares, sim),
        }

    with ThreadPoolExecutor(1) as pool:  # what draws charts is Python that takes long to load, pictures are not
        drawn = pool.submit(charts)
        views = pictures(photo, large(seen.picture), copy, tones, edit, sim, [r.name for r in parts])
    return {
        "name": printable(photo.path.name, 255) if photo.path else "the picture",
        "size": f"{photo.width} × {photo.height} pixels",
        "profile": photo.profile.description,
        "printed": _printed_size(photo),
        "date": date.today().isoformat(),
        "version": __version__,
        "paper": pipe.paper.title or pipe.paper_name,
        "room": pipe.room_name,
        "lux": f"{pipe.room.prepared_lux:.0f}",
        "conditions": pipe.room,
        "pane": pane,
        "reference": pipe.room.reference,
        "headline": headline(loss),
        "verdict": verdict_lines(loss),
        "place": place_lines(pipe, photo.profile),
        "loss": loss,
        "rows": figure_rows(loss),
        "percent": percent,
        "visible": VISIBLE,
        "typical": typical_values() if pipe.paper.typical else "",
        "certainty": pipe.paper.certainty,
        **views,
        **drawn.result(),
        "worst": family(loss.worst_hue) if loss.worst_hue else "",
        "regions": parts,
        "steps_done": [step_words(step) for step in sim.plan.steps],
        "lightest_black": f"{on.black:.0f}",
    }


def _flat(shown: Shown) -> Shown:
    """The same as a list of colours."""
    return Shown(*(getattr(shown, f.name).reshape(-1, 3) for f in fields(Shown)))


def _printed_size(photo: Photo) -> str:
    """How large the file says it is to be printed; empty where it says nothing."""
    if photo.resolution.stored is None:
        return ""
    ppi = photo.resolution.ppi
    return f"{photo.width / ppi * 2.54:.1f} × {photo.height / ppi * 2.54:.1f} cm at {ppi:.0f} ppi, as the file says"
