"""The page of a series: its prints side by side in hanging order, and which of them stands out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote

import numpy as np
from numpy.typing import NDArray

from printprep.files.png import data_uri
from printprep.page.html import environment
from printprep.page.pictures import jpeg
from printprep.pipe import Pipeline


@dataclass(frozen=True)
class OnWall:
    """A print in its place.

    Parameters
    ----------
    name : str
        Of its file, safe to show.
    lightness : float, L*
        Mean.
    said : str
        How it stands out, in a sentence; empty where it does not.
    print_ : (rows, columns, 3) ndarray of uint8
        A small sRGB picture of it.
    """

    name: str
    lightness: float
    said: str
    print_: NDArray[np.uint8]


def wall_page(prints: Sequence[OnWall], pipe: Pipeline, links: Mapping[str, str]) -> str:
    """The page; `links` are pages about prints, beside it, by the prints' names."""
    cards = [
        {
            "name": each.name,
            "link": quote(links.get(each.name, "")),
            "picture": data_uri(jpeg(each.print_), "jpeg"),
            "wide": each.print_.shape[1],
            "high": each.print_.shape[0],
            "share": f"{each.print_.shape[1] / each.print_.shape[0]:.3f}",
            "lightness": f"{each.lightness:.0f}",
            "said": each.said,
        }
        for each in prints
    ]
    return environment().get_template("wall.html.j2").render(
        title=f"{len(cards)} prints side by side",
        kicker=f"{pipe.paper.title or pipe.paper_name} · {pipe.room_name}, {pipe.room.prepared_lux:.0f} lx",
        cards=cards,
        out=[each.said for each in prints if each.said],
    )  # fmt: skip
