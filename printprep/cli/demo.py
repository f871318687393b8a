"""printprep demo: a scene of our own, prepared for two papers and two rooms."""

from __future__ import annotations

import textwrap
from pathlib import Path

import click

from printprep.cli._options import Amount, named, overwrite_option, result, threads_option


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), default="printprep-demo", metavar="[DIR]")
@threads_option
@overwrite_option
@click.option("--megapixels", type=Amount(0.01, 100, whole=False), default=12.0, hidden=True)
def command(folder: Path, threads: int | None, overwrite: bool, megapixels: float) -> None:
    """Paint a scene, prepare it for two papers and two rooms, and show what that does.

    \b
    printprep demo lanterns

    Everything goes into DIR (printprep-demo if not given): the scene as a 16-bit TIFF, what was prepared
    from it, and pictures to look at. Nothing is opened, nothing else is touched.
    """
    from printprep.cli._progress import Told
    from printprep.demo.run import run_demo

    with Told() as tell:
        made = run_demo(folder, megapixels=megapixels, overwrite=overwrite, threads=threads, tell=tell)
    result("A lantern festival on a river at blue hour, prepared for two papers and two rooms.\n")
    for head, look in (("To look at:", True), ("Files:", False)):
        result(head)
        for item in made:
            if item.look == look:
                result(f"  {named(item.path)}")
                result(textwrap.fill(item.shows, 80, initial_indent=" " * 6, subsequent_indent=" " * 6))
        result("")
    result("Next: printprep prepare YOUR.tif --paper cotton-rag --room evening-sitting-room")
    result("Print a small sheet first, and judge it where the large one will hang.")
