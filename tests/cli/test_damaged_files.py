"""Every command that reads a picture, on pictures damaged at random: done right, or refused in one line."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from printprep.photo import read
from tests.support.damage import damaged, sound_files
from tests.support.effort import cases
from tests.support.inside import inside

WHERE = ("--paper", "gloss", "--room", "hallway")
COMMANDS: dict[str, tuple[str, ...]] = {
    "prepare": ("prepare", "a.tif", *WHERE, "-o", "out.tif"),
    "prepare compressed": ("prepare", "a.tif", *WHERE, "-o", "out.tif", "--compress", "zstd", "--threads", "3"),
    "prepare assumed": ("prepare", "a.tif", *WHERE, "-o", "out.tif", "--assume", "sRGB"),
    "proof": ("proof", "a.tif", *WHERE, "-o", "out.png"),
    "proof pair": ("proof", "a.tif", *WHERE, "-o", "out.tif", "--pair", "--side", "64"),
    "report": ("report", "a.tif", *WHERE, "-o", "out.html"),
    "rank": ("rank", "a.tif", *WHERE, "-o", "out.html"),
    "rank json": ("rank", "a.tif", "a.tif", *WHERE, "--json"),
    "compare": ("compare", "a.tif", "--papers", "gloss,cotton-rag", "--room", "hallway", "-o", "out.png"),
    "compare page": ("compare", "a.tif", "--papers", "gloss", "--room", "hallway", "-o", "out.html", "--json"),
    "ticket": ("ticket", "a.tif"),
    "ticket json": ("ticket", "a.tif", "--json"),
}
NUMBER = {
    "report": 30, "compare": 30, "compare page": 40, "rank": 50, "rank json": 40, "ticket": 500, "ticket json": 500
}  # fmt: skip
"""Cases of each, so that all together take half a minute."""


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[bytes]]:
    folder = tmp_path_factory.mktemp("sound")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PRINTPREP_CACHE", str(folder / "tables"))
        patch.setenv("XDG_CONFIG_HOME", str(folder / "none"))
        yield sound_files(folder)


@pytest.fixture(scope="module")
def ready(files: list[bytes], tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A prepared file, with its ticket."""
    folder = tmp_path_factory.mktemp("ready")
    (folder / "a.tif").write_bytes(files[0])
    done = inside("prepare", folder / "a.tif", *WHERE, "-o", folder / "b.tif")
    assert done.returncode == 0, done.stderr
    return (folder / "b.tif").read_bytes()


def whole(path: Path) -> None:
    """An output that others can read too."""
    if path.suffix == ".tif":
        np.testing.assert_array_equal(np.asarray(read(path)), tifffile.imread(path))
    elif path.suffix == ".png":
        with Image.open(path) as image:
            image.load()
    else:
        assert path.read_text(encoding="utf-8").rstrip().endswith("</html>")


@pytest.mark.parametrize("name", COMMANDS)
def test_damaged_files(
    tmp_path: Path, files: list[bytes], ready: bytes, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    words = COMMANDS[name]
    outputs = [word for word in words if word.startswith("out.")]
    sources = [ready] * 2 if name.startswith("ticket") else files
    refused = done = 0
    for case in range(cases(NUMBER.get(name, 80))):
        data = damaged(sources[case % len(sources)], seed=case)
        Path("a.tif").write_bytes(data)
        result = inside(*words)
        told = f"case {case}: {result.stdout}{result.stderr}"
        assert result.returncode in (0, 2), told
        assert Path("a.tif").read_bytes() == data, told
        lines = [*result.stdout.splitlines(), *result.stderr.splitlines()]
        assert all(line.replace("\xa0", " ").isprintable() for line in lines), told
        assert all(line.startswith("printprep: ") for line in result.stderr.splitlines()), told
        assert not any("unexpected" in line or "Traceback" in line for line in lines), told
        if result.returncode == 0:
            done += 1
            made = sorted(outputs)
            for output in outputs:
                whole(Path(output))
        else:
            refused += 1
            assert result.stderr.splitlines()[-1].startswith("printprep: 'a.tif': "), told
            made = sorted(p.name for p in tmp_path.iterdir() if p.name.startswith("out.")) if "rank" in name else []
        assert sorted(p.name for p in tmp_path.iterdir()) == ["a.tif", *made], told
        for output in made:
            Path(output).unlink()
    assert refused > 3 and done > 3  # the damage is neither too mild nor too harsh to tell anything
