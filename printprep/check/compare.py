"""One picture on several papers: what each loses, side by side."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from textwrap import wrap
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.arguments import listed, output_path, whole_side
from printprep.check._words import difficulty, notes, percent, verdict_lines
from printprep.check.basis import basis
from printprep.check.loss import Loss, loss_of
from printprep.check.place import place_lines, room_lines
from printprep.check.rank import WIDE, card, entry, figures, said_of, where_hung
from printprep.check.sampled import samples
from printprep.check.seen import OnScreen
from printprep.compose import pipeline
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.errors import ParameterError
from printprep.files.names import AnyPath, printable
from printprep.files.png import png
from printprep.page.html import filled
from printprep.page.pictures import fitted, look, save
from printprep.page.sheet import Captioned, sheet
from printprep.parameters import checked_call
from printprep.photo.photo import Photo
from printprep.pipe import Pipeline
from printprep.results import Result

_SIDE = 900


@dataclass(frozen=True)
class OnPaper(Result):
    """The picture on one paper.

    Parameters
    ----------
    pipe : Pipeline
        The paper, and what is done for it.
    loss : Loss
        What the picture loses there.
    print_ : (rows, columns, 3) ndarray of uint8
        The prepared print, sRGB.
    alone : (rows, columns, 3) ndarray of uint8
        The print left alone.
    """

    pipe: Pipeline
    loss: Loss
    print_: NDArray[np.uint8] = field(repr=False)
    alone: NDArray[np.uint8] = field(repr=False)

    @property
    def title(self) -> str:
        """What the paper is called."""
        return self.pipe.paper.title or self.pipe.paper_name

    def to_dict(self) -> dict[str, Any]:
        """Names of paper and room, what the place is like, and all of its `Loss`."""
        names = {"paper": self.pipe.paper_name, "room": self.pipe.room_name, "place": place_lines(self.pipe)}
        return names | self.loss.to_dict()

    def __str__(self) -> str:
        return f"{self.title}: {difficulty(self.loss)}"


@dataclass(frozen=True)
class Comparison(Result):
    """One picture on several papers, those that come nearest to it by tone and colour first.

    Parameters
    ----------
    papers : tuple of OnPaper
        One for each, by the mean difference of the prepared print from the edit; in the order named where that is the
        same to 0.1 CIEDE2000.
    edit : (rows, columns, 3) ndarray of uint8
        The edit, sRGB.
    name : str
        Of the picture, safe to show.
    source : Path or None
        The edit's file, which is never replaced.
    notes : tuple of str
        What is to be said of that file.

    Examples
    --------
    >>> import printprep as pp
    >>> papers = pp.compare(pp.read("edit.tif"), ["gloss", "cotton-rag"], room="office", side=120)
    >>> papers.papers[0].title
    'Gloss, resin-coated photo paper'
    """

    papers: tuple[OnPaper, ...]
    edit: NDArray[np.uint8] = field(repr=False)
    name: str = "picture"
    source: Path | None = None
    notes: tuple[str, ...] = ()

    @property
    def verdict(self) -> str:
        """Which paper comes nearest to the edit, in a sentence."""
        first, *others = self.papers
        apart = [p for p in others if _apart(p) > _apart(first)]
        if not others:
            return f"{first.title}: {percent(first.loss.score)} of the picture is lost visibly."
        if len(apart) < len(others):
            same = [first.title, *(p.title for p in others if p not in apart)]
            text = f"By tone and colour alone nothing decides between {', '.join(same[:-1])} and {same[-1]}"
        else:
            text = f"By tone and colour alone {first.title} comes nearest to the edit"
        rest = "; then " + ", then ".join(p.title for p in apart) if apart else ""
        return f"{text}{rest}. Surface and feel are yours to judge."

    def __str__(self) -> str:
        lines = ["  loss  colour  shadows  highlights  steps  alone  black  apart  paper"]
        for each in self.papers:
            found = each.loss
            steps = f"{found.prepared.steps:>5.0f}  {found.left_alone.steps:>5.0f}"
            more = f"  {steps}  {f'L* {found.black:.0f}':>5}  {_apart(each):>5.1f}"
            lines += entry(figures(found) + more, printable(each.pipe.paper_name), difficulty(found))
        edit = self.papers[0].loss.steps_edit
        said = (
            "Shares of the area, once prepared.",
            f"Steps: of the {edit:.0f} visible steps (JND) in the edit's shadows, those that show in this room, "
            "prepared and left alone. Black: the darkest neutral. Apart: mean difference from the edit, CIEDE2000, "
            "the least first.",
            *_room(self),
            self.verdict,
        )
        lines += ["", *(part for line in said for part in wrap(line, WIDE))]
        return "\n".join(lines)

    def to_dict(self) -> dict[str, Any]:
        """All figures as plain values; shares are 0 to 1, differences CIEDE2000, steps JND."""
        rows = [each.to_dict() for each in self.papers]
        return {"picture": self.name, "notes": list(self.notes), "verdict": self.verdict, "papers": rows}

    @property
    def picture(self) -> NDArray[np.uint8]:
        """A row for each paper: the edit, left alone, prepared; (rows, columns, 3) uint8 sRGB."""
        panels = []
        for each in self.papers:
            panels += [
                Captioned(self.edit, "Edit", "as on a screen"),
                Captioned(each.alone, f"{each.title}: left alone", f"computed; {basis(each.pipe.paper)}"),
                Captioned(each.print_, f"{each.title}: prepared", _note(each.loss)),
            ]
        foot = f"{self.name}  ·  {where_hung(self.papers[0].pipe)}  ·  paper white and black shown  ·  {self.verdict}"
        return sheet(panels, foot=foot, across=3)

    @property
    def html(self) -> str:
        """One page that needs nothing from elsewhere."""
        cards = [
            card(each.title, {"Edit": self.edit, "Left alone": each.alone, "Prepared": each.print_})
            | said_of(each.loss, [*verdict_lines(each.loss), *room_lines(each.pipe)])
            for each in self.papers
        ]
        return filled(
            "rank",
            title=f"{self.name} on {len(cards)} papers",
            kicker=f"{where_hung(self.papers[0].pipe)} · computed, not printed",
            verdict=self.verdict,
            cards=cards,
            place=_room(self),
            notes=[f"{self.name}: {line}" for line in self.notes],
            percent=percent,
            large=True,
        )

    def write(self, path: AnyPath, *, overwrite: bool = False) -> None:
        """Write a picture (.png) or a page (.html), whole or not at all.

        Raises
        ------
        OutputError, OutsideError
            Nothing was written.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.compare(pp.read("edit.tif"), ["gloss"], side=120).write("papers.png")
        """
        page = output_path(path).lower().endswith((".html", ".htm"))
        data = self.html.encode() if page else self._repr_png_()
        save(path, data, (".png", ".html", ".htm"), overwrite=overwrite, source=self.source)

    def _repr_png_(self) -> bytes:
        return png(self.picture)


@checked_call
def compare(
    photo: Photo,
    papers: Sequence[Pipeline | Paper | str | Path],
    *,
    room: Room | str | Path | None = None,
    side: int = _SIDE,
    threads: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Comparison:
    """Put one picture on several papers.

    Parameters
    ----------
    photo : Photo
        The edit; read once.
    papers : sequence of Pipeline, Paper, str or Path
        Pipelines, or papers as `printprep.pipeline` takes them.
    room : Room, str or Path, optional
        For papers that are not pipelines already.
    side : int, pixels, 16 to 16384
        Longer side of each picture.
    threads : int, optional
        All cores if not given.
    progress : callable, optional
        Told of pixels done, and of all there are; may raise to stop.

    Raises
    ------
    ParameterError
        For an argument of another kind, or out of its range.
    UnknownName, PresetError, InputError
        If a paper or the room cannot be found or used.

    Examples
    --------
    >>> import printprep as pp
    >>> papers = pp.compare(pp.read("edit.tif"), ["plain-uncoated", "gloss"], room="office", side=120)
    >>> [each.pipe.paper_name for each in papers.papers]
    ['gloss', 'plain-uncoated']
    """
    side, named = whole_side(side), listed("papers", papers, "papers or pipelines")
    if not named:
        raise ParameterError("papers", papers, "must name one paper at least")
    pipes = [paper if isinstance(paper, Pipeline) else pipeline(paper=paper, room=room) for paper in named]
    small = fitted(look(photo, 2 * side, threads=threads, progress=progress), side)
    found = []
    for taken in samples(photo, pipes):
        view = OnScreen(taken.sim)
        found.append(OnPaper(taken.pipe, loss_of(taken), view.prepared(small), view.left_alone(small)))
    found.sort(key=_apart)
    name = printable(photo.path.name, 255) if photo.path else "picture"
    return Comparison(tuple(found), view.edit(small), name, photo.path, tuple(notes(photo)))


def _note(loss: Loss) -> str:
    r = loss.prepared
    return (
        f"{percent(r.visible)} of the picture is lost visibly: colour {percent(r.colour)}, shadows {percent(r.flat)}, "
        f"highlights {percent(r.highlights)}; {r.steps:.0f} of {loss.steps_edit:.0f} visible steps of the shadows show"
    )


def _apart(each: OnPaper) -> float:
    return round(each.loss.prepared.from_edit, 1)


def _room(made: Comparison) -> list[str]:
    """What is said of the room, which is the same for all papers but for its pane."""
    return [line for line in room_lines(made.papers[0].pipe) if line.startswith("Light")]
