"""printprep pick: keep the best place of a test strip as a preset, or make the next strip around it."""

from __future__ import annotations

import shlex
from pathlib import Path

import click

from printprep.cli._options import named, overwrite_option, result, say, threads_option
from printprep.errors import PrintprepError


@click.command()
@click.argument("strip", type=click.Path(path_type=Path), metavar="X.tif")
@click.argument("place", metavar="B3")
@click.option("--save", "name", metavar="NAME", help="Keep it as a preset that repeats it exactly.")
@click.option("--refine", "narrower", is_flag=True, help="Make the next strip, with values around this one.")
@click.option("-o", "--output", type=click.Path(path_type=Path), metavar="Y.tif",
              help="Where the next strip goes; beside the first as X-B3.tif by default.")  # fmt: skip
@click.option("--edit", type=click.Path(path_type=Path), metavar="FILE",
              help="The edit, for the next strip; a file of its name beside the strip by default.")  # fmt: skip
@click.option("--paper", "-p", metavar="PAPER", help="Where the paper's profile is now, if it was moved.")
@threads_option
@overwrite_option
def command(
    strip: Path, place: str, name: str | None, narrower: bool, output: Path | None, edit: Path | None,
    paper: str | None, threads: int | None, overwrite: bool,
) -> None:  # fmt: skip
    """Choose a place on the test strip X.tif, and keep what made it, or look closer.

    \b
    printprep pick strip.tif B3 --save wall-by-the-stairs
    printprep pick strip.tif B3 --refine -o closer.tif
    """
    from printprep.cli._progress import Progress
    from printprep.jobs.pick import pick
    from printprep.photo.bands import limit_threads

    if name is None and not narrower:
        raise PrintprepError("nothing is to be done with it", where=place, do="add --save NAME, or --refine")
    limit_threads(threads)
    picked = pick(strip, place, paper=paper)
    said = ", ".join(f"{key} {value:g}" for key, value in picked.settings.items())
    if name is not None:
        where = picked.save(name, overwrite=overwrite)
        result(f"{named(where)}: {picked.place}, {said}")
        beside = edit or strip.with_name(picked.edit or "FILE.tif")
        file = str(beside) if beside.is_file() else picked.edit or "FILE.tif"
        say(f"next: printprep prepare {shlex.join([file, '--preset', name])}")
    if narrower:
        goes = output or strip.with_name(f"{strip.stem}-{picked.place}.tif")
        with Progress(1) as progress:
            made = picked.refine(goes, edit=edit, overwrite=overwrite, threads=threads, progress=progress.pixels)
        result(str(made))
