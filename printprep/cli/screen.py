"""printprep screen: the screen white that agrees with a print in its room, and a picture to check the screen with."""

from __future__ import annotations

from pathlib import Path

import click

from printprep.cli._options import (
    chosen_room,
    default,
    json_option,
    metered_option,
    overwrite_option,
    paper_option,
    result,
    room_option,
    say,
)
from printprep.errors import ParameterError, PrintprepError


@click.command()
@paper_option
@room_option
@metered_option
@click.option("-o", "--output", type=click.Path(path_type=Path), metavar="X.png",
              help="Also write a picture to check near-black and near-white with.")  # fmt: skip
@click.option("--size", default="1920x1080", show_default=True, metavar="WxH", help="Pixels of your screen.")
@json_option
@overwrite_option
def command(
    paper: str | None, room: str | None, metered: str | None, output: Path | None, size: str, as_json: bool,
    overwrite: bool,
) -> None:  # fmt: skip
    """Say how bright a screen agrees with a print in its room, and what to do where it cannot.

    \b
    printprep screen --paper cotton-rag --room hallway
    printprep screen --paper gloss --metered 'f/4 1/15 ISO 400' -o check.png
    """
    from printprep.targets.screen import screen, write_check

    paper, place = paper or default("paper"), chosen_room(room, metered)
    if paper is None or place is None:
        missing, do = ("paper", "add --paper NAME") if paper is None else ("room", "add --room NAME or --room lux=85")
        raise PrintprepError(f"no {missing} is named", do=f"{do} (printprep presets lists them)")
    pixels = _size(size)
    advice = screen(paper, place)
    if output is not None:
        write_check(output, width=pixels[0], height=pixels[1], overwrite=overwrite)
    result(advice.to_json() if as_json else str(advice))
    if output is not None:
        say(f"{str(output)!r}: show it unscaled, full screen")


def _size(text: str) -> tuple[int, int]:
    parts = text.lower().replace("×", "x").split("x")
    if len(parts) != 2 or not all(p.strip().isdecimal() and len(p) < 10 for p in parts):
        raise ParameterError("--size", text, "must be WIDTHxHEIGHT in pixels, such as 1920x1080")
    return int(parts[0]), int(parts[1])
