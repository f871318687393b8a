"""printprep room: keep a room of one's own as a preset."""

from __future__ import annotations

import click

from printprep.cli import _complete
from printprep.cli._options import named, overwrite_option, result, say


@click.group()
def command() -> None:
    """Keep a room of your own, to be named like any other.

    \b
    printprep room new stairs --metered 'f/4 1/15 ISO 400'
    printprep room new study --lux 120 --like evening-sitting-room
    """


@command.command("new")
@click.argument("name")
@click.option("--metered", metavar="'f/4 1/15 ISO 400'",
              help="Light measured with a camera pointed at a white sheet where the print will hang.")  # fmt: skip
@click.option("--lux", type=float, metavar="N", help="The light there, if you have a light meter.")
@click.option("--like", metavar="ROOM", shell_complete=_complete.rooms,
              help="A room, or lux=85,glazing=clear, that the rest is taken from.")  # fmt: skip
@click.option("--title", default="", metavar="TEXT", help="A name for people.")
@overwrite_option
def new_command(
    name: str, metered: str | None, lux: float | None, like: str | None, title: str, overwrite: bool
) -> None:
    """Keep a room as NAME: by a camera's reading, which the file keeps, or by its light in lux.

    \b
    printprep room new study --lux 120
    """
    from printprep.jobs.new_preset import new_room
    from printprep.named import room

    where = new_room(name, metered=metered, lux=lux, like=like, title=title, overwrite=overwrite)
    result(f"{named(where)}: room {name}, {room(where).illuminance_lux:g} lx")
    say(f"next: printprep presets show {name}, then printprep prepare FILE.tif --paper PAPER --room {name}")
