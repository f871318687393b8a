"""printprep report: one page on what a print keeps and loses."""

from __future__ import annotations

import os
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

import click

from printprep.cli._again import again
from printprep.cli._options import (
    Words,
    announce,
    assume_option,
    chosen_pipeline,
    conditions_options,
    named,
    overwrite_option,
    result,
    say,
    threads_option,
    told,
    warn_of_basis,
)
from printprep.cli._series import one_plan
from printprep.cli._sheet import Sheeted, sheet_options, sized

if TYPE_CHECKING:
    from printprep.check.rank import Ranked
    from printprep.jobs.series import Hung
    from printprep.pipe import Pipeline


@click.command(cls=Sheeted)
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@conditions_options
@sheet_options
@click.option(
    "-o", "--output", required=True, metavar="X.html|FOLDER",
    help="Where to write the page; for several files an existing folder, which gets an index.html too.",
)
@click.option(
    "--as-series", is_flag=True,
    help="One plan for all FILES, and an index.html that shows them side by side in this order, as they will hang.",
)
@assume_option
@threads_option
@overwrite_option
def command(
    files: tuple[Path, ...],
    words: Words,
    sheet: dict[str, object],
    output: str,
    as_series: bool,
    assume: str | None,
    threads: int | None,
    overwrite: bool,
) -> int:
    """Say what the print of FILE will lose, where, and what preparation changes: a page to open in a browser.

    \b
    printprep report lanterns.tif --paper cotton-rag -o lanterns.html
    printprep report lanterns.tif --paper cotton-rag --size A3+ -o lanterns.html
    printprep report *.tif --paper cotton-rag -o reports/
    printprep report a.tif b.tif c.tif --as-series -p cotton-rag -o wall/

    In a folder, index.html shows all pictures, the easiest first, and links the report on each.
    """
    from printprep.check._words import headline
    from printprep.check.place import room_lines
    from printprep.check.rank import Ranked, Ranking
    from printprep.check.report import report
    from printprep.cli._progress import Progress, Told
    from printprep.errors import PrintprepError
    from printprep.files.names import printable
    from printprep.page.pictures import can_save, save
    from printprep.photo.read import read

    pipe = sized(chosen_pipeline(words), sheet)
    pages, index = _pages(files, output)
    for file, page in zip(files, pages, strict=True):
        can_save(page, (".html", ".htm"), overwrite=overwrite, source=file)
    if index is not None:
        can_save(index, (".html",), overwrite=overwrite)
    hung: dict[str, Hung] = {}
    if as_series:
        pipe, hung = one_plan(pipe, files, assume)
    found: list[Ranked] = []
    links: dict[str, str] = {}
    said = again()
    worst = 0
    with Progress(len(files) if index is not None else 0) as progress:
        for file, page in zip(files, pages, strict=True):
            try:
                photo = read(file, assume=assume)
                if index is None:
                    with Told() as tell:
                        made = report(photo, pipe, command=said, threads=threads, tell=tell)
                else:
                    made = report(photo, pipe, command=said, threads=threads, progress=progress.pixels)
                made.write(page, overwrite=overwrite)
                announce(file, made.notes)
            except PrintprepError as error:
                if index is None:
                    raise
                say(error)
                worst = max(worst, error.exit_code)
                found.append(Ranked(printable(file.name, 255), file, error=error))
                continue
            progress.file()
            links[str(file)] = page.name
            assert made.print_ is not None
            name = printable(file.name, 255)
            found.append(Ranked(name, file, made.loss, made.print_, notes=made.notes))
            result(named(page))
            more = [*told(made.loss), *room_lines(made.pipe)] if index is None else []
            for line in (headline(made.loss), *([made.size] if made.size else []), *more):
                result(textwrap.fill(line, 80, initial_indent="  ", subsequent_indent="    "))
    if index is not None and links:
        leading = _wall(found, hung, pipe, links) if as_series else Ranking.of(found, pipe).sheet(links)
        save(index, leading.encode(), (".html",), overwrite=overwrite)
        result(named(index))
    if links:
        warn_of_basis(pipe)
    return worst


def _wall(found: list[Ranked], hung: dict[str, Hung], pipe: Pipeline, links: dict[str, str]) -> str:
    """The page of a series in hanging order."""
    from printprep.check.rank import wall_page

    prints = []
    for each in found:
        at = hung.get(each.path.name if each.path else each.name)
        if at is not None and each.loss is not None:
            prints.append((each, at.lightness, str(at) if at.stands_out else ""))
    return wall_page(prints, pipe, links)


def _pages(files: tuple[Path, ...], output: str) -> tuple[list[Path], Path | None]:
    """The page of each file, and the index where they go into a folder."""
    from printprep.errors import OutputError
    from printprep.files.names import shown

    folder = Path(output)
    if not folder.is_dir():
        if len(files) == 1 and not output.endswith(os.sep):
            return [folder], None
        do = "make the folder first" if len(files) > 1 or output.endswith(os.sep) else ""
        raise OutputError("no such folder", where=shown(output), do=do)
    pages = [folder / f"{file.stem}.html" for file in files]
    taken: dict[Path, Path] = {folder / "index.html": folder / "index"}
    for file, page in zip(files, pages, strict=True):
        if page in taken:
            raise OutputError(
                "two pages would have this name", where=shown(page), do="rename a file, or take them in two runs"
            )
        taken[page] = file
    return pages, folder / "index.html"
