"""A command that holds others, and names the nearest where there is none of a name."""

from __future__ import annotations

import click

from printprep.errors import UnknownName


class Group(click.Group):
    """Commands under one name."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command that the first word names, or name the nearest."""
        known = self.list_commands(ctx)
        if args and not args[0].startswith("-") and args[0] not in known:
            raise UnknownName("command", args[0], known)
        return super().resolve_command(ctx, args)
