"""printprep reprint: a print made before, repeated."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from printprep.cli._options import (
    Amount,
    announce,
    assume_option,
    named,
    overwrite_option,
    paper_option,
    result,
    say,
    threads_option,
)
from printprep.cli.log import MOST
from printprep.errors import InputError

if TYPE_CHECKING:
    from printprep.jobs.advice import Advice


@click.command()
@click.argument("old_file", metavar="OLD.tif", type=click.Path(), required=False)
@click.option("--input", "edit", metavar="EDIT.tif", type=click.Path(), help="The edit to print.")
@click.option("-o", "--output", metavar="FILE", type=click.Path(), help="Where to write.")
@click.option(
    "--from-log",
    "number",
    type=Amount(1, MOST),
    metavar="N",
    help="Say what sheet N of the log asks for: what to check first, then the next value.",
)
@paper_option
@assume_option
@threads_option
@click.option("--again", is_flag=True, help="Take an edit that is prepared already.")
@click.option("--dated", is_flag=True, help="Let the job ticket say when it was prepared.")
@overwrite_option
def command(
    old_file: str | None,
    edit: str | None,
    output: str | None,
    number: int | None,
    paper: str | None,
    assume: str | None,
    threads: int | None,
    again: bool,
    dated: bool,
    overwrite: bool,
) -> None:
    """Repeat a print made before: all as the job ticket in OLD.tif tells.

    \b
    printprep reprint hallway.tif --input lanterns.tif -o hallway-2.tif
    printprep reprint --from-log 12

    Says whether the file is the same, or what differs (version, profile, another edit) and how far that moves the
    print. --paper is needed only where the ticket's own paper is not found.
    """
    if number is not None:
        if old_file is not None or edit is not None or output is not None:
            raise click.UsageError("--from-log stands alone: it says what to do, and writes nothing")
        _advise(number)
        return
    for what, named_one in (("OLD.tif", old_file), ("--input EDIT.tif", edit), ("-o FILE", output)):
        if named_one is None:
            raise click.UsageError(f"Missing {what}")
    assert old_file is not None and edit is not None and output is not None
    from printprep.cli._progress import Progress
    from printprep.jobs.again import like, reprint
    from printprep.photo.bands import limit_threads
    from printprep.ticket import dialogue

    limit_threads(threads)
    made_like = like(old_file, paper=paper)
    with Progress(1) as progress:
        done = reprint(
            old_file, edit, output, made_like=made_like, overwrite=overwrite, threads=threads, assume=assume,
            again=again, dated=dated, progress=progress.pixels,
        )  # fmt: skip
    announce(Path(edit), done.done.announcements)
    result(f"{named(output)}\n  {done}")
    say("when printing: " + dialogue(made_like.pipe.hand_over, made_like.pipe.paper))


def _advise(number: int) -> None:
    from printprep.jobs.advice import SCREEN, TARGET, advise
    from printprep.jobs.logbook import Logbook

    book = Logbook()
    entry = book.entry(number)
    try:
        found = advise(entry, book.entries())
    except InputError as error:
        do = f'judge it first: printprep log add {shlex.quote(entry.print)} --result "too dark"'
        raise InputError(error.what, where=error.where, do=do) from None
    result(f"sheet {number}, {entry.edit} on {entry.paper}, {entry.room}: {entry.result}")
    if not found.checks:
        result(f"nothing to do: printprep reprint {named(entry.print)} gives the same once more")
        return
    result("check first:")
    words = {TARGET: "printprep target", SCREEN: f"printprep screen --room {entry.room}"}
    for place, line in enumerate(found.checks, 1):
        for call, command in words.items():
            line = line.replace(call, command)
        result(f"  {place}. {line}")
    if not found.setting:
        result("no setting of a step helps before that")
        return
    result(f"only if all that is in order: {found.setting} {found.value:g}, it was {found.now:g}")
    for line in next_lines(found):
        result(line)


def next_lines(advice: Advice) -> Iterator[str]:
    """The command lines of the next sheet, and of a strip of three values around it."""
    from printprep.ticket import Ticket

    ticket, key = Ticket.from_json(advice.entry.ticket), advice.setting
    edit = str(ticket.edit.get("name") or "EDIT.tif")
    said = ["--strength", f"{advice.value:g}"] if key == "strength" else ["--set", f"{key}={advice.value:g}"]
    like = ["--like", advice.entry.print, *said, "-o", "NEXT.tif"]
    yield f"  {shlex.join(['printprep', 'prepare', edit, *like])}"
    asked = ticket.recipe.get("asked", {})
    names = [name for name in ("paper", "room", "metered", "preset") if name in asked]
    if names:
        where = [word for name in names for word in (f"--{name}", str(asked[name]))]
        vary = ["--vary", f"{key}={advice.least:g}..{advice.most:g}/3", "-o", "STRIP.tif"]
        yield f"or a strip around it:\n  {shlex.join(['printprep', 'strip', edit, *where, *vary])}"
