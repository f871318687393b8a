"""printprep paper: keep a paper of one's own as a preset."""

from __future__ import annotations

from pathlib import Path

import click

from printprep.cli import _complete
from printprep.cli._options import named, overwrite_option, result, say

_FAR = 12
"""First dark step from which something other than the paper is likely (common practice, no source)."""


@click.group()
def command() -> None:
    """Keep a paper of your own, to be named like any other.

    \b
    printprep paper new my-rag --profile maker.icc
    printprep paper new my-rag --seen "first-dark=7 last-light=97" --like canvas
    """


@command.command("new")
@click.argument("name")
@click.option("--profile", type=click.Path(path_type=Path), metavar="X.icc", help="The paper's ICC profile.")
@click.option("--measurements", type=click.Path(path_type=Path), metavar="X.txt",
              help="A CGATS.17 measurement, or the eight patches as lines: white,96.3,0.1,2.2")  # fmt: skip
@click.option("--seen", metavar="'first-dark=7 last-light=97 mid=48'",
              help="What the eye finds on the printed target; see printprep target.")  # fmt: skip
@click.option("--like", metavar="PAPER", shell_complete=_complete.papers,
              help="A paper like it, whose colours and steps are taken over.")  # fmt: skip
@click.option("--room", "-r", metavar="ROOM", shell_complete=_complete.rooms,
              help="Where the target was looked at: a preset, or light such as lux=85. By default 500 lx.")  # fmt: skip
@click.option("--title", default="", metavar="TEXT", help="A name for people.")
@overwrite_option
def new_command(
    name: str, profile: Path | None, measurements: Path | None, seen: str | None, like: str | None, room: str | None,
    title: str, overwrite: bool,
) -> None:  # fmt: skip
    """Keep a paper as NAME: from its profile, from measurements, or from what is seen on the printed target.

    What was seen may stand beside a profile or a measurement: it then says what they do not know.

    \b
    printprep paper new my-rag --measurements chart.txt
    """
    from printprep.conditions.readings import parse_readings
    from printprep.jobs.new_preset import LIKE, new_paper

    where = new_paper(
        name, profile=profile, measurements=measurements, seen=seen, like=like, room=room, title=title,
        overwrite=overwrite,
    )  # fmt: skip
    if like is None and profile is None and measurements is None:
        say(f"colours are those of {LIKE}; if another paper is nearer, name it with --like and --overwrite")
    readings = parse_readings(seen) if seen else None
    if readings is not None and (readings.first_dark or 0) >= _FAR:
        say(
            f"warning: first-dark={readings.first_dark} is far for any paper: check that black ink, media setting and "
            "the side printed on are right before you use this"
        )
    result(f"{named(where)}: paper {name}")
    say(f"next: printprep presets show {name}, then printprep prepare FILE.tif --paper {name}")
