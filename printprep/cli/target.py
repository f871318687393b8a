"""printprep target: a test target with known values, and the page on how to read it."""

from __future__ import annotations

from pathlib import Path

import click

from printprep.cli._options import (
    Amount,
    assume_option,
    default,
    named,
    overwrite_option,
    paper_option,
    result,
    say,
    threads_option,
)


@click.command()
@click.option("-o", "--output", type=click.Path(path_type=Path), metavar="X.tif",
              help="Where to write; the values go to X.txt, the page to X.html.")  # fmt: skip
@click.option("--again", metavar="LAST.tif", type=click.Path(),
              help="The same target once more: sheet and resolution of LAST.tif.")  # fmt: skip
@click.option("--read", "scan", metavar="SCAN.tif", type=click.Path(),
              help="A flat-bed scan: last month's print of LAST.tif left, this month's right.")  # fmt: skip
@click.option("--swapped", metavar="SCAN.tif", type=click.Path(), help="The same, with the two changed round.")
@assume_option
@click.option("--sheet", default="A4", show_default=True, metavar="SIZE",
              help="A6, A5, A4, A3, A3+, A2, such a name with -landscape, or WIDTHxHEIGHT in mm.")  # fmt: skip
@click.option("--ppi", type=Amount(100, 1440, whole=False, unit="pixels per inch"), default=360.0, show_default=True,
              help="What the printer wants to be fed with.")  # fmt: skip
@paper_option
@click.option("--compress", type=click.Choice(["none", "deflate", "lzw", "zstd"]), default="lzw", show_default=True,
              help="How to store the TIFF.")  # fmt: skip
@threads_option
@overwrite_option
def command(
    output: Path | None, again: str | None, scan: str | None, swapped: str | None, assume: str | None, sheet: str,
    ppi: float, paper: str | None, compress: str, threads: int | None, overwrite: bool,
) -> None:  # fmt: skip
    """Write a test target to print unedited, and a page that shows how it looks when something is wrong.

    \b
    printprep target -o target.tif
    printprep target -o small.tif --sheet A6 --paper cotton-rag
    printprep target --again small.tif -o june.tif
    printprep target --again small.tif --read scan-1.tif --swapped scan-2.tif

    The target is the same for all papers; --paper says what the page's pictures are made for.

    --read says what moved since last month, and what to check first. Keep last month's print dark and dry; scan
    both prints together, the scanner's automatic corrections off, then once more with the two changed round.
    """
    if scan is not None or swapped is not None:
        _read(again, scan, swapped, assume, output)
        return
    if output is None:
        raise click.UsageError("Missing option '-o' / '--output'")
    if again is not None:
        sheet, ppi = _sheet_of(again)
    from printprep.cli._progress import Progress
    from printprep.targets.target import target

    with Progress(1) as progress:
        made = target(
            output, sheet=sheet, ppi=ppi, paper=paper or default("paper"), compress=compress, threads=threads,
            overwrite=overwrite, progress=progress.pixels,
        )  # fmt: skip
    result(str(made))
    result(f"{named(made.values)}: its values, CGATS.17")
    result(f"{named(made.page)}: how to print and read it")
    say("print it unedited at 100 %: relative colorimetric, black point compensation on, driver's own correction off")


def _sheet_of(again: str) -> tuple[str, float]:
    """Sheet and resolution of a target that was written before."""
    from printprep.targets.target import known_target

    context = click.get_current_context()
    for name in ("sheet", "ppi"):
        if context.get_parameter_source(name) is click.core.ParameterSource.COMMANDLINE:
            raise click.UsageError(f"--again takes that of its target; leave out --{name}")
    known = known_target(again)
    return known.sheet, known.ppi


def _read(again: str | None, scan: str | None, swapped: str | None, assume: str | None, output: object) -> None:
    """Say what moved between two prints of a target."""
    if output is not None:
        raise click.UsageError("--read writes nothing; leave out -o")
    if again is None or scan is None or swapped is None:
        needed = (("--again LAST.tif", again), ("--read SCAN.tif", scan), ("--swapped SCAN.tif", swapped))
        missing = next(name for name, value in needed if value is None)
        raise click.UsageError(f"two scans of two prints are compared; {missing} is missing")
    from printprep.targets.drift import drift

    result(str(drift(again, scan, swapped, assume=assume)))
    say("a scanner is no instrument: this is change, seen by it, and no measurement; what it comes from is not known")
