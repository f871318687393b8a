"""Any words after the command's name: done, or refused in one line with a status of 1 or 2."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import click
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printprep.cli.main import commands
from printprep.compose import pipeline
from printprep.photo.photo import Photo
from printprep.photo.read import read
from tests.support.effort import tried
from tests.support.inside import inside
from tests.support.tiffs import picture

# What an argument of a process can hold: any bytes but NUL, as Python decodes them.
ODD = st.binary(max_size=12).map(lambda b: os.fsdecode(b.replace(b"\0", b"")))
WORD = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)
SAMPLES = st.sampled_from([
    "", " ", "-", "--", "-1", "0", "1", "2", "1e9", "nan", "inf", "-0.0", "9" * 5000, "0x10", "1_0", "½", "٣", "true",
    "gloss", "GLOSS", "cotton-rag", "hallway", "lux=85", "lux=", "lux=nan", "lux=1e999", "=", "a=b", "../gloss", "/",
    "f/4 1/15 ISO 400", "f/0 1/0 ISO 0", "sRGB", "opRGB", "none", "none.icc", "a.tif", "bad.toml", ".toml", "x" * 5000,
    "\x1b[31m", "a\nb", "\u202e", "gamut-fit.detail=0", "gamut-fit.knee=7", "shadow-lift.strength=nan", ".=", "a.b=[",
    "shadow-lift.strength=1e-400", "shadow-lift.strength=true", "shadow-lift.strength=[[[[", "$x$", "<b>", "%s", "{0}",
])  # fmt: skip
VALUE = SAMPLES | WORD | ODD
NAMES = ["a.tif", "a.tif", "a.tif", "b.tif", "b.tif", "none.tif", "bad.tif", ".", "folder", "", "-"]
FILE = st.sampled_from(NAMES) | VALUE
OUTPUT = st.sampled_from([
    "out.tif", "out.png", "out.html", "out.clf", "OUT.TIF", "out.jpg", "out", "", ".", "folder", "folder/out.tif",
    "none/out.tif", "a.tif", "out\n.tif", "\x1b.png", ".tif", "out.tif/", "x" * 300 + ".tif",
])  # fmt: skip
LIMITED = {  # these would take long, or reach out, where any value is sound
    "output": OUTPUT,
    "edit": FILE,
    "like": FILE,
    "judged": st.sampled_from(["right", "too dark", "SOFT", "tinted", "", "dark"]) | VALUE,
    "cluster": st.sampled_from(["", "nowhere", "no://address", "tcp://"]),
    "sheet": st.sampled_from(["A6", "A6-landscape", "a6", "", "0x0", "1x1", "-1x5", "nanx5", "A", "5000x", "1e9x1e9"]),
    "ppi": st.sampled_from(["100", "99", "nan", "inf", "", "1e9", "-100"]),
    "size": st.sampled_from(["64x64", "64×64", "", "0x0", "x", "-1x1", "99999999x9", "1e3x5", "³x³"]),
    "side": st.sampled_from(["64", "63", "", "nan", "99999999999", "1.5"]),
}


def leaves(group: click.Group, *above: str) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command that does something, and the words that lead to it."""
    with click.Context(group) as context:
        for name in group.list_commands(context):
            found = group.get_command(context, name)
            assert found is not None
            if isinstance(found, click.Group):
                yield from leaves(found, *above, name)
            elif name != "demo":  # paints, whatever is asked
                yield (*above, name), found


ALL = dict(leaves(commands))


@st.composite
def lines(draw: st.DrawFn) -> list[str]:
    """A command, some of its options in any order, and files."""
    name = draw(st.sampled_from(sorted(ALL)))
    words: list[list[str]] = []
    for param in ALL[name].params:
        if isinstance(param, click.Argument):
            number = draw(st.sampled_from([0, 1, 1, 1, 1, 2]))
            words += [[draw(FILE if "file" in (param.name or "") else VALUE)] for _ in range(number)]
        elif isinstance(param, click.Option) and draw(st.integers(0, 9)) < (7 if param.required else 2):
            option = draw(st.sampled_from(param.opts))
            value = draw(LIMITED.get(param.name or "", VALUE))
            words.append([option] if param.is_flag else [option, value])
    usual = {"paper": ["--paper", "gloss"], "papers": ["--papers", "gloss"], "room": ["--room", "hallway"]}
    has = {param.name for param in ALL[name].params}
    words += [usual[key] for key in sorted(usual) if key in has and draw(st.booleans())]
    if draw(st.integers(0, 9)) == 0:
        words.append([draw(VALUE)])
    small = ["--sheet", "A6", "--ppi", "100"] if name == ("target",) else []
    return [*name, *small, *(word for each in draw(st.permutations(words)) for word in each)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    made = tmp_path_factory.mktemp("words")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PRINTPREP_CACHE", str(made / "tables"))
        patch.setenv("XDG_CONFIG_HOME", str(made / "config"))
        (made / "here").mkdir()
        patch.chdir(made / "here")
        yield made / "here"


def reset(folder: Path) -> dict[str, Any]:
    """The folder as it is before each run."""
    shutil.rmtree(folder.parent / "config", ignore_errors=True)
    for each in folder.iterdir():
        shutil.rmtree(each) if each.is_dir() else each.unlink()
    Photo.from_array(picture(8, 9)).write(folder / "a.tif")
    pipeline(paper="gloss", room="hallway")(read(folder / "a.tif")).write(folder / "b.tif")
    (folder / "bad.tif").write_bytes(b"no picture")
    (folder / "bad.toml").write_text("[room]\nilluminance_lux = -1\n")
    (folder / "folder").mkdir()
    return {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()}


def outputs(words: list[str]) -> Iterator[str]:
    """What is named as a place to write to."""
    for option, value in pairwise(words):
        if option in ("-o", "--output"):
            yield value


@tried(300)
@given(words=lines())
def test_any_words(folder: Path, words: list[str]) -> None:
    before = reset(folder)
    result = inside(*words)
    told = f"{words}: {result.stdout}{result.stderr}"
    assert result.returncode in (0, 1, 2), told
    assert all(line.replace("\xa0", "").isprintable() for line in (result.stdout + result.stderr).split("\n")), told
    said = result.stderr.splitlines()
    assert all(line.startswith("printprep: ") for line in said), told
    assert not any("unexpected:" in line or "Traceback" in line for line in said), told
    assert all(len(line) < 3000 for line in said), told
    if result.returncode:
        assert 1 <= len(said) <= max(1, len(words) - 1), told
    now = {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()}
    if words[0] != "target" or "--overwrite" not in words:  # a target is made of no input that could be spared
        meant = {n for n in words if "--overwrite" in words and words.count(n) == 1} & set(outputs(words))
        spared = before.keys() - meant
        assert {name: now.get(name) for name in spared} == {name: before[name] for name in spared}, told
    assert not [name for name in now if name.startswith(".printprep-")], told
