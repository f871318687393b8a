"""printprep ticket: what was done to a prepared file."""

from __future__ import annotations

import click

from printprep.cli._options import result


@click.command()
@click.argument("file", type=click.Path())
@click.option("--json", "as_json", is_flag=True, help="Print the ticket as JSON.")
def command(file: str, as_json: bool) -> None:
    """Print what was done to a prepared FILE: its job ticket.

    \b
    printprep ticket hallway.tif
    """
    from printprep.ticket import read_ticket

    ticket = read_ticket(file)
    result(ticket.to_json() if as_json else ticket)
