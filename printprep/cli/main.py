"""Find the command, run it, and turn every error into one line and an exit status."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import time
from importlib import import_module
from io import TextIOWrapper
from pkgutil import iter_modules
from types import FrameType
from typing import NoReturn

import click

from printprep import __version__
from printprep.cli._options import Group, result, say
from printprep.errors import OutsideError, PrintprepError, out_of_memory

_MOMENT = 3.0
"""Seconds after a signal in which more of them change nothing: clearing up takes a moment, and none cuts it short."""

COMPLETE = "_PRINTPREP_COMPLETE"
"""The variable by which a shell asks what could stand next; see `printprep.cli.completion`."""

_KEPT = 256 << 20
"""Freed memory, in bytes, that is kept for the next band, as most of it is wanted again at once."""

_TRIM_THRESHOLD, _MMAP_THRESHOLD, _ARENA_MAX = -1, -3, -8  # names of the C library's, malloc.h

_heard: tuple[int, float] | None = None
"""The last signal that was heeded, and when."""


class Ended(BaseException):
    """SIGTERM or SIGINT arrived; raised so that nothing is left behind.

    In place of KeyboardInterrupt, for which click prints an empty line.
    """


class Commands(Group):
    """Commands found by file name, loaded when they are asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Every command's name, sorted."""
        path = import_module("printprep.cli").__path__
        return sorted(m.name.replace("_", "-") for m in iter_modules(path) if m.name[0] != "_" and m.name != "main")

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of this name, or None."""
        if cmd_name not in self.list_commands(ctx):
            return None
        command = import_module(f"printprep.cli.{cmd_name.replace('-', '_')}").command
        assert isinstance(command, click.Command)
        return command


@click.group(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Start with:  printprep demo",
)
@click.version_option(__version__, message="printprep %(version)s")
@click.option("--debug", is_flag=True, help="Show where in the code an error arose.")
def commands(debug: bool) -> None:
    """Prepare a finished photograph for one paper and one room.

    Takes the finished edit, a 16-bit TIFF with its ICC profile, lifts the shadows that the paper
    would swallow, pulls back only the colours that it cannot hold, and compensates the brightness
    for the light that the print will hang in.
    """


def main() -> NoReturn:
    """Run the command line and exit: 0 done, 1 outside reasons, 2 refused, 130 and 143 signals."""
    try:
        if signal.getsignal(signal.SIGINT) is not signal.SIG_IGN:
            signal.signal(signal.SIGINT, _end)
        signal.signal(signal.SIGTERM, _end)
        settle()
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, TextIOWrapper):  # what a terminal's alphabet lacks is escaped, not an error
                stream.reconfigure(errors="backslashreplace")
        ended = commands(prog_name="printprep", complete_var=COMPLETE, standalone_mode=False)
        status = ended if isinstance(ended, int) else 0
    except (Ended, KeyboardInterrupt, click.Abort):
        status = _ended()
    except (click.exceptions.Exit, click.ClickException) as error:
        status = _refused(error)
    except BrokenPipeError:
        status = 0  # whoever read the results has seen enough
    except Exception as error:
        if "--debug" in sys.argv[1:]:
            raise
        status = _failed(error)
    _leave(status)


def settle() -> None:
    """Keep freed memory, and let no library start threads of its own. Call it before numpy is imported.

    A library that is imported must leave both to its host.

    Bands need the same few arrays again and again. Where each is fetched anew from the system, clearing
    its pages takes two thirds of the time that steps which look around take (measured, see benchmarks).
    Threads share what is kept: with a store for each, twelve pictures of different sizes took 400 MB, not 280.
    """
    for library in ("OPENBLAS", "OMP", "MKL"):
        os.environ.setdefault(f"{library}_NUM_THREADS", "1")
    with contextlib.suppress(OSError, AttributeError, TypeError):  # other systems have other C libraries
        import ctypes

        mallopt = ctypes.CDLL(None).mallopt
        mallopt(_MMAP_THRESHOLD, _KEPT)
        mallopt(_TRIM_THRESHOLD, _KEPT)
        mallopt(_ARENA_MAX, 1)


def _end(number: int, frame: FrameType | None) -> None:
    global _heard
    now = time.monotonic()
    if _heard is not None and now - _heard[1] < _MOMENT:
        return
    _heard = number, now
    raise Ended


def _ended() -> int:
    """Say that a signal ended the run; the exit status."""
    number = _heard[0] if _heard is not None else signal.SIGINT
    how = "interrupted" if number == signal.SIGINT else "ended by a signal"
    say(f"{how}; what was finished is kept, nothing else was changed")
    return 128 + number


def _refused(error: click.exceptions.Exit | click.ClickException) -> int:
    """Say what click finds wrong with the words that were typed; the exit status."""
    if isinstance(error, click.exceptions.Exit):
        return error.exit_code
    if isinstance(error, click.exceptions.NoArgsIsHelpError):
        result(error.ctx.get_help())
        return 0
    context = getattr(error, "ctx", None)
    hint = f"; see {context.command_path} --help" if context else ""
    said = error.format_message().rstrip(".")
    if len(said) > 400:
        said = f"{said[:200]} ... {said[-200:]}"
    say(said.replace("\n", " ") + hint)
    return 2


def _failed(error: Exception) -> int:
    """Say what went wrong and what to do; the exit status."""
    if isinstance(error, PrintprepError):
        say(error)
        return error.exit_code
    if isinstance(error, OSError):
        named = f"{error.filename!r}: " if error.filename else ""
        say(f"{named}{error.strerror or 'the system refused'}; make room or permission, then run again")
    elif _heard is not None:  # a library that was just being loaded made an error of its own of it
        return _ended()
    elif out_of_memory(error):
        say("not enough memory; close other programs, or use --threads 1")
    else:
        said = str(error).split("\n")[0]
        do = "run again with --debug first after printprep, and report what it shows"
        say(f"unexpected: {type(error).__name__}: {said}; {do}")
    return OutsideError.exit_code


def _leave(status: int) -> NoReturn:
    """Exit without the traceback that flushing a closed stream, or an interrupt that comes too late, would print."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    for stream in filter(None, (sys.stdout, sys.stderr)):
        try:
            stream.flush()
        except (OSError, ValueError):
            with contextlib.suppress(OSError, ValueError):
                os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
    if status > 128:
        os._exit(status)  # Python ends itself by the signal where that came amid an eval (measured: 1 of 18)
    sys.exit(status)


if __name__ == "__main__":
    main()
