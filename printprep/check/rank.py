"""Which pictures are easy and which are hard on one paper, and why."""

from __future__ import annotations

import os
import textwrap
import threading
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote

import numpy as np
from numpy.typing import NDArray

from printprep.arguments import PATHS, listed
from printprep.check._shares import percent
from printprep.check._words import notes, reason, verdict_lines
from printprep.check.loss import Loss, loss
from printprep.check.place import place_lines
from printprep.check.proof import print_picture
from printprep.check.simulate import simulation
from printprep.errors import PrintprepError, expect
from printprep.files.names import AnyPath, printable
from printprep.files.png import data_uri
from printprep.page.html import environment
from printprep.page.pictures import jpeg, save
from printprep.parameters import checked_call
from printprep.photo.bands import thread_count
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.photo.small import small
from printprep.pipe import Pipeline
from printprep.results import Result

SIDE = 420
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
            row |= {"why": reason(self.loss), **self.loss.to_dict()}
        return row | ({"error": str(self.error)} if self.error is not None else {})

    def __str__(self) -> str:
        return str(self.error) if self.loss is None else f"{self.name}: {reason(self.loss)}"


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
            card(each.name, each.loss, verdict_lines(each.loss), each.notes)
            | {
                "link": quote(links.get(str(each.path), "")),
                "views": [("Prepared", data_uri(jpeg(each.print_), "jpeg"))],
                "wide": each.print_.shape[1],
                "high": each.print_.shape[0],
            }
            for each in self.pictures
            if each.loss is not None
        ]
        return environment().get_template("rank.html.j2").render(
            title=f"Easy and hard on {self.pipe.paper.title or self.pipe.paper_name}",
            kicker=f"{len(cards)} pictures, the easiest first · {place(self.pipe)}",
            verdict="",
            cards=cards,
            place=place_lines(self.pipe),
            notes=[],
            errors=[str(each.error) for each in self.pictures if each.error is not None],
            percent=percent,
            numbered=True,
            linked=bool(links),
            large=False,
        )  # fmt: skip

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
    stop = threading.Event()

    def told(done: int, total: int) -> None:
        if stop.is_set():
            raise InterruptedError
        if progress is not None:
            progress(done, total)

    def one(given: AnyPath | Photo) -> Ranked:
        path = given.path if isinstance(given, Photo) else Path(_text(given))
        name = printable(path.name, 255) if path else "picture"
        try:
            photo = given if isinstance(given, Photo) else read(given, assume=assume)
            return _ranked(photo, pipe, name, told)
        except PrintprepError as error:
            return Ranked(name, path, error=error)

    with ThreadPoolExecutor(min(thread_count(threads), max(len(work), 1))) as pool:
        futures = [pool.submit(one, each) for each in work]
        try:
            done = [future.result() for future in futures]
        except BaseException:
            stop.set()
            pool.shutdown(cancel_futures=True)
            raise
    return Ranking.of(done, pipe)


def _text(path: AnyPath) -> str:
    return os.fsdecode(path)


def _order(each: Ranked) -> tuple[bool, float, float]:
    if each.loss is None:
        return True, 0.0, 0.0
    return False, round(each.loss.score, 3), each.loss.left_alone.from_edit


def _ranked(photo: Photo, pipe: Pipeline, name: str, progress: Callable[[int, int], None]) -> Ranked:
    found = loss(photo, pipe, progress=progress)
    codes = np.rint(small(photo.pixels, SIDE) * np.float32(65535)).astype(np.uint16)
    picture = print_picture(codes, "ready", simulation(photo.profile.data, pipe.suited(photo)), glazing=True)
    return Ranked(name, photo.path, found, picture, notes=tuple(notes(photo)))


def place(pipe: Pipeline) -> str:
    """Where prints hang, in a few words."""
    return f"{pipe.room_name}, {pipe.room.prepared_lux:.0f} lx"


def card(name: str, found: Loss, lines: list[str], notes: tuple[str, ...] = ()) -> dict[str, Any]:
    """What a sheet says of one print."""
    return {"name": name, "link": "", "loss": found, "why": reason(found), "lines": lines, "notes": notes}


def figures(found: Loss) -> str:
    """Loss, colour, shadows and highlights of a print as columns."""
    r = found.prepared
    loss, colour, shadows, highlights = (
        percent(v).replace("under ", "<") for v in (r.visible, r.colour, r.flat, r.highlights)
    )
    return f"{loss:>6}  {colour:>6}  {shadows:>7}  {highlights:>10}"


def entry(columns: str, name: str, text: str) -> list[str]:
    """Figures and a name as lines of at most 80 characters; under them what is said of it."""
    first, *rest = textwrap.wrap(name, WIDE - len(columns) - 2) or [name]
    under = [" " * (len(columns) + 2) + part for part in rest]
    said = textwrap.wrap(text, WIDE, initial_indent=" " * 5, subsequent_indent=" " * 5)
    return [f"{columns}  {first}", *under, *said]


def table_lines(ranking: Ranking) -> list[str]:
    """The ranking as lines of at most 80 characters; what is too long goes on in the next."""
    lines = ["      loss  colour  shadows  highlights  picture, and what is hard about it"]
    for n, each in enumerate(ranking.pictures, 1):
        if each.loss is None:
            lines += entry("  –      –       –        –           –", each.name, "cannot be judged")
        else:
            lines += entry(f"{n:>3} {figures(each.loss)}", each.name, reason(each.loss))
    lines += ["", "Shares of the area, once prepared."]
    for line in place_lines(ranking.pipe):
        lines += textwrap.wrap(line, WIDE, subsequent_indent="  ")
    return lines
