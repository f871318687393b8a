"""printprep export-lut: the compiled table, for other programs that read the open CLF format."""

from __future__ import annotations

from pathlib import Path

import click

from printprep.cli._options import chosen_pipeline, conditions_options, named, overwrite_option, result


@click.command()
@conditions_options
@click.option(
    "--profile",
    required=True,
    metavar="PROFILE",
    help="What the table's input means: sRGB, opRGB, ROMM RGB, or the path of an ICC profile.",
)
@click.option(
    "-o", "--output", required=True, type=click.Path(path_type=Path), metavar="FILE.clf", help="Where to write."
)
@overwrite_option
def command(
    paper: str | None, room: str | None, metered: str | None, preset: str | None, settings: tuple[str, ...],
    hand_over: str, profile: str, output: Path, overwrite: bool,
) -> None:  # fmt: skip
    """Write what prepare would do to a colour as one table (Common LUT Format).

    Steps that look at neighbouring pixels cannot be in a table; their pointwise part can
    (--set gamut-fit.glow=0).
    """
    from printprep.photo.profile import Profile

    pipe = chosen_pipeline(paper, room, metered, preset, settings, hand_over)
    pipe.plan(Profile.load(profile)).export(output, overwrite=overwrite)
    result(named(output))
