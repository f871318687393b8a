"""Options that say how large the print is and where the picture lies on its sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from printprep.cli._options import gathered
from printprep.errors import ParameterError

if TYPE_CHECKING:
    from printprep.pipe import Pipeline

_OPTIONS = (
    click.option("--size", metavar="SIZE", help="Sheet: A4, A3+, A2 ..., 300x450mm, 8x10in; of canvas, its face."),
    click.option("--margin", "margin_mm", metavar="LENGTH",
                 help="White on all sides, such as 15mm; 15, and 25 at the foot, by default."),
    click.option("--fill/--fit", default=None,
                 help="Fill the sheet, cutting the picture; or show all (the default)."),
    click.option("--anchor", metavar="PLACE",
                 help="What stays where it is cut: centre, top, left ..., or x,y of 0..1."),
    click.option("--orientation", type=click.Choice(["auto", "portrait", "landscape"]),
                 help="How the sheet lies; as the picture does by default."),
    click.option("--ppi", type=float, metavar="N",
                 help="What the printer is fed with; what the paper says by default."),
    click.option("--distance", "distance_m", metavar="LENGTH",
                 help="From where it is looked at, such as 1.5m, to sharpen for it."),
    click.option("--wrap", "wrap_mm", metavar="LENGTH",
                 help="Canvas: depth of its bars, over which the picture goes on, mirrored."),
    click.option("--wrap-plain", is_flag=True, default=None,
                 help="Canvas: white over the bars, in place of the picture."),
    click.option("--shrink", type=float, metavar="PERCENT", help="Canvas: print it larger by so much, often 1."),
    click.option("--keyline", is_flag=True, default=None, help="A thin grey line round the picture."),
    click.option("--caption", metavar="TEXT", help="A line under the picture; {file}, {paper}, {room}, {date} in it."),
)  # fmt: skip

_FIELDS = ("size", "margin_mm", "fill", "anchor", "orientation", "ppi", "distance_m", "wrap_mm", "wrap_plain",
           "shrink", "keyline", "caption")  # fmt: skip
"""Of `printprep.Sheet`, in the order of the options."""

_LENGTHS = {"margin_mm": ("--margin", 1), "wrap_mm": ("--wrap", 1), "distance_m": ("--distance", 1000)}
"""Options with a unit, and how many millimetres the field counts in."""


class Sheeted(click.Command):
    """A command whose help lists these options apart from the others."""

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write both lists."""
        rows: dict[bool, list[tuple[str, str]]] = {False: [], True: []}
        for parameter in self.get_params(ctx):
            if isinstance(parameter, click.Option) and (record := parameter.get_help_record(ctx)) is not None:
                rows[parameter.name in _FIELDS].append(record)
        for title, sheet in (("Options", False), ("The finished sheet", True)):
            with formatter.section(title):
                formatter.write_dl(rows[sheet])


def _given(**values: Any) -> dict[str, Any]:
    """The fields that options say something of."""
    given = {name: value for name, value in values.items() if value is not None}
    for name, (option, unit) in _LENGTHS.items():
        if name in given:
            from printprep.conditions.lengths import length

            given[name] = length(option, given[name]) / unit
    return given


sheet_options = gathered("sheet", _FIELDS, _OPTIONS, _given)
"""The command gets one argument, `sheet`, for `sized`."""


def sized(pipe: Pipeline, sheet: dict[str, Any]) -> Pipeline:
    """A pipeline with what the options say of its sheet laid over that of its preset or ticket."""
    if not sheet:
        return pipe
    from dataclasses import replace

    try:
        return replace(pipe, sheet=replace(pipe.sheet, **sheet))
    except ParameterError as error:
        option = error.key.removesuffix("_mm").removesuffix("_m")
        raise ParameterError(f"--{option}", error.value, error.reason, error.do) from error
