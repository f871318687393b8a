"""Every shell and Python snippet of the README runs, in order, in a folder where the demo was made."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.command import run

README = Path(__file__).parents[1] / "README.md"


def snippets(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", README.read_text(encoding="utf-8"), re.M | re.S)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("readme")
    made = run("demo", "lanterns", "--megapixels", "0.2", cwd=place, PRINTPREP_CACHE=str(place / "tables"))
    assert made.returncode == 0, made.stderr
    return place


def environment(folder: Path) -> dict[str, str]:
    beside = str(Path(sys.executable).parent)
    return {
        **os.environ, "PATH": beside + os.pathsep + os.environ["PATH"], "PRINTPREP_CACHE": str(folder / "tables"),
        "XDG_CONFIG_HOME": str(folder / "config"), "PRINTPREP_PRESETS": str(folder / "presets"),
        "PRINTPREP_LOG": str(folder / "log.sqlite3"),
    }  # fmt: skip


@pytest.mark.parametrize("number", range(len(snippets("sh"))))
def test_shell_snippets_run(folder: Path, number: int) -> None:
    text = snippets("sh")[number]
    done = subprocess.run(
        ["bash", "-euc", text], cwd=folder, env=environment(folder), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"{text}\n{done.stderr}"
    assert "Traceback" not in done.stderr
    for output in re.findall(r"-o (\S+)", text):
        assert (folder / output).stat().st_size > 1000


@pytest.mark.parametrize("number", range(len(snippets("python"))))
def test_python_snippets_run(folder: Path, number: int) -> None:
    file = folder / f"snippet{number}.py"  # a file: steps must be importable to be copied
    file.write_text(snippets("python")[number])
    done = subprocess.run(
        [sys.executable, file], cwd=folder, env=environment(folder), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_preset_snippets_are_good(folder: Path) -> None:
    rooms = folder / "presets" / "rooms"
    rooms.mkdir(parents=True, exist_ok=True)
    for number, text in enumerate(snippets("toml")):
        (rooms / f"mine-{number}.toml").write_text(text)
        checked = run("presets", "check", rooms / f"mine-{number}.toml", cwd=folder)
        assert checked.returncode == 0, checked.stderr
        used = run("presets", "show", f"mine-{number}", cwd=folder, PRINTPREP_PRESETS=str(folder / "presets"))
        assert used.returncode == 0, used.stderr


def test_pictures_of_the_readme_are_there() -> None:
    for name in re.findall(r"!\[[^]]*\]\(([^)]+)\)", README.read_text(encoding="utf-8")):
        assert (README.parent / name).is_file(), name


def test_the_two_commands_come_first() -> None:
    commands = re.findall(r"^    (python3 .*)$", README.read_text(encoding="utf-8"), re.M)
    assert len(commands) == 2
    assert commands[0].endswith("printprep demo lanterns")
    assert commands[1].endswith("python -m pytest")
