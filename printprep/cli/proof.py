"""printprep proof: a picture of the print, for a screen."""

from __future__ import annotations

from pathlib import Path

import click

from printprep.cli._options import (
    Amount,
    How,
    Words,
    announce,
    chosen_pipeline,
    conditions_options,
    how_options,
    named,
    result,
    warn_of_basis,
)


@click.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
@conditions_options
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), required=True, metavar="FILE",
    help="Where to write: a .png, .tif or .tiff.",
)  # fmt: skip
@click.option("--pair", is_flag=True, help="Edit, left alone and prepared side by side, with labels.")
@click.option("--screen", metavar="PROFILE", help="ICC profile of your screen; sRGB if not given.")
@click.option("--light", is_flag=True, help="Show what the room's light leaves to be seen.")
@click.option("--glazing/--no-glazing", default=True, help="Show the room's pane in front of the print, as by default.")
@click.option(
    "--side", type=Amount(64, 16384, unit="pixels"), default=1600, show_default=True, metavar="PIXELS",
    help="Longer side of each picture, at most.",
)  # fmt: skip
@how_options
def command(
    file: Path,
    words: Words,
    output: Path,
    pair: bool,
    screen: str | None,
    light: bool,
    glazing: bool,
    side: int,
    how: How,
) -> None:
    """Show on a screen how the print of FILE will look: paper white, paper black, and all it cannot hold.

    \b
    printprep proof lanterns.tif --paper cotton-rag --pair -o proof.png
    """
    from printprep.check._words import notes
    from printprep.check.proof import proof
    from printprep.cli._progress import Progress
    from printprep.page.pictures import can_save
    from printprep.photo.read import read

    pipe = chosen_pipeline(words)
    can_save(output, (".png", ".tif", ".tiff"), overwrite=how.overwrite, source=file)
    photo = read(file, assume=how.assume)
    announce(file, notes(photo))
    with Progress(1) as progress:
        done = proof(
            photo, pipe, pair=pair, screen=screen, light=light, glazing=glazing, side=side,
            threads=how.threads, progress=progress.pixels,
        )  # fmt: skip
    done.write(output, overwrite=how.overwrite)
    result(named(output))
    warn_of_basis(pipe)
