"""printprep reprint: a print made before, repeated."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from printprep.cli._options import assume_option, named, overwrite_option, paper_option, result, say, threads_option

if TYPE_CHECKING:
    from printprep.jobs.again import Reprinted


@click.command()
@click.argument("old_file", metavar="OLD.tif", type=click.Path())
@click.option("--input", "edit", metavar="EDIT.tif", type=click.Path(), required=True, help="The edit to print.")
@click.option("-o", "--output", metavar="FILE", type=click.Path(), required=True, help="Where to write.")
@paper_option
@assume_option
@threads_option
@click.option("--again", is_flag=True, help="Take an edit that is prepared already.")
@click.option("--dated", is_flag=True, help="Let the job ticket say when it was prepared.")
@overwrite_option
def command(
    old_file: str,
    edit: str,
    output: str,
    paper: str | None,
    assume: str | None,
    threads: int | None,
    again: bool,
    dated: bool,
    overwrite: bool,
) -> None:
    """Repeat a print made before: all as the job ticket in OLD.tif tells.

    \b
    printprep reprint hallway.tif --input lanterns.tif -o hallway-2.tif

    Says whether the file is the same, or what differs (version, profile, another edit) and how far that moves the
    print. --paper is needed only where the ticket's own paper is not found.
    """
    from printprep.cli._progress import Progress
    from printprep.jobs.again import like, reprint
    from printprep.photo.bands import limit_threads
    from printprep.ticket import dialogue

    limit_threads(threads)
    made_like = like(old_file, paper=paper)
    with Progress(1) as progress:
        done = reprint(
            old_file, edit, output, made_like=made_like, overwrite=overwrite, threads=threads, assume=assume,
            again=again, dated=dated, progress=progress.pixels,
        )  # fmt: skip
    _tell(done, Path(edit), Path(output))
    say("when printing: " + dialogue(made_like.pipe.hand_over))


def _tell(done: Reprinted, edit: Path, output: Path) -> None:
    for line in done.done.announcements:
        say(f"{str(edit)!r}: {line}")
    result(f"{named(output)}\n  {done}")
