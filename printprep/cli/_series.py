"""One plan for pictures that hang together, for the commands that take several."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from printprep.cli._options import say

if TYPE_CHECKING:
    from printprep.jobs.series import Hung
    from printprep.pipe import Pipeline


def one_plan(pipe: Pipeline, files: Sequence[Path], assume: str | None) -> tuple[Pipeline, dict[str, Hung]]:
    """The plan of a series, and how its pictures stand on the wall, by name; those that stand out are said."""
    from printprep.jobs.series import as_series, hanging, series_of

    photos = series_of(files, assume)
    pipe = as_series(pipe, photos)
    found = hanging(pipe, photos)
    for each in found:
        if each.stands_out:
            say(str(each))
    return pipe, {each.name: each for each in found}
