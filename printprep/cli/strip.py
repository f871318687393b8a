"""printprep strip: a small sheet first, with crops prepared in several ways."""

from __future__ import annotations

from pathlib import Path

import click

from printprep.cli._options import (
    Amount,
    How,
    Words,
    chosen_pipeline,
    conditions_options,
    how_options,
    result,
    say,
    warn_of_basis,
)
from printprep.cli._sheet import Sheeted, sheet_options, sized
from printprep.errors import ParameterError


@click.command(cls=Sheeted)
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
@conditions_options
@sheet_options
@click.option("--vary", multiple=True, required=True, metavar="PARAM=A..B/N",
              help="What differs: strength=0..1.2/5 or STEP.PARAM=A..B/N; once or twice.")  # fmt: skip
@click.option("--crop", metavar="X,Y,W,H", help="Show this part, in pixels of the edit.")
@click.option("--parts", type=Amount(1, 9), metavar="N",
              help="How many parts of the picture; as many as fit, three at most, by default.")  # fmt: skip
@click.option("--sheet", "strip_sheet", default="A4", show_default=True, metavar="SIZE", help="Sheet of the strip.")
@click.option("-o", "--output", required=True, type=click.Path(path_type=Path), metavar="X.tif", help="Where to write.")
@how_options
def command(
    file: Path, words: Words, sheet: dict[str, object], vary: tuple[str, ...], crop: str | None, parts: int | None,
    strip_sheet: str, output: Path, how: How,
) -> None:  # fmt: skip
    """Print crops of a picture first, at the scale of the final print, prepared with several values.

    Each crop is labelled with its place, such as B3, and its value; printprep pick
    then keeps the best as a preset. Parts are chosen where the values differ most.

    \b
    printprep strip dune.tif --paper canvas --vary strength=0..1.2/5 -o strip.tif
    """
    from printprep.cli._progress import Progress
    from printprep.jobs.strips import strip
    from printprep.photo.bands import limit_threads

    limit_threads(how.threads)
    pipe = sized(chosen_pipeline(words), sheet)
    with Progress(1) as progress:
        made = strip(
            file, output, pipe, vary, crop=_window(crop), parts=parts, sheet=strip_sheet, assume=how.assume,
            overwrite=how.overwrite, threads=how.threads, progress=progress.pixels,
        )  # fmt: skip
    result(str(made))
    if made.alike:
        say("warning: nothing differs between the first and the last value on any part; vary more, or something else")
    if pipe.sheet.size is None:
        say(f"one pixel of the edit is one of the print at {made.ppi:g} ppi; say how large it will be with --size")
    warn_of_basis(pipe)
    say(f"then: printprep pick {output} {list(made.cells)[-1]} --save NAME")


def _window(text: str | None) -> tuple[float, float, float, float] | None:
    if text is None:
        return None
    try:
        x, y, wide, high = (float(part) for part in text.split(","))
    except ValueError:
        raise ParameterError("--crop", text, "must be X,Y,W,H in pixels of the edit, such as 800,400,900,900") from None
    return x, y, wide, high
