"""Which pictures are easy and which are hard on one paper, and why."""

from __future__ import annotations

import os
import textwrap
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote

import numpy as np
from numpy.typing import NDArray

from printprep.arguments import PATHS, listed
from printprep.check._words import difficulty, notes, percent, verdict_lines
from printprep.check.loss import Loss, loss_of
from printprep.check.place import place_lines
from printprep.check.sampled import samples
from printprep.check.seen import OnScreen
from printprep.errors import PrintprepError, expect
from printprep.files.names import AnyPath, printable
from printprep.files.png import data_uri
from printprep.page.html import filled
from printprep.page.pictures import jpeg, save
from printprep.parameters import checked_call
from printprep.photo.bands import ordered, thread_count
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.photo.small import small
from printprep.pipe import Pipeline
from printprep.results import Result

THUMBNAIL = 420
"""Longer side of a thumbnail, pixels."""

WIDE = 80
"""Columns of a terminal."""


@dataclass(frozen=True)
class Ranked(Result):
    """One picture's place.

    Parameters
    ----------
    name : str
        Its file's name, safe to show.
    path : Path or None
        The file.
    loss : Loss or None
        What it loses; None after an error.
    print_ : (rows, columns, 3) ndarray of uint8
        A small sRGB picture of the prepared print.
    error : PrintprepError or None
        Why it has no place.
    notes : tuple of str
        What is to be said of its file.
    """

    name: str
    path: Path | None = None
    loss: Loss | None = None
    print_: NDArray[np.uint8] = field(default_factory=lambda: np.zeros((0, 0, 3), np.uint8), repr=False)
    error: PrintprepError | None = None
    notes: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Its file, ``notes``, and ``why`` and all of its `Loss`; or the error."""
        row: dict[str, Any] = {"file": str(self.path or self.name), "notes": list(self.notes)}
        if self.loss is not None:
            row |= {"why": difficulty(self.loss), **self.loss.to_dict()}
        return row | ({"error": str(self.error)} if self.error is not None else {})

    def __str__(self) -> str:
        return str(self.error) if self.loss is None else f"{self.name}: {difficulty(self.loss)}"


@dataclass(frozen=True)
class Ranking(Result):
    """Pictures, the easiest first; those that could not be read last.

    Parameters
    ----------
    pictures : tuple of Ranked
        By the share of the area whose loss is visible once prepared; where that is the same to 0.1 %, by
        how little the unprepared print differs from the edit (mean CIEDE2000).
    pipe : Pipeline
        Paper and room.

    Examples
    --------
    >>> import printprep as pp
    >>> ranking = pp.rank(["edit.tif"], pp.pipeline(paper="gloss", room="office"))
    >>> ranking.to_dict()["paper"], [each.name for each in ranking.pictures]
    ('gloss', ['edit.tif'])
    """

    pictures: tuple[Ranked, ...]
    pipe: Pipeline

    @classmethod
    def of(cls, pictures: Iterable[Ranked], pipe: Pipeline) -> Ranking:
        """Pictures put in order.

        Examples
        --------
        >>> import printprep as pp
        >>> ranking = pp.rank(["edit.tif"], pp.pipeline(paper="gloss"))
        >>> pp.Ranking.of(ranking.pictures, ranking.pipe) == ranking
        True
        """
        return cls(tuple(sorted(pictures, key=_order)), pipe)

    def __str__(self) -> str:
        return "\n".join(table_lines(self))

    def to_dict(self) -> dict[str, Any]:
        """All figures as plain values; shares are 0 to 1, differences CIEDE2000, steps JND."""
        head = {"paper": self.pipe.paper_name, "room": self.pipe.room_name, "place": place_lines(self.pipe)}
        return {**head, "pictures": [each.to_dict() for each in self.pictures]}

    @property
    def html(self) -> str:
        """The contact sheet: one page that needs nothing from elsewhere."""
        return self.sheet()

    def sheet(self, links: Mapping[str, str] | None = None) -> str:
        """The contact sheet, with links.

        Parameters
        ----------
        links : mapping of str to str, optional
            Pages about pictures, beside the sheet, by the pictures' paths.

        Examples
        --------
        >>> import printprep as pp
        >>> page = pp.rank(["edit.tif"], pp.pipeline(paper="gloss")).sheet({"edit.tif": "edit.html"})
        >>> 'href="edit.html"' in page
        True
        """
        links = links or {}
        cards = [
            card(each.name, {"Prepared": each.print_}, links.get(str(each.path), ""))
            | said_of(each.loss, verdict_lines(each.loss), each.notes)
            for each in self.pictures
            if each.loss is not None
        ]
        return filled(
            "rank",
            title=f"Easy and hard on {self.pipe.paper.title or self.pipe.paper_name}",
            kicker=f"{len(cards)} pictures, the easiest first · {where_hung(self.pipe)}",
            cards=cards,
            place=place_lines(self.pipe),
            errors=[str(each.error) for each in self.pictures if each.error is not None],
            percent=percent,
            linked=bool(links),
            large=False,
        )

    def write(self, path: AnyPath, *, overwrite: bool = False) -> None:
        """Write the contact sheet, whole or not at all.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.rank(["edit.tif"], pp.pipeline(paper="gloss")).write("ranking.html")
        """
        save(path, self.html.encode(), (".html", ".htm"), overwrite=overwrite)


@checked_call
def rank(
    pictures: Iterable[AnyPath | Photo],
    pipe: Pipeline,
    *,
    assume: AnyPath | None = None,
    threads: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Ranking:
    """Rank pictures by what they lose on one paper.

    Parameters
    ----------
    pictures : iterable of path or Photo
        The edits.
    pipe : Pipeline
        Paper, room and what is done.
    assume : str or path, optional
        Profile of files that carry none.
    threads : int, optional
        Pictures in work at once; as many as there are cores if not given.
    progress : callable, optional
        Told of pixels done (first 0) and of all there are in each picture; may raise to stop.

    Returns
    -------
    Ranking
        A picture that cannot be read is listed with its error; the rest goes on.

    Raises
    ------
    ParameterError
        For an argument of another kind.

    Examples
    --------
    >>> import printprep as pp
    >>> ranking = pp.rank(["edit.tif", "none.tif"], pp.pipeline(paper="gloss", room="office"))
    >>> for each in ranking.pictures:
    ...     print(each.name, each.error or "can be judged")
    edit.tif can be judged
    none.tif 'none.tif': does not exist; check the name
    """
    work = listed("pictures", pictures, "paths or Photos")
    for each in work:
        expect("pictures", each, (Photo, *PATHS), "must hold paths and Photos only")

    def one(number: int) -> Ranked:
        given = work[number]
        path = given.path if isinstance(given, Photo) else Path(os.fsdecode(given))
        name = printable(path.name, 255) if path else "picture"
        try:
            photo = given if isinstance(given, Photo) else read(given, assume=assume)
            (taken,) = samples(photo, [pipe], progress)
            codes = np.rint(small(photo.pixels, THUMBNAIL) * np.float32(65535)).astype(np.uint16)
            return Ranked(name, path, loss_of(taken), OnScreen(taken.sim).prepared(codes), notes=tuple(notes(photo)))
        except PrintprepError as error:
            return Ranked(name, path, error=error)

    return Ranking.of(ordered(len(work), thread_count(threads), lambda: one), pipe)


def _order(each: Ranked) -> tuple[bool, float, float]:
    if each.loss is None:
        return True, 0.0, 0.0
    return False, round(each.loss.score, 3), each.loss.left_alone.from_edit


def where_hung(pipe: Pipeline) -> str:
    """Where prints hang, in a few words."""
    return f"{pipe.room_name}, {pipe.room.prepared_lux:.0f} lx"


def card(name: str, views: Mapping[str, NDArray[np.uint8]], link: str = "") -> dict[str, Any]:
    """A print on a page of several: its pictures, all of one size, and the page about it."""
    high, wide = next(iter(views.values())).shape[:2]
    pictures = [(title, data_uri(jpeg(picture), "jpeg")) for title, picture in views.items()]
    return {"name": name, "link": quote(link), "views": pictures, "wide": wide, "high": high}


def said_of(found: Loss, lines: list[str], notes: tuple[str, ...] = ()) -> dict[str, Any]:
    """What is said beside it."""
    return {"loss": found, "why": difficulty(found), "lines": lines, "notes": notes}


def wall_page(prints: Iterable[tuple[Ranked, float, str]], pipe: Pipeline, links: Mapping[str, str]) -> str:
    """The page of a series in hanging order: prints with their mean L*, and how they stand out, if they do.

    `links` are pages about them, beside this one, by the pictures' paths.
    """
    cards = [
        card(each.name, {"Prepared": each.print_}, links.get(str(each.path), "")) | {"lightness": mean, "said": said}
        for each, mean, said in prints
    ]
    kicker = f"{pipe.paper.title or pipe.paper_name} · {where_hung(pipe)}"
    return filled("wall", title=f"{len(cards)} prints side by side", kicker=kicker, cards=cards)


def figures(found: Loss) -> str:
    """Loss, colour, shadows and highlights of a print as columns."""
    r = found.prepared
    loss, colour, shadows, highlights = (
        percent(v).replace("under ", "<") for v in (r.visible, r.colour, r.flat, r.highlights)
    )
    return f"{loss:>6}  {colour:>6}  {shadows:>7}  {highlights:>10}"


def entry(columns: str, name: str, text: str) -> list[str]:
    """Figures and a name as lines of at most 80 characters; under them what is said of it."""
    beside = textwrap.wrap(name, WIDE, initial_indent=f"{columns}  ", subsequent_indent=" " * (len(columns) + 2))
    return [*beside, *textwrap.wrap(text, WIDE, initial_indent=" " * 5, subsequent_indent=" " * 5)]


def table_lines(ranking: Ranking) -> list[str]:
    """The ranking as lines of at most 80 characters; what is too long goes on in the next."""
    lines = ["      loss  colour  shadows  highlights  picture, and what is hard about it"]
    for n, each in enumerate(ranking.pictures, 1):
        if each.loss is None:
            lines += entry("  –      –       –        –           –", each.name, "cannot be judged")
        else:
            lines += entry(f"{n:>3} {figures(each.loss)}", each.name, difficulty(each.loss))
    lines += ["", "Shares of the area, once prepared."]
    for line in place_lines(ranking.pipe):
        lines += textwrap.wrap(line, WIDE, subsequent_indent="  ")
    return lines
