"""printprep export-lut: the compiled table, for other programs: in the open CLF format, or as a .cube."""

from __future__ import annotations

from pathlib import Path

import click

from printprep.cli._options import Words, chosen_pipeline, conditions_options, named, overwrite_option, result, say


@click.command()
@conditions_options
@click.option(
    "--profile",
    required=True,
    metavar="PROFILE",
    help="What the table's input means: sRGB, opRGB, ROMM RGB, or the path of an ICC profile.",
)
@click.option(
    "-o", "--output", required=True, type=click.Path(path_type=Path), metavar="FILE.clf",
    help="Where to write; FILE.cube for programs that know only that.",
)
@click.option(
    "--pointwise", is_flag=True, help="Leave out what depends on surroundings; the file says what is missing."
)
@overwrite_option
def command(words: Words, profile: str, output: Path, pointwise: bool, overwrite: bool) -> None:
    """Write what prepare would do to a colour as one table (Common LUT Format, or a .cube).

    \b
    printprep export-lut --profile opRGB --paper gloss --pointwise -o gloss.clf

    What depends on a colour's surroundings cannot be in a table: such a pipeline is refused, unless
    --pointwise asks for the rest of it.
    """
    from printprep.colour.profile import Profile
    from printprep.render.export import error_words
    from printprep.render.plan import missing

    plan = chosen_pipeline(words).plan(Profile.load(profile))
    done = plan.export(output, overwrite=overwrite, pointwise=pointwise)
    if plan.around:
        say(f"{str(output)!r}: pointwise part only: {missing(plan.around)}")
    if done.most_error:
        say(f"{str(output)!r}: {error_words(done.mean_error, done.most_error)}")
    result(named(output))
