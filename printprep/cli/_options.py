"""What several commands share: options, groups, and how results and errors are shown."""

from __future__ import annotations

import contextlib
import os
import warnings
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, NamedTuple, TypeVar

import click

from printprep.cli import _complete
from printprep.errors import ParameterError, PrintprepError, UnknownName
from printprep.files.names import printable

if TYPE_CHECKING:
    from printprep.check._words import Drawback
    from printprep.conditions.conditions import HandOver
    from printprep.conditions.room import Room
    from printprep.jobs.again import Like
    from printprep.jobs.series import Hung
    from printprep.pipe import Pipeline

F = TypeVar("F", bound=Callable[..., Any])


class Group(click.Group):
    """Commands under one name, the nearest of which is named where there is none of a name."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command that the first word names; remarks of libraries, meant for programmers, stay unseen."""
        known = self.list_commands(ctx)
        if args and not args[0].startswith("-") and args[0] not in known:
            raise UnknownName("command", args[0], known)
        if not ctx.find_root().params.get("debug"):
            import logging  # 10 ms, which help need not wait for

            warnings.simplefilter("ignore")
            logging.getLogger().addHandler(logging.NullHandler())
        return super().resolve_command(ctx, args)


class Amount(click.ParamType):  # type: ignore[type-arg, unused-ignore]
    """A number within bounds, refused in the words that parameters of presets are refused in."""

    name = "number"

    def __init__(self, low: float, high: float, *, whole: bool = True, unit: str = "") -> None:
        self._low, self._high, self._whole, self._unit = low, high, whole, f" ({unit})" if unit else ""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number that a text stands for."""
        try:
            number = int(value) if self._whole else float(value)
            if self._low <= number <= self._high:
                return number
        except ValueError:
            pass
        key = param.opts[0] if param else self.name
        kind = "a whole number" if self._whole else "a number"
        raise ParameterError(key, value, f"must be {kind}, {self._low:g} to {self._high:g}{self._unit}")


paper_option = click.option(
    "--paper",
    "-p",
    metavar="PAPER",
    shell_complete=_complete.papers,
    help="Paper: a preset's name (see printprep presets), or the path of a preset, an ICC profile or a measurement.",
)
room_option = click.option(
    "--room",
    "-r",
    metavar="ROOM",
    shell_complete=_complete.rooms,
    help="Room: a preset's name or path, or measured light such as lux=85.",
)
metered_option = click.option(
    "--metered",
    metavar="'f/4 1/15 ISO 400'",
    help="Light measured with a camera pointed at a white sheet where the print will hang; in place of lux in --room.",
)
assume_option = click.option(
    "--assume",
    metavar="PROFILE",
    shell_complete=_complete.profiles,
    help="Profile of files that have none: sRGB, opRGB, ROMM RGB, Display P3, BT.2020, BT.709, or the path of an ICC "
    "profile.",
)
threads_option = click.option(
    "--threads", type=Amount(1, 256), metavar="N", help="Threads; all cores by default."
)
overwrite_option = click.option("--overwrite", is_flag=True, help="Replace an existing output.")
json_option = click.option("--json", "as_json", is_flag=True, help="Print as JSON, for programs.")


def gathered(argument: str, names: Sequence[str], options: Sequence[Any], made: Callable[..., Any]) -> Callable[[F], F]:
    """Options of which a command gets what is `made` of them, as one argument."""

    def add(command: F) -> F:
        @wraps(command)
        def with_one(*arguments: Any, **values: Any) -> Any:
            values[argument] = made(**{name: values.pop(name) for name in names})
            return command(*arguments, **values)

        for option in reversed(options):
            with_one = option(with_one)
        return with_one  # type: ignore[return-value]

    return add


class How(NamedTuple):
    """How pictures are read and results written."""

    assume: str | None
    threads: int | None
    overwrite: bool


how_options = gathered("how", How._fields, (assume_option, threads_option, overwrite_option), How)


class Words(NamedTuple):
    """What the options say of paper, room and steps."""

    paper: str | None
    room: str | None = None
    metered: str | None = None
    preset: str | None = None
    settings: tuple[str, ...] = ()
    hand_over: HandOver | None = None
    strength: float | None = None


conditions_options = gathered(
    "words",
    Words._fields,
    (
        paper_option,
        room_option,
        metered_option,
        click.option(
            "--preset",
            metavar="NAME",
            shell_complete=_complete.presets,
            help="A saved bundle of paper, room and steps, and of sheet and hand-over where it has them.",
        ),
        click.option(
            "--set",
            "settings",
            multiple=True,
            metavar="STEP.PARAM=VALUE",
            shell_complete=_complete.settings,
            help="Set one parameter of one step; wins over presets. May be repeated.",
        ),
        click.option(
            "--strength",
            type=float,
            metavar="S",
            help="How much of it all: 0 nothing, 1 as the presets say, up to 1.5.",
        ),
        click.option(
            "--hand-over",
            type=click.Choice(["source", "paper", "grey"]),
            help="Hand over in the edit's own profile (the default), in the paper's, or by the paper's grey ramp.",
        ),
    ),
    Words,
)


def chosen_room(room: str | None, metered: str | None) -> str | Room | None:
    """The room that --room and --metered name together; the default one if neither does."""
    if metered is None:
        return room if room is not None else default("room")
    from printprep.conditions.metering import illuminance_from_metered
    from printprep.conditions.room import Room
    from printprep.named import lit, named_room

    base = named_room(room if room is not None else Room())
    return lit(base.it, illuminance_from_metered(metered), "--metered", metered)


def default(kind: Literal["paper", "room"]) -> str | None:
    """The paper or room set once by ``printprep presets use``, found to be there still."""
    from printprep.cli._defaults import defaults
    from printprep.named import named_paper, named_room

    name = defaults().get(kind)
    if name is not None:
        try:
            named_paper(name) if kind == "paper" else named_room(name)
        except PrintprepError as error:
            raise error.within(f"the {kind} used when none is named") from error
    return name


def chosen_pipeline(words: Words) -> Pipeline:
    """The pipeline that the options describe."""
    from printprep.compose import pipeline

    paper, room, metered, preset, settings, hand_over, strength = words
    if preset is None:
        paper = paper if paper is not None else default("paper")
        if paper is None:
            raise PrintprepError(
                "no paper is named",
                do="add --paper NAME (printprep presets lists them), or set one once: printprep presets use PAPER ROOM",
            )
    named_room = preset is None or room is not None or metered is not None
    pipe = pipeline(
        paper=paper,
        room=chosen_room(room, metered) if named_room else None,
        preset=preset,
        settings=set_by_hand(settings),
        hand_over=hand_over,
        strength=strength,
    )
    if metered is None:
        return pipe
    from dataclasses import replace

    light = {"metered": metered} | ({} if room is None else {"room": room})
    return replace(pipe, asked={**pipe.asked, **light})


def set_by_hand(settings: tuple[str, ...]) -> dict[str, object]:
    """What --set says, by STEP.PARAM."""
    values: dict[str, object] = {}
    for item in settings:
        key, equals, value = item.partition("=")
        if not equals or "." not in key:
            raise ParameterError("--set", item, "must be STEP.PARAM=VALUE, such as shadow-lift.strength=0.7")
        values[key.strip()] = value.strip()
    return values


def pipeline_like(old: str, words: Words, edit: Path) -> Pipeline:
    """The pipeline of a print made before; what is not as it was is said, and how far that moves the print of an edit.

    Neither a room nor a preset may be named beside it.
    """
    from printprep.jobs.again import like

    for name, value in (("--room", words.room), ("--metered", words.metered), ("--preset", words.preset)):
        if value is not None:
            raise PrintprepError("cannot stand beside --like, which tells the room", where=name, do="leave one out")
    made = like(
        old, paper=words.paper, settings=set_by_hand(words.settings), strength=words.strength,
        hand_over=words.hand_over,
    )  # fmt: skip
    panels = made.ticket.edit.get("panels", {}).get("names", [])
    if panels and not click.get_current_context().params.get("panels"):
        say(f"{old!r} is one panel of a picture ({', '.join(panels)}); add --panels to prepare several as one again")
    if made.differs:
        say(f"not all is as in {old!r}: {'; '.join(made.differs)}{_moves(made, edit)}")
    return made.pipe


def _moves(made: Like, edit: Path) -> str:
    from printprep.photo.read import read

    with contextlib.suppress(PrintprepError, OSError):  # of an edit that will not do, its own turn tells
        if (moved := made.moves(read(edit))) is not None:
            mean, most = moved
            return f": moves the print of {str(edit)!r} by {mean:.1f} CIEDE2000 on average, 95 % by up to {most:.1f}"
    return ""


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


@contextlib.contextmanager
def folder(output: str | None) -> Iterator[None]:
    """Where outputs go, if a folder is named: made where it is missing, and gone again where nothing came of it."""
    from printprep.errors import OutputError

    if output is None or not output.endswith(os.sep):
        yield
        return
    try:
        os.mkdir(output)  # noqa: PTH102  (Path raises for names that cannot be)
    except FileExistsError:
        if not os.path.isdir(output):  # noqa: PTH112
            raise OutputError("is no folder", where=repr(output), do="choose another name") from None
        yield
        return
    except (FileNotFoundError, NotADirectoryError):
        what, do = "cannot be made where no folder is", "make the one above it first"
        raise OutputError(what, where=repr(output), do=do) from None
    except ValueError:
        raise OutputError("is no folder's name", where=repr(output), do="choose another") from None
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            os.rmdir(output)  # noqa: PTH106


def warn_of_basis(*pipes: Pipeline) -> None:
    """Warn, in one line, of papers behind which only typical values stand."""
    from printprep.check.basis import cautions

    for warning in cautions({pipe.paper_name: pipe.paper for pipe in pipes}):
        say(warning)


def announce(file: Path, notes: Iterable[str]) -> None:
    """Say what is to be said of a file that is judged."""
    for line in notes:
        say(f"{str(file)!r}: {line}")


def priced(cost: Drawback) -> str:
    """A cost of preparation, its setting as an option."""
    return str(cost).replace(cost.setting, f"--set {cost.setting}")


def result(text: object) -> None:
    """Lines of results on stdout, nothing in them that a terminal obeys; a closed or full stdout stops no work."""
    with contextlib.suppress(OSError, ValueError):
        click.echo("\n".join(map(harmless, str(text).split("\n"))))


def say(text: str | PrintprepError) -> None:
    """One line on stderr, nothing in it that a terminal obeys; a closed stderr changes nothing."""
    if isinstance(text, PrintprepError):
        text = text.line(option(text.way))
    with contextlib.suppress(OSError, ValueError):
        click.echo(f"printprep: {harmless(text)}", err=True)


def option(way: str) -> str:
    """An argument of Python's call as an option: ``overwrite=True`` is ``--overwrite``."""
    name, _, value = way.partition("=")
    return f"--{name.replace('_', '-')}" + ("" if value == "True" else f" {value}")


def named(path: os.PathLike[str] | str) -> str:
    """A file's name in results: as it is where that is harmless, else with escapes."""
    return harmless(os.fspath(path))


def harmless(text: str) -> str:
    """Text with everything unprintable in it escaped, line ends too."""
    return printable(text, len(text), keep="\xa0")
