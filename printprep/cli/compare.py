"""printprep compare: one picture on several papers."""

from __future__ import annotations

from pathlib import Path

import click

from printprep.cli._options import (
    How,
    Words,
    announce,
    chosen_pipeline,
    how_options,
    metered_option,
    named,
    result,
    room_option,
    warn_of_basis,
)


@click.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
@click.option(
    "--papers", required=True, metavar="A,B,C", help="Papers to compare: names or paths, with commas between them."
)
@room_option
@metered_option
@click.option(
    "--set", "settings", multiple=True, metavar="STEP.PARAM=VALUE", help="Set one parameter of one step, on each paper."
)
@click.option("-o", "--output", type=click.Path(path_type=Path), metavar="FILE", help="Also write a .png or .html.")
@click.option("--json", "as_json", is_flag=True, help="Print all figures as JSON.")
@how_options
def command(
    file: Path,
    papers: str,
    room: str | None,
    metered: str | None,
    settings: tuple[str, ...],
    output: Path | None,
    as_json: bool,
    how: How,
) -> None:
    """Say what FILE loses on each of several papers, and show the prints side by side.

    \b
    printprep compare lanterns.tif --papers gloss,cotton-rag -o papers.png
    """
    from printprep.check._words import notes
    from printprep.check.compare import compare
    from printprep.cli._progress import Progress
    from printprep.errors import ParameterError
    from printprep.page.pictures import can_save
    from printprep.photo.read import read

    names = [name.strip() for name in papers.split(",") if name.strip()]
    if not names:
        raise ParameterError("--papers", papers, "must name papers with commas between them, such as gloss,cotton-rag")
    pipes = [chosen_pipeline(Words(name, room, metered, None, settings, "source")) for name in names]
    if output is not None:
        can_save(output, (".png", ".html", ".htm"), overwrite=how.overwrite, source=file)
    photo = read(file, assume=how.assume)
    announce(file, notes(photo))
    with Progress(1) as progress:
        made = compare(photo, pipes, threads=how.threads, progress=progress.pixels)
    result(made.to_json() if as_json else str(made))
    if output is not None:
        made.write(output, overwrite=how.overwrite)
        if not as_json:
            result(named(output))
    warn_of_basis(*pipes)
