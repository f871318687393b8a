"""Every command that reads a picture, on pictures damaged at random: done right, or refused in one line."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.damage import damaged, sound_files
from tests.support.effort import cases
from tests.support.inside import inside
from tests.support.runs import COMMANDS, WHERE, run_on

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


@pytest.mark.parametrize("name", COMMANDS)
def test_damaged_files(
    tmp_path: Path, files: list[bytes], ready: bytes, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    sources = [ready] if name.startswith("ticket") else files
    done = refused = 0
    for case in range(cases(NUMBER.get(name, 80))):
        try:
            did = run_on(damaged(sources[case % len(sources)], seed=case), name)
        except AssertionError as error:
            raise AssertionError(f"case {case}") from error
        done, refused = done + did, refused + (not did)
    assert done > 3 and refused > 3  # the damage is neither too mild nor too harsh to tell anything
