"""printprep rank: which pictures are easy and which are hard on one paper."""

from __future__ import annotations

from pathlib import Path

import click

from printprep.cli._options import (
    How,
    Words,
    announce,
    chosen_pipeline,
    conditions_options,
    how_options,
    named,
    result,
    say,
    warn_of_basis,
)


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@conditions_options
@click.option("-o", "--output", type=click.Path(path_type=Path), metavar="X.html", help="Also write a contact sheet.")
@click.option("--json", "as_json", is_flag=True, help="Print all figures as JSON.")
@how_options
def command(
    files: tuple[Path, ...],
    words: Words,
    output: Path | None,
    as_json: bool,
    how: How,
) -> int:
    """Say which pictures suit a paper, the easiest first, and what is hard about the others.

    \b
    printprep rank *.tif --paper cotton-rag --room hallway
    printprep rank *.tif --paper cotton-rag -o contact.html

    The figure is the share of a picture's area whose loss is visible once it is prepared.
    """
    from printprep.check.rank import rank
    from printprep.cli._progress import Progress
    from printprep.page.pictures import can_save

    pipe = chosen_pipeline(words)
    if output is not None:
        can_save(output, (".html", ".htm"), overwrite=how.overwrite)
    with Progress(len(files)) as progress:
        ranking = rank(files, pipe, assume=how.assume, threads=how.threads, progress=progress.pixels)
    result(ranking.to_json() if as_json else str(ranking))
    worst = 0
    for each in ranking.pictures:
        announce(Path(each.path or each.name), each.notes)
        if each.error is not None:
            say(str(each.error))
            worst = max(worst, each.error.exit_code)
    if output is not None:
        ranking.write(output, overwrite=how.overwrite)
        if not as_json:
            result(named(output))
    if any(each.loss for each in ranking.pictures):
        warn_of_basis(pipe)
    return worst
