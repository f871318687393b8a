"""printprep completion: what a shell needs to complete commands, options, papers and rooms."""

from __future__ import annotations

import contextlib

import click


@click.command()
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def command(shell: str) -> None:
    """Print what makes your shell complete commands, options, papers and rooms.

    \b
    printprep completion bash >> ~/.bashrc
    printprep completion zsh >> ~/.zshrc
    printprep completion fish > ~/.config/fish/completions/printprep.fish

    It takes effect in the next terminal. In zsh it needs its own completion: autoload -Uz compinit; compinit
    """
    from click.shell_completion import ShellComplete, get_completion_class

    from printprep.cli.main import COMPLETE, commands

    found = get_completion_class(shell)
    assert found is not None
    script = ShellComplete.source(found(commands, {}, "printprep", COMPLETE))  # bash's own would ask bash its version
    with contextlib.suppress(OSError, ValueError):
        click.echo(script.strip("\n"))
