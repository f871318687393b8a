"""printprep report: one page on what a print keeps and loses."""

from __future__ import annotations

import textwrap
from pathlib import Path

import click

from printprep.cli._options import (
    assume_option,
    chosen_pipeline,
    conditions_options,
    named,
    overwrite_option,
    result,
    say,
    threads_option,
    told,
    warn_of_basis,
)


@click.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
@conditions_options
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), required=True, metavar="X.html", help="Where to write the page."
)
@assume_option
@threads_option
@overwrite_option
def command(
    file: Path,
    paper: str | None,
    room: str | None,
    metered: str | None,
    preset: str | None,
    settings: tuple[str, ...],
    hand_over: str,
    strength: float | None,
    output: Path,
    assume: str | None,
    threads: int | None,
    overwrite: bool,
) -> None:
    """Say what the print of FILE will lose, where, and what preparation changes: a page to open in a browser.

    \b
    printprep report lanterns.tif --paper cotton-rag -o lanterns.html
    """
    from printprep.check._place import place_lines
    from printprep.check._words import headline
    from printprep.check.report import report
    from printprep.cli._progress import Told
    from printprep.page.pictures import can_save
    from printprep.photo import read

    pipe = chosen_pipeline(paper, room, metered, preset, settings, hand_over, strength)
    can_save(output, (".html", ".htm"), overwrite=overwrite, source=file)
    photo = read(file, assume=assume)
    for line in photo.announcements:
        say(f"{str(file)!r}: {line}")
    with Told() as tell:
        made = report(photo, pipe, threads=threads, tell=tell)
    made.write(output, overwrite=overwrite)
    result(named(output))
    for line in (headline(made.loss), *told(made.loss), *place_lines(pipe, photo.profile)):
        result(textwrap.fill(line, 80, initial_indent="  ", subsequent_indent="    "))
    warn_of_basis(pipe)
