"""printprep report: one page on what a print keeps and loses."""

from __future__ import annotations

import os
import shlex
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

import click
from click.core import ParameterSource

from printprep.cli._options import (
    How,
    Words,
    announce,
    chosen_pipeline,
    conditions_options,
    default,
    folder,
    how_options,
    named,
    one_plan,
    priced,
    result,
    say,
    warn_of_basis,
)
from printprep.cli._sheet import Sheeted, sheet_options, sized

if TYPE_CHECKING:
    from printprep.check.rank import Ranked
    from printprep.check.report import Report
    from printprep.jobs.series import Hung
    from printprep.pipe import Pipeline


@click.command(cls=Sheeted)
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@conditions_options
@sheet_options
@click.option(
    "-o", "--output", required=True, metavar="X.html|DIR",
    help="Where to write the page; for several files a folder, which gets an index.html too. A DIR/ that is not there "
    "is made.",
)
@click.option(
    "--as-series", is_flag=True,
    help="One plan for all FILES, and an index.html that shows them side by side in this order, as they will hang.",
)
@how_options
def command(
    files: tuple[Path, ...],
    words: Words,
    sheet: dict[str, object],
    output: str,
    as_series: bool,
    how: How,
) -> int:
    """Say what the print of FILE will lose, where, and what preparation changes: a page to open in a browser.

    \b
    printprep report lanterns.tif --paper cotton-rag -o lanterns.html
    printprep report lanterns.tif --paper cotton-rag --size A3+ -o lanterns.html
    printprep report *.tif --paper cotton-rag -o reports/
    printprep report a.tif b.tif c.tif --as-series -p cotton-rag -o wall/

    In a folder, index.html shows all pictures, the easiest first, and links the report on each.
    """
    pipe = sized(chosen_pipeline(words), sheet)
    with folder(output):
        return _reports(files, pipe, output, how, as_series=as_series)


def _reports(files: tuple[Path, ...], pipe: Pipeline, output: str, how: How, *, as_series: bool) -> int:
    """The pages of all files, and the exit status."""
    from functools import partial

    from printprep.check.report import report
    from printprep.cli._progress import Progress, Told
    from printprep.photo.read import read

    pages, index = _pages(files, output, overwrite=how.overwrite)
    pipe, hung = one_plan(pipe, files, how.assume) if as_series else (pipe, None)
    make = partial(report, pipe=pipe, command=_typed(), threads=how.threads)
    if index is None:
        with Told() as tell:
            made = make(read(files[0], assume=how.assume), tell=tell)
        _publish(made, files[0], pages[0], overwrite=how.overwrite, whole=True)
        warn_of_basis(pipe)
        return 0
    from printprep.check.rank import Ranked
    from printprep.errors import PrintprepError
    from printprep.files.names import printable

    found: list[Ranked] = []
    worst = 0
    with Progress(len(files)) as progress:
        for file, page in zip(files, pages, strict=True):
            name = printable(file.name, 255)
            try:
                made = make(read(file, assume=how.assume), progress=progress.pixels)
                progress.file()
                _publish(made, file, page, overwrite=how.overwrite, whole=False)
                assert made.print_ is not None
                found.append(Ranked(name, file, made.loss, made.print_, notes=made.notes))
            except PrintprepError as error:
                say(error)
                worst = max(worst, error.exit_code)
                found.append(Ranked(name, file, error=error))
    links = {str(each.path): f"{each.path.stem}.html" for each in found if each.path and not each.error}
    if links:
        _index(index, found, hung, pipe, links, overwrite=how.overwrite)
        warn_of_basis(pipe)
    return worst


def _publish(made: Report, file: Path, page: Path, *, overwrite: bool, whole: bool) -> None:
    """Write a report and say so: with its headline, or the `whole` of what is said of the loss and the room."""
    from printprep.check._words import costs, headline, verdict_lines
    from printprep.check.place import room_lines

    made.write(page, overwrite=overwrite)
    announce(file, made.notes)
    result(named(page))
    lines = [headline(made.loss), made.size]
    if whole:
        lines += [*verdict_lines(made.loss), *room_lines(made.pipe)]
        for cost in costs(made.loss):  # settings as options
            lines = [line.replace(str(cost), priced(cost)) for line in lines]
    for line in filter(None, lines):
        result(textwrap.fill(line, 80, initial_indent="  ", subsequent_indent="    "))


def _typed() -> str:
    """The command that runs now, with what was typed and the paper and room that are used when none is named."""
    context = click.get_current_context()
    words, options = ["printprep", context.info_name or ""], list[str]()
    for parameter in context.command.params:
        name = parameter.name or ""
        value = context.params.get(name)
        values = value if isinstance(value, tuple) else (value,)
        if isinstance(parameter, click.Argument):
            words += map(str, values)
        elif context.get_parameter_source(name) is ParameterSource.COMMANDLINE:
            option = max(parameter.opts, key=len)
            if isinstance(parameter, click.Option) and parameter.is_flag:
                options.append(option if value else max(parameter.secondary_opts, key=len))
            else:
                options += [word for each in values for word in (option, str(each))]
    if context.params.get("preset") is None:
        lit = context.params.get("metered") is not None
        for kind, given in (("paper", False), ("room", lit)):
            used = None if given or context.params.get(kind) is not None else default(kind)  # type: ignore[arg-type]
            options += [] if used is None else [f"--{kind}", used]
    return shlex.join(words + options)


def _index(
    index: Path, found: list[Ranked], hung: dict[str, Hung] | None, pipe: Pipeline, links: dict[str, str],
    *, overwrite: bool,
) -> None:  # fmt: skip
    """Write the page that leads to the others: the easiest first, or a series in hanging order."""
    from printprep.check.rank import Ranking, wall_page
    from printprep.page.pictures import save

    if hung is None:
        leading = Ranking.of(found, pipe).sheet(links)
    else:
        prints = []
        for each in found:
            at = hung.get(each.path.name if each.path else each.name)
            if at is not None and each.loss is not None:
                prints.append((each, at.lightness, str(at) if at.stands_out else ""))
        leading = wall_page(prints, pipe, links)
    save(index, leading.encode(), (".html",), overwrite=overwrite)
    result(named(index))


def _pages(files: tuple[Path, ...], output: str, *, overwrite: bool) -> tuple[list[Path], Path | None]:
    """The page of each file, and the index where they go into a folder; what cannot be written is refused now."""
    from printprep.errors import OutputError
    from printprep.files.names import shown
    from printprep.page.pictures import can_save

    place = Path(output)
    index = place / "index.html" if place.is_dir() else None
    if index is None and len(files) > 1:
        do = f"several files need an existing folder, or a name ending in {os.sep}"
        raise OutputError("no such folder", where=shown(output), do=do)
    pages = [place] if index is None else [place / f"{file.stem}.html" for file in files]
    for number, page in enumerate(pages):
        if page in (index, *pages[:number]):
            do = "rename a file, or take them in two runs"
            raise OutputError("two pages would have this name", where=shown(page), do=do)
    for file, page in zip(files, pages, strict=True):
        can_save(page, (".html", ".htm"), overwrite=overwrite, source=file)
    if index is not None:
        can_save(index, (".html",), overwrite=overwrite)
    return pages, index
