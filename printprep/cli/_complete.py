"""What can stand where names and settings are typed, for completion in a shell."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

import click
from click.shell_completion import CompletionItem

if TYPE_CHECKING:
    from printprep.preset_files import Kind

    Complete = Callable[[click.Context, click.Parameter, str], list[CompletionItem]]


def _among(known: Callable[[], Iterable[str]]) -> Complete:
    """Those of the names that begin as it is typed; the shell's own completion of files where none does."""

    def complete(context: click.Context, parameter: click.Parameter, typed: str) -> list[CompletionItem]:
        found: list[str] = []
        with contextlib.suppress(Exception):  # whatever is wrong is said once the command runs
            found = [name for name in known() if name.startswith(typed)]
        return [CompletionItem(name) for name in found] or [CompletionItem("", type="file")]

    return complete


def _named(*kinds: Kind) -> list[str]:
    from printprep.preset_files import names

    return sorted({name for kind in kinds for name in names(kind)})


papers = _among(lambda: _named("paper"))
rooms = _among(lambda: [*_named("room"), "lux="])
presets = _among(lambda: _named("bundle"))
any_preset = _among(lambda: _named("paper", "room", "bundle"))
profiles = _among(lambda: ("sRGB", "opRGB", "BT.2020", "BT.709"))


def settings(context: click.Context, parameter: click.Parameter, typed: str) -> list[CompletionItem]:
    """``STEP.PARAM=`` of every step."""
    from dataclasses import fields

    from printprep.adjust._registry import adjustment, names

    found = []
    for name in names():
        with contextlib.suppress(Exception):  # another package's, that cannot be loaded
            found += [f"{name}.{field.name}=" for field in fields(adjustment(name))]
    return [CompletionItem(each) for each in found if each.startswith(typed)]


def results(context: click.Context, parameter: click.Parameter, typed: str) -> list[CompletionItem]:
    """How a print can be judged."""
    from printprep.jobs.logbook import RESULTS

    spelt = [name.replace(" ", "-") for name in RESULTS]  # a space would end the word
    return [CompletionItem(name) for name in spelt if name.startswith(typed.replace(" ", "-"))]
