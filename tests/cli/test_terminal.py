"""The terminal: completion in three shells, an example in every help, 80 columns, no colour where none is wanted."""

from __future__ import annotations

import os
import pty
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from printprep.cli.main import commands
from tests.support.command import one_line_error, run
from tests.support.inside import inside


def every(group: click.Group, *above: str) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command, groups too, and the words that lead to it."""
    with click.Context(group) as context:
        for name in group.list_commands(context):
            command = group.get_command(context, name)
            assert command is not None
            yield (*above, name), command
            if isinstance(command, click.Group):
                yield from every(command, *above, name)


ALL = dict(every(commands))


# ---------------------------------------------------------------- help


@pytest.mark.parametrize("words", ALL, ids=" ".join)
def test_help_has_an_example_that_parses_and_fits(words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    told = inside(*words, "--help")
    assert told.returncode == 0
    lines = told.stdout.splitlines()
    assert lines[0].startswith(f"Usage: printprep {' '.join(words)} ")
    assert max(map(len, lines)) <= 80
    examples = [line.strip() for line in lines if line.startswith("  printprep ")]
    assert examples
    for example in examples:
        given = shlex.split(re.split(r" >>? ", example)[0])[1:]
        name = max((each for each in ALL if tuple(given[: len(each)]) == each), key=len)
        command, rest = ALL[name], given[len(name) :]
        with command.make_context(name[-1], rest, resilient_parsing=isinstance(command, click.Group)):
            pass


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("prepair", "a.tif"), "did you mean prepare?"),
        (("presets", "shwo"), "did you mean show?"),
        (("log", "ad"), "did you mean add?"),
        (("prepare", "--papre", "gloss", "a.tif"), "--paper"),
        (("presets", "show", "cotton-rga"), "did you mean cotton-rag?"),
        (("prepare", "a.tif", "-p", "glos"), "did you mean gloss?"),
        (("prepare", "a.tif", "-p", "gloss", "-r", "halway"), "did you mean hallway?"),
        (("prepare", "a.tif", "-p", "gloss", "--set", "shadow-lif.strength=1"), "did you mean shadow-lift?"),
        (("prepare", "a.tif", "-p", "gloss", "--set", "shadow-lift.strenght=1"), "did you mean strength?"),
        (("export-lut", "--profile", "srg", "-p", "gloss", "-o", "a.clf"), "did you mean sRGB?"),
        (("completion", "bsh"), "'bash'"),
    ],
)  # fmt: skip
def test_the_nearest_is_named(tmp_path: Path, words: tuple[str, ...], says: str) -> None:
    assert says in one_line_error(run(*words, cwd=tmp_path))


# ---------------------------------------------------------------- completion

BIN = Path(sys.executable).parent


def completed(tmp_path: Path, line: str, *, kind: str = "bash") -> list[str]:
    """What a shell's script is told could stand next; words as the shell splits them."""
    words = line.split(" ")
    told = subprocess.run(
        [BIN / "printprep"], capture_output=True, text=True, check=True, cwd=tmp_path,
        env={**os.environ, "_PRINTPREP_COMPLETE": f"{kind}_complete", "COMP_WORDS": line,
             "COMP_CWORD": str(len(words) - 1), "XDG_CONFIG_HOME": str(tmp_path)},
    )  # fmt: skip
    assert told.stderr == ""
    return told.stdout.split()


@pytest.mark.skipif(not (BIN / "printprep").exists(), reason="the command is not installed")
def test_what_could_stand_next(tmp_path: Path) -> None:
    assert {"plain,prepare", "plain,presets"} <= set(completed(tmp_path, "printprep pre"))
    assert completed(tmp_path, "printprep prepare a.tif --paper cot") == ["plain,cotton-rag"]
    assert completed(tmp_path, "printprep prepare a.tif --room lu") == ["plain,lux="]
    assert completed(tmp_path, "printprep prepare a.tif --paper my-") == ["file,"]
    assert completed(tmp_path, "printprep prepare --set shadow-lift.s") == ["plain,shadow-lift.strength="]
    assert completed(tmp_path, "printprep log add a.tif --result too") == [
        "plain,too-dark", "plain,too-light", "plain,too-strong"
    ]  # fmt: skip
    assert completed(tmp_path, "printprep presets show hal") == ["plain,hallway"]
    assert completed(tmp_path, "printprep ticket ") == ["file,"]
    assert "plain,--hand-over" in completed(tmp_path, "printprep prepare --h")


@pytest.mark.skipif(not (BIN / "printprep").exists(), reason="the command is not installed")
@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_scripts_are_sound_and_run_in_their_shells(tmp_path: Path, shell: str) -> None:
    made = run("completion", shell, cwd=tmp_path)
    assert made.returncode == 0
    script = tmp_path / "script"
    script.write_text(made.stdout)
    if not shutil.which(shell):
        pytest.skip(f"{shell} is not installed")
    lines = {
        "bash": "source ./script; COMP_WORDS=(printprep prepare --paper cot); COMP_CWORD=3; "
        '_printprep_completion printprep cot --paper; echo "${COMPREPLY[*]}"',
        "zsh": "compdef() { :; }; compadd() { print -l -- $completions; }; _describe() { compadd; }; source ./script; "
        "words=(printprep prepare --paper cot); CURRENT=4; _printprep_completion",
        "fish": 'source ./script; complete -C "printprep prepare --paper cot"',
    }  # fmt: skip
    told = subprocess.run(
        [shell, *(["-f"] if shell == "zsh" else []), "-c", lines[shell]], cwd=tmp_path, capture_output=True, text=True,
        check=False, env={**os.environ, "PATH": f"{BIN}:{os.environ['PATH']}", "HOME": str(tmp_path)},
    )  # fmt: skip
    assert told.returncode == 0, told.stderr
    assert "cotton-rag" in told.stdout.split(), told.stdout + told.stderr


# ---------------------------------------------------------------- colour and width


def on_terminal(tmp_path: Path, *words: str, **env: str) -> str:
    """What a command writes to a terminal of its own."""
    ours, its = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "printprep", *words], cwd=tmp_path, stdin=subprocess.DEVNULL, stdout=its, stderr=its,
        env={**{k: v for k, v in os.environ.items() if k != "NO_COLOR"}, "TERM": "xterm-256color", "COLUMNS": "80",
             "XDG_CONFIG_HOME": str(tmp_path), **env},
    )  # fmt: skip
    os.close(its)
    said = b""
    while True:
        try:
            part = os.read(ours, 65536)
        except OSError:
            break
        if not part:
            break
        said += part
    os.close(ours)
    assert process.wait(60) == 0
    return said.decode()


COLOUR = re.compile(r"\x1b\[(?:[0-9;]*;)?(?:3[0-8]|4[0-8]|9[0-7]|10[0-7])[0-9;]*m")


@pytest.mark.parametrize("words", [("presets", "list"), ("presets", "show", "gloss"), ("log", "list")])
def test_no_colour_where_none_is_wanted_and_nothing_beyond_80_columns(tmp_path: Path, words: tuple[str, ...]) -> None:
    """no-color.org: no ANSI colour where NO_COLOR is set; a pipe gets no escapes at all."""
    for env in ({"NO_COLOR": "1"}, {"TERM": "dumb"}):
        told = on_terminal(tmp_path, *words, **env)
        assert not COLOUR.search(told)
        assert max(len(re.sub(r"\x1b\[[0-9;]*m", "", line)) for line in told.splitlines()) <= 80
    assert "\x1b" not in on_terminal(tmp_path, *words, TERM="dumb")
    assert "\x1b" not in run(*words, cwd=tmp_path).stdout
