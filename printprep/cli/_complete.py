"""What can stand where names and settings are typed, for completion in a shell."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from typing import TYPE_CHECKING

import click
from click.shell_completion import CompletionItem

if TYPE_CHECKING:
    from typing import Literal

FILES = [CompletionItem("", type="file")]
"""The shell's own completion of files."""


def _named(kind: Literal["paper", "room", "bundle"], typed: str, more: Iterable[str] = ()) -> list[CompletionItem]:
    from printprep.preset_files import names

    known: Iterable[str] = ()
    with contextlib.suppress(Exception):  # whatever is wrong is said once the command runs
        known = names(kind)
    found = [CompletionItem(name) for name in (*known, *more) if name.startswith(typed)]
    return found or FILES


def papers(context: click.Context, parameter: click.Parameter, typed: str) -> list[CompletionItem]:
    """Papers that can be named; files where none begins so."""
    return _named("paper", typed)


def rooms(context: click.Context, parameter: click.Parameter, typed: str) -> list[CompletionItem]:
    """Rooms that can be named, and a measured light."""
    return _named("room", typed, ["lux="])


def presets(context: click.Context, parameter: click.Parameter, typed: str) -> list[CompletionItem]:
    """Saved bundles."""
    return _named("bundle", typed)


def any_preset(context: click.Context, parameter: click.Parameter, typed: str) -> list[CompletionItem]:
    """Papers, rooms and bundles."""
    from printprep.preset_files import names

    found = sorted({*names("paper"), *names("room"), *names("bundle")})
    return [CompletionItem(name) for name in found if name.startswith(typed)] or FILES


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


def profiles(context: click.Context, parameter: click.Parameter, typed: str) -> list[CompletionItem]:
    """Profiles that have a name, and files."""
    named = [CompletionItem(name) for name in ("sRGB", "opRGB", "BT.2020", "BT.709") if name.startswith(typed)]
    return named or FILES
