"""printprep presets, run as commands."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

STAIRS = """
title = "The wall by the stairs"
source = "metered at noon; invented for tests"
uses = ["cotton-rag"]
[room]
illuminance_lux = 42.5
[room.reference]
illuminance_lux = 320.0
[[adjust]]
step = "room-brightness"
strength = 0.5
"""


@pytest.fixture
def home(tmp_path: Path) -> Path:
    (tmp_path / "presets").mkdir()
    (tmp_path / "presets" / "stairs.toml").write_text(STAIRS)
    return tmp_path


def presets(home: Path, *words: str, columns: int = 80) -> subprocess.CompletedProcess[str]:
    env = os.environ | {
        "XDG_CONFIG_HOME": str(home / "config"),
        "PRINTPREP_PRESETS": str(home / "presets"),
        "COLUMNS": str(columns),
    }
    return subprocess.run(
        [sys.executable, "-m", "printprep.cli.main", "presets", *words],
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )


def test_list_fits_eighty_columns_and_names_everything(home: Path) -> None:
    for words in ((), ("list",)):
        done = presets(home, *words)
        assert (done.returncode, done.stderr) == (0, "")
        assert max(map(len, done.stdout.splitlines())) <= 80
        for name in ("gloss", "cotton-rag", "coated-proof", "viewing-booth", "window-wall", "stairs"):
            assert name in done.stdout
    assert "1.68" in done.stdout  # ISO 5: density of the cotton rag's black, L* 16
    assert "600 / 60" in done.stdout


def test_list_as_json(home: Path) -> None:
    doc = json.loads(presets(home, "list", "--json").stdout)
    papers = {p["name"]: p for p in doc["papers"]}
    assert papers["gloss"]["black_density"] == 2.35
    assert papers["plain-uncoated"]["basis"] == "measured"
    assert {r["name"] for r in doc["rooms"]} >= {"museum", "hallway"}
    assert doc["bundles"] == [{"name": "stairs", "title": "The wall by the stairs"}]


def test_show_gives_every_value_its_unit_and_its_file(home: Path) -> None:
    done = presets(home, "show", "stairs")
    assert (done.returncode, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80

    def line(start: str) -> str:
        return next(text for text in lines if text.strip().startswith(start))

    assert line("illuminance_lux").split() == ["illuminance_lux", "42.5", "lux", "stairs.toml"]
    assert line("reference.illuminance_lux").split() == ["reference.illuminance_lux", "320", "lux", "stairs.toml"]
    assert "cotton-rag.toml" in line("white") and "L* a* b*, D50" in line("white")
    assert "default" in line("viewing_distance_m") and "metres" in line("viewing_distance_m")
    room = lines.index(line("step room-brightness"))
    assert lines[room + 1].split()[:2] == ["strength", "0.5"]
    assert "stairs.toml" in lines[room + 1]


def test_show_as_json(home: Path) -> None:
    doc = json.loads(presets(home, "show", "stairs", "--json").stdout)
    values = {row["key"]: row for row in doc["values"]}
    assert values["illuminance_lux"]["value"] == 42.5
    assert Path(values["illuminance_lux"]["from"]).name == "stairs.toml"
    assert Path(values["white"]["from"]).name == "cotton-rag.toml"


def test_show_finds_the_nearest_name(home: Path) -> None:
    done = presets(home, "show", "coton-rag")
    assert (done.returncode, done.stdout) == (2, "")
    assert "did you mean cotton-rag?" in done.stderr
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[room]\nilluminence_lux = 5\n", "did you mean illuminance_lux?"),
        ("[room]\nilluminance_lux = -5\n", "illuminance_lux = -5"),
        ("[room]\nilluminance_lux = nan\n", "illuminance_lux = nan: must be"),
        ("[room\n", "not valid TOML"),
        ('[[adjust]]\nstep = "shadow-lfit"\n', "did you mean shadow-lift?"),
    ],
)
def test_check_says_what_is_wrong(home: Path, text: str, said: str) -> None:
    file = home / "mine.toml"
    file.write_text(text)
    done = presets(home, "check", str(file))
    assert done.returncode == 2
    assert said in done.stderr
    assert "mine.toml" in done.stderr
    assert done.stdout == ""


def test_check_praises_a_good_one_and_warns_of_a_missing_source(home: Path) -> None:
    file = home / "mine.toml"
    file.write_text("[room]\nilluminance_lux = 5\n")
    done = presets(home, "check", str(file))
    assert done.returncode == 0
    assert "good (a room)" in done.stdout
    assert "source is missing" in done.stderr


def test_check_wants_a_preset(home: Path) -> None:
    (home / "lanterns.tif").write_bytes(b"II*\0")
    done = presets(home, "check", str(home / "lanterns.tif"))
    assert done.returncode == 2
    assert ".toml" in done.stderr


def test_use_keeps_the_defaults_and_refuses_unknown_names(home: Path) -> None:
    refused = presets(home, "use", "cotton-rag", "halway")
    assert refused.returncode == 2
    assert "did you mean hallway?" in refused.stderr
    assert "Defaults" not in presets(home).stdout
    assert presets(home, "use", "cotton-rag", "hallway").returncode == 0
    assert "Defaults: paper cotton-rag, room hallway" in presets(home).stdout
    assert not [f for f in (home / "config").rglob("*") if f.name.endswith(".tmp")]
