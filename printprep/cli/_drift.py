"""target --again and --read: the same target once more, and what moved between two prints of it."""

from __future__ import annotations

import click

from printprep.cli._options import result, say


def sheet_of(again: str) -> tuple[str, float]:
    """Sheet and resolution of a target that was written before.

    Raises
    ------
    InputError
        If it is no target of this version as it was written.
    """
    from printprep.targets.target import known_target

    context = click.get_current_context()
    for name in ("sheet", "ppi"):
        if context.get_parameter_source(name) is click.core.ParameterSource.COMMANDLINE:
            raise click.UsageError(f"--again takes that of its target; leave out --{name}")
    known = known_target(again)
    return known.sheet, known.ppi


def read(
    again: str | None, scan: str | None, swapped: str | None, assume: str | None, output: object
) -> None:
    """Say what moved between two prints of a target.

    Raises
    ------
    InputError
        If the scans do not show it.
    """
    if output is not None:
        raise click.UsageError("--read writes nothing; leave out -o")
    if again is None or scan is None or swapped is None:
        needed = (("--again LAST.tif", again), ("--read SCAN.tif", scan), ("--swapped SCAN.tif", swapped))
        missing = next(name for name, value in needed if value is None)
        raise click.UsageError(f"two scans of two prints are compared; {missing} is missing")
    from printprep.targets.drift import drift

    result(str(drift(again, scan, swapped, assume=assume)))
    say("a scanner is no instrument: this is change, seen by it, and no measurement; what it comes from is not known")
