"""The command line that does the same again, for what is to say so of itself."""

from __future__ import annotations

import shlex

import click
from click.core import ParameterSource


def again() -> str:
    """The command that runs now, with what was typed and the paper and room that are used when none is named."""
    context = click.get_current_context()
    words = ["printprep", context.info_name or ""]
    options: list[str] = []
    for parameter in context.command.params:
        name = parameter.name or ""
        value = context.params.get(name)
        if isinstance(parameter, click.Argument):
            words += [str(each) for each in (value if isinstance(value, tuple) else (value,))]
        elif context.get_parameter_source(name) is ParameterSource.COMMANDLINE:
            option = max(parameter.opts, key=len)
            if isinstance(parameter, click.Option) and parameter.is_flag:
                options.append(option if value else max(parameter.secondary_opts, key=len))
            else:
                for each in value if isinstance(value, tuple) else (value,):
                    options += [option, str(each)]
    from printprep.cli._options import default

    if context.params.get("preset") is None:
        for name in ("paper", "room"):
            lit = context.params.get("metered") is not None if name == "room" else False
            used = None if context.params.get(name) is not None or lit else default(name)  # type: ignore[arg-type]
            if used is not None:
                options += [f"--{name}", used]
    return shlex.join(words + options)
