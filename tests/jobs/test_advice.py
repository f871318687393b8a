"""What a print that came out wrong asks for: checks by the rules of the trade, then another value."""

from __future__ import annotations

import json
import shlex
from dataclasses import replace
from pathlib import Path

import pytest

import printprep as pp
from printprep.cli.reprint import next_lines
from printprep.errors import InputError
from printprep.jobs.advice import advise
from printprep.jobs.logbook import RESULTS, Entry
from printprep.photo.photo import Photo
from tests.support.tiffs import picture

WRONG = [result for result in RESULTS if result != "right"]


def sheet(
    number: int, result: str, room: str = "evening-sitting-room", paper: str = "cotton-rag", **more: object
) -> Entry:
    """A sheet of a noisy picture, as the log keeps it."""
    pipe = pp.pipeline(paper=paper, room=room, **more)  # type: ignore[arg-type]
    ready = pipe(Photo.from_array(picture(20, 20)))
    assert ready.ticket is not None
    doc = json.loads(ready.ticket())
    doc["edit"]["name"] = "my edit.tif"
    return Entry(
        number, "", f"/prints/{number}.tif", "", "my edit.tif", paper, room, result=result, ticket=json.dumps(doc)
    )


@pytest.mark.parametrize("result", WRONG)
def test_checks_come_first_and_each_is_one_plain_line(result: str) -> None:
    found = advise(sheet(1, result), [])
    assert 2 <= len(found.checks) <= 4
    assert all("\n" not in line and len(line) < 200 for line in found.checks)
    assert (found.setting == "") == (result in ("tinted", "soft"))  # no step of ours mends a lamp or a nozzle


@pytest.mark.parametrize(
    ("result", "word"),
    [("blocked shadows", "black ink"), ("dull colour", "media setting"), ("tinted", "lamp"), ("soft", "resolution"),
     ("too strong", "colour management")],
)  # fmt: skip
def test_the_likeliest_cause_is_first(result: str, word: str) -> None:
    """Common practice, no source."""
    assert word in advise(sheet(1, result), []).checks[0]


def test_the_black_ink_is_that_of_the_surface() -> None:
    assert "matte black" in advise(sheet(1, "blocked shadows"), []).checks[0]
    assert "photo black" in advise(sheet(1, "blocked shadows", paper="gloss"), []).checks[0]


def test_too_dark_in_two_rooms_is_the_display_in_one_its_light() -> None:
    here, there = sheet(1, "too dark"), sheet(2, "too dark", room="hallway")
    assert "50 lx" in advise(here, [here]).checks[0]
    two = advise(here, [here, there]).checks[0]
    assert two.startswith("the display (too dark in evening-sitting-room and hallway): it shows the edit brighter")
    assert "printprep.screen" in two
    for last in ("right", "too light"):  # what was found there since counts
        assert "50 lx" in advise(here, [here, there, replace(there, number=3, result=last)]).checks[0]
    assert "shows the edit darker" in advise(replace(here, result="too light"), []).checks[1]


@pytest.mark.parametrize(
    ("result", "setting", "now", "value"),
    [
        ("too dark", "room-brightness.strength", 0.45, 0.75),
        ("too light", "room-brightness.strength", 0.45, 0.15),
        ("blocked shadows", "shadow-lift.worth", 0.0, 0.5),
        ("dull colour", "gamut-fit.strength", 1.0, 0.75),
        ("too strong", "strength", 1.0, 0.8),
    ],
)
def test_the_next_value_and_its_commands(result: str, setting: str, now: float, value: float) -> None:
    found = advise(sheet(7, result), [])
    assert (found.setting, found.now, found.value) == (setting, now, value)
    assert (found.least, found.most) == (max(0, min(now, 2 * value - now)), max(now, 2 * value - now))
    command, strip = next_lines(found)
    words = shlex.split(command)
    assert words[:5] == ["printprep", "prepare", "my edit.tif", "--like", "/prints/7.tif"]
    assert words[5:7] == (["--strength", "0.8"] if setting == "strength" else ["--set", f"{setting}={value:g}"])
    assert shlex.split(strip.split("\n")[1])[:7] == [
        "printprep", "strip", "my edit.tif", "--paper", "cotton-rag", "--room", "evening-sitting-room"
    ]  # fmt: skip
    assert f"--vary {setting}={found.least:g}..{found.most:g}/3" in strip


def test_values_stay_within_their_range() -> None:
    least = sheet(1, "too light", settings={"room-brightness.strength": 0.1})
    assert advise(least, []).value == 0
    assert advise(sheet(1, "too light", settings={"room-brightness.strength": 0.0}), []).setting == ""
    most = sheet(1, "blocked shadows", settings={"shadow-lift.strength": 1.4, "shadow-lift.worth": 1.0})
    assert (advise(most, []).setting, advise(most, []).value) == ("shadow-lift.strength", 1.5)
    assert advise(sheet(1, "dull colour", settings={"gamut-fit.strength": 0.0}), []).setting == "room-colour.strength"


def test_a_light_in_which_no_step_lightens() -> None:
    bright = advise(sheet(1, "too dark", room="lux=1500"), [])
    assert bright.setting == ""
    assert "1500 lx" in bright.checks[0]


def test_a_value_judged_the_other_way_is_not_proposed() -> None:
    dark = sheet(1, "too dark")
    light = sheet(2, "too light", settings={"room-brightness.strength": 0.65})
    assert advise(dark, [dark, light]).value == pytest.approx(0.55)
    assert advise(dark, [dark, replace(light, room="hallway")]).value == pytest.approx(0.75)


def test_what_asks_for_nothing(tmp_path: Path) -> None:
    right = advise(sheet(1, "right"), [])
    assert (right.checks, right.setting) == ((), "")
    with pytest.raises(InputError, match="sheet 1: is not judged yet; judge it first"):
        advise(sheet(1, ""), [])


def test_a_paper_that_is_gone_leaves_the_checks(tmp_path: Path) -> None:
    entry = sheet(1, "dull colour")
    doc = json.loads(entry.ticket)
    doc["recipe"]["paper"] = {"profile_sha256": "0" * 64}
    doc["recipe"]["asked"] = {"paper": "gone.icc"}
    found = advise(replace(entry, ticket=json.dumps(doc)), [])
    assert found.checks
    assert found.setting == ""
