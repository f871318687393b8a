"""printprep log: which sheets were printed, how each was judged, and what finished prints cost."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import click

from printprep.cli import _complete
from printprep.cli._options import Amount, Group, json_option, named, overwrite_option, result, say

if TYPE_CHECKING:
    from collections.abc import Callable

    from printprep.jobs.prepare import Prepared

MOST = 2**63 - 1
"""What a number in the log's file can be."""


@click.group(cls=Group)
def command() -> None:
    """Keep a log of your prints: what was printed, how it came out, what it took.

    \b
    printprep log add hallway.tif --result "too dark" --sheet A4
    printprep log list
    printprep log cost --by-paper

    It is one file in your data folder, or the one that PRINTPREP_LOG names.
    """


@command.command("add")
@click.argument("print_file", metavar="PRINT.tif", type=click.Path())
@click.option(
    "--result",
    "judged",
    metavar="RESULT",
    shell_complete=_complete.results,
    default="",
    help="How it came out: right, too dark, too light, blocked shadows, dull colour, too strong, tinted, soft.",
)
@click.option("--sheet", metavar="TEXT", default="", help="The sheet it was printed on, such as A3+.")
@click.option("--settings", metavar="TEXT", default="", help="What was set in the print dialogue.")
@click.option("--note", metavar="TEXT", default="", help="Anything else.")
def add_command(print_file: str, judged: str, sheet: str, settings: str, note: str) -> None:
    """Add the prepared file that was printed, and how it came out.

    \b
    printprep log add hallway.tif --result "too dark" --sheet A4 --note "lamps on"

    A sheet that waits for its result (added by prepare --log) gets this one.
    """
    from printprep.jobs.logbook import Logbook

    entry, there = Logbook().add(print_file, result=judged, sheet=sheet, settings=settings, note=note)
    result(f"{entry.number}: {entry.result or 'not judged yet'}")
    if entry.result and entry.result != "right":
        say(f"what to check first: printprep reprint --from-log {entry.number}")
    elif there:
        say("the sheet was in the log, and is judged now")


@command.command("list")
@click.option("--paper", metavar="PAPER", help="Only sheets of this paper.")
@json_option
def list_command(paper: str | None, as_json: bool) -> None:
    """List the sheets, oldest first.

    \b
    printprep log list --paper cotton-rag
    """
    from printprep.errors import UnknownName
    from printprep.jobs.logbook import Logbook

    known = Logbook().entries()
    entries = [e for e in known if paper is None or e.paper.casefold() == paper.casefold()]
    if paper is not None and not entries:
        raise UnknownName("paper in the log", paper, {e.paper for e in known})
    if as_json:
        rows = [{key: value for key, value in e.to_dict().items() if key != "ticket"} for e in entries]
        result(json.dumps(rows, indent=2))
        return
    from printprep.cli._tables import Screen, columns, row

    screen = Screen()
    if not entries:
        screen.line("no sheets yet; add one: printprep log add PRINT.tif --result right")
        return
    table = columns("No.", "Date", "Edit", "Paper", "Room", "Result", right=(0,))
    for e in entries:
        row(table, str(e.number), e.date[:10], e.edit, e.paper, e.room, e.result or "-", dim=not e.result)
    screen.show(table)


@command.command("show")
@click.argument("number", type=Amount(1, MOST))
@json_option
def show_command(number: int, as_json: bool) -> None:
    """Show one sheet with all that is known of it, its job ticket too.

    \b
    printprep log show 12
    """
    from printprep.errors import PrintprepError
    from printprep.jobs.logbook import Logbook
    from printprep.ticket import Ticket

    entry = Logbook().entry(number)
    if as_json:
        result(json.dumps(entry.to_dict(), indent=2, sort_keys=True))
        return
    lines = [("sheet", f"{entry.number}, {entry.date}"), ("result", entry.result or "not judged yet")]
    lines += [("print", entry.print), ("edit", entry.edit), ("size", entry.sheet)]
    lines += [("settings", entry.settings), ("note", entry.note)]
    for name, text in lines:
        if text:
            result(f"{name:<10} {' '.join(text.split())}")
    try:
        result(Ticket.from_json(entry.ticket))
    except PrintprepError as error:
        result(f"ticket     {error}")


@command.command("export")
@click.option("--format", "form", type=click.Choice(["csv", "json"]), help="As FILE ends if not given, else CSV.")
@click.option("-o", "--output", type=click.Path(), metavar="FILE", help="Where to write; the terminal if not given.")
@overwrite_option
def export_command(form: str | None, output: str | None, overwrite: bool) -> None:
    """Write all sheets as a table for spreadsheets (CSV), or with their job tickets (JSON).

    \b
    printprep log export -o prints.csv
    """
    from printprep.jobs.logbook import Logbook, as_csv, as_json

    form = form or ("json" if output is not None and output.lower().endswith(".json") else "csv")
    entries = Logbook().entries()
    text = as_csv(entries) if form == "csv" else as_json(entries)
    if output is None:
        result(text.rstrip("\r\n").replace("\r\n", "\n"))
        return
    from printprep.page.pictures import save

    save(output, text.encode("utf-8", "backslashreplace"), (f".{form}",), overwrite=overwrite)
    result(named(output))


@command.command("cost")
@click.option("--by-paper", is_flag=True, help="A line for each paper.")
def cost_command(by_paper: bool) -> None:
    """Say how many sheets the finished prints took.

    \b
    printprep log cost --by-paper
    """
    from printprep.jobs.logbook import Logbook, cost, cost_by_paper

    entries = Logbook().entries()
    result(cost(entries))
    if by_paper:
        for name, each in cost_by_paper(entries).items():
            result(f"  {name}: {each}")


def keeper(wanted: bool) -> Callable[[Prepared], int]:
    """What adds a file that was prepared to the log, and returns an exit status; it does nothing if not wanted.

    A log that cannot be used is refused now: before any work is done.
    """
    if not wanted:
        return lambda done: 0
    from printprep.errors import PrintprepError
    from printprep.jobs.logbook import Logbook

    book = Logbook()
    book.entries()

    def keep(done: Prepared) -> int:
        if done.output is None or done.skipped:
            return 0
        try:
            entry, _ = book.add(done.output)
        except PrintprepError as error:
            say(error)
            return error.exit_code
        say(f"sheet {entry.number} of the log; once it is dry: printprep log add {done.output} --result ...")
        return 0

    return keep

