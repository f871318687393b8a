"""How papers, rooms and pipelines show themselves in a notebook: small tables."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from printprep.conditions.paper import Paper
    from printprep.conditions.room import Room


def table(title: str, rows: Iterable[tuple[str, str]]) -> str:
    """Rows of a name and a value under a title, as HTML."""
    cells = "".join(
        f'<tr><th scope="row" style="text-align:left;font-weight:normal">{escape(name)}</th>'
        f'<td style="text-align:left">{escape(value)}</td></tr>'
        for name, value in rows
    )
    return f'<table><caption style="text-align:left"><b>{escape(title)}</b></caption><tbody>{cells}</tbody></table>'


def paper_rows(paper: Paper) -> list[tuple[str, str]]:
    """What a paper is, in words and units."""
    assert paper.white is not None and paper.black is not None
    return [
        ("surface", str(paper.surface)),
        ("white, Lab D50", _lab(paper.white)),
        ("black, Lab D50", _lab(paper.black)),
        ("darkest neutral, relative to white", f"L* {paper.neutral_black:.1f}"),
        ("gamut", f"{paper.solid.volume / 1000:.0f} thousand cubic dE*ab"),
        ("fed with", f"{paper.native_ppi:g} pixels per inch"),
        ("certainty", paper.certainty),
        *([("source", paper.source)] if paper.source else []),
    ]


def room_rows(room: Room) -> list[tuple[str, str]]:
    """What a room is, in words and units."""
    evening = room.evening_illuminance_lux
    light = f"{room.illuminance_lux:g} lx" + (f" by day, {evening:g} by evening" if evening is not None else "")
    return [
        ("light on the print", f"{light}, {room.cct_kelvin:g} K"),
        ("surround", room.surround),
        ("glazing", room.glazing),
        ("seen from", f"{room.viewing_distance_m:g} m"),
    ]


def _lab(colour: tuple[float, ...]) -> str:
    return ", ".join(f"{v:.1f}" for v in colour)
