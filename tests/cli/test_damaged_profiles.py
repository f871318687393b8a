"""ICC profiles damaged at random, wherever a command takes one: used, or refused in one line."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import tifffile

from printprep.photo.photo import Photo
from tests.support.damage import damaged_profile
from tests.support.effort import cases
from tests.support.inside import inside
from tests.support.lutprofile import MatrixInk, output_profile
from tests.support.tiffs import picture, profile_bytes, tiff

COMMANDS = {
    "paper": (16, ("prepare", "a.tif", "--paper", "p.icc", "--room", "hallway", "-o", "out.tif")),
    "hand-over": (
        10,
        ("prepare", "a.tif", "--paper", "p.icc", "--room", "hallway", "-o", "out.tif", "--hand-over", "paper"),
    ),
    "screen": (60, ("proof", "a.tif", "--paper", "gloss", "--room", "hallway", "-o", "out.tif", "--screen", "p.icc")),
    "assume": (
        16,
        ("prepare", "bare.tif", "--paper", "gloss", "--room", "hallway", "-o", "out.tif", "--assume", "p.icc"),
    ),
}


@pytest.fixture(autouse=True, scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PRINTPREP_CACHE", str(tmp_path_factory.mktemp("tables")))
        patch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("none")))
        yield


@pytest.fixture(scope="module")
def profiles() -> list[bytes]:
    ink = MatrixInk(12, saturation=0.8)
    return [output_profile(ink.lab, ink.rgb, device_nodes=7, lab_nodes=9), profile_bytes()]


@pytest.mark.parametrize("name", COMMANDS)
def test_damaged_profiles(tmp_path: Path, profiles: list[bytes], name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Photo.from_array(picture(24, 30)).write("a.tif")
    tiff(Path("bare.tif"), {34675: None})
    number, words = COMMANDS[name]
    refused = done = 0
    for case in range(cases(number)):
        Path("p.icc").write_bytes(damaged_profile(profiles[case % 2], seed=case))
        result = inside(*words)
        told = f"case {case}: {result.stdout}{result.stderr}"
        assert result.returncode in (0, 2), told
        assert (result.stdout + result.stderr).replace("\n", "").replace("\xa0", "").isprintable(), told
        assert "unexpected" not in told and "Traceback" not in told
        assert Path("out.tif").exists() == (result.returncode == 0), told
        if result.returncode == 0:
            done += 1
            assert np.isfinite(tifffile.imread("out.tif")).all()
            Path("out.tif").unlink()
        else:
            refused += 1
            assert len(result.stderr.splitlines()) == 1, told
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.tif", "bare.tif", "p.icc"]
    assert refused and done
