"""Options that say how large the print is and where the picture lies on its sheet."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Any, TypeVar

import click

from printprep.errors import ParameterError

if TYPE_CHECKING:
    from printprep.pipe import Pipeline

F = TypeVar("F", bound=Callable[..., Any])

_OPTIONS = (
    click.option("--size", metavar="SIZE", help="Sheet: A4, A3+, A2 ..., 300x450mm, 8x10in; of canvas, its face."),
    click.option("--margin", metavar="LENGTH",
                 help="White on all sides, such as 15mm; 15, and 25 at the foot, by default."),
    click.option("--fill/--fit", default=False,
                 help="Fill the sheet, cutting the picture; or show all (the default)."),
    click.option("--anchor", metavar="PLACE",
                 help="What stays where it is cut: centre, top, left ..., or x,y of 0..1."),
    click.option("--orientation", type=click.Choice(["auto", "portrait", "landscape"]), default="auto",
                 help="How the sheet lies; as the picture does by default."),
    click.option("--ppi", type=float, metavar="N",
                 help="What the printer is fed with; what the paper says by default."),
    click.option("--distance", metavar="LENGTH",
                 help="From where it is looked at, such as 1.5m, to sharpen for it."),
    click.option("--wrap", metavar="LENGTH",
                 help="Canvas: depth of its bars, over which the picture goes on, mirrored."),
    click.option("--wrap-plain", is_flag=True, help="Canvas: white over the bars, in place of the picture."),
    click.option("--shrink", type=float, metavar="PERCENT", help="Canvas: print it larger by so much, often 1."),
    click.option("--keyline", is_flag=True, help="A thin grey line round the picture."),
    click.option("--caption", metavar="TEXT", help="A line under the picture; {file}, {paper}, {room}, {date} in it."),
)  # fmt: skip


_NAMES = ("size", "margin", "fill", "anchor", "orientation", "ppi", "distance", "wrap", "wrap_plain", "shrink",
          "keyline", "caption")  # fmt: skip


class Sheeted(click.Command):
    """A command whose help lists these options apart from the others."""

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write both lists."""
        rows: dict[bool, list[tuple[str, str]]] = {False: [], True: []}
        for parameter in self.get_params(ctx):
            if isinstance(parameter, click.Option) and (record := parameter.get_help_record(ctx)) is not None:
                rows[parameter.name in _NAMES].append(record)
        for title, sheet in (("Options", False), ("The finished sheet", True)):
            with formatter.section(title):
                formatter.write_dl(rows[sheet])


def sheet_options(command: F) -> F:
    """Add them; the command gets one argument, `sheet`, for `sized`."""

    @wraps(command)
    def with_sheet(*arguments: Any, **values: Any) -> Any:
        return command(*arguments, sheet=_chosen(**{name: values.pop(name) for name in _NAMES}), **values)

    for option in reversed(_OPTIONS):
        with_sheet = option(with_sheet)
    return with_sheet  # type: ignore[return-value]


def sized(pipe: Pipeline, sheet: dict[str, object]) -> Pipeline:
    """A pipeline with what the options say of its sheet laid over that of its preset or ticket.

    Raises
    ------
    ParameterError
        Naming the option.
    """
    if not sheet:
        return pipe
    from dataclasses import replace

    try:
        return replace(pipe, sheet=replace(pipe.sheet, **sheet))  # type: ignore[arg-type]
    except ParameterError as error:
        option = error.key.removesuffix("_mm").removesuffix("_m")
        raise ParameterError(f"--{option}", error.value, error.reason, error.do) from error


def _chosen(
    size: str | None, margin: str | None, fill: bool, anchor: str | None, orientation: str, ppi: float | None,
    distance: str | None, wrap: str | None, wrap_plain: bool, shrink: float | None, keyline: bool, caption: str | None,
) -> dict[str, object]:  # fmt: skip
    """What the options say."""
    given = {
        "size": size, "margin_mm": _length("margin", margin), "fill": fill or None, "anchor": anchor, "ppi": ppi,
        "orientation": orientation if orientation != "auto" else None, "wrap_mm": _length("wrap", wrap),
        "keyline": keyline or None, "caption": caption, "wrap_plain": wrap_plain or None, "shrink": shrink,
        "distance_m": None if distance is None else _length("distance", distance) / 1000,  # type: ignore[operator]
    }  # fmt: skip
    return {key: value for key, value in given.items() if value is not None}


def _length(option: str, text: str | None) -> float | None:
    if text is None:
        return None
    from printprep.conditions.lengths import length

    return length(f"--{option}", text)
