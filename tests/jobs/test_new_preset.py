"""Papers and rooms of one's own: written as presets, from files, and from what an observer sees on a target."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

import printprep as pp
from printprep.adjust.highlight_hold import HighlightHold
from printprep.adjust.tone_calibration import ToneCalibration
from printprep.colour.visibility import jnd_index
from printprep.conditions.conditions import Conditions
from printprep.conditions.paper import Paper
from printprep.conditions.readings import lost_by_eye, parse_readings
from printprep.conditions.room import Room
from printprep.conditions.viewing import luminance, on_print
from printprep.errors import InputError, OutputError, ParameterError, PrintprepError, UnknownName
from printprep.jobs.new_preset import HOLD, new_paper, new_room
from printprep.preset_files import shipped
from tests.support.lutprofile import MatrixInk, output_profile

Array = NDArray[np.float64]
INK = MatrixInk(12.0)
DATA = Path(str(shipped())) / "measurements"
EIGHT = """name,L,a,b
white,96.3,0.1,2.2
black,16,0.5,1
cyan,57.5,-33,-46
magenta,51,68,-8
yellow,90,-2.5,90
red,50.5,63,43
green,54,-56,29.5
blue,29,20,-48.5
"""


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of presets of one's own."""
    monkeypatch.setenv("PRINTPREP_PRESETS", str(tmp_path / "own"))
    return tmp_path / "own"


# ---------------------------------------------------------------- an observer


def clipped(at: float) -> Callable[[Array, float], Array]:
    """A paper on which everything up to an edit's tone is black."""
    return lambda asked, black: np.where(asked <= on_print(at, black) + 1e-6, black, asked)


def shut(at: float) -> Callable[[Array, float], Array]:
    """A paper on which tones begin late and catch up at L* 60."""

    def prints(asked: Array, black: float) -> Array:
        start = float(on_print(at, black))
        late = black + (asked - start) * (60 - black) / (60 - start)
        return np.where(asked < 60, np.maximum(late, black), asked)

    return prints


def seen_first(printed: Array, paper: Paper, room: Room) -> int:
    """The lowest step that an eye tells from black: one just-noticeable difference (DICOM PS3.14)."""
    index = jnd_index(luminance(printed, paper, room))
    return int(np.argmax(index - index[0] >= 1))


def steps_seen(printed: Array, paper: Paper, room: Room) -> int:
    """How many steps part from the last one that was counted."""
    count, last = 0, -np.inf
    for index in jnd_index(luminance(printed, paper, room)):
        if index - last >= 1:
            count, last = count + 1, index
    return count


@pytest.mark.parametrize("lux", [500, 100])
@pytest.mark.parametrize("lost", [0, 0.5, 2.5, 6.5, 11.5, 15.5])
@pytest.mark.parametrize("kind", [clipped, shut])
def test_an_observer_sees_the_steps_again(
    kind: Callable[[float], Callable[[Array, float], Array]], lost: float, lux: int
) -> None:
    # FOGRA29L: measured uncoated offset paper; the observer is DICOM PS3.14's
    paper, room, prints = pp.paper("plain-uncoated"), Room(illuminance_lux=lux), kind(lost)
    black = paper.neutral_black
    asked = on_print(np.arange(25.0), black)
    first = seen_first(prints(asked, black), paper, room)
    file = new_paper("mine", seen=f"first-dark={first}", like="plain-uncoated", room=room)
    steps = [s for s in pp.pipeline(paper=file, room=room).steps if isinstance(s, ToneCalibration)]
    lab = np.zeros((25, 3), np.float32)
    lab[:, 0] = asked
    for step in steps:
        lab = step(lab, Conditions(paper, room))
    after = prints(lab[:, 0].astype(np.float64), black)
    could = steps_seen(asked, paper, room)
    assert steps_seen(after, paper, room) >= 0.9 * could
    if lost >= 6.5:
        assert steps_seen(prints(asked, black), paper, room) < could  # there was something to bring back


@pytest.mark.parametrize("lux", [500, 50, 10])
def test_what_the_eye_loses_in_a_dim_room_is_not_the_papers(lux: int) -> None:
    paper, room = pp.paper("plain-uncoated"), Room(illuminance_lux=lux)
    first = seen_first(on_print(np.arange(25.0), paper.neutral_black), paper, room)
    assert lost_by_eye(paper, room) == first
    file = new_paper("mine", seen=f"first-dark={first}", like="plain-uncoated", room=room)
    assert "first_dark = 1\n" in file.read_text()


@pytest.mark.parametrize("last", range(89, 99))
def test_one_step_near_white_moves_no_tone_by_over_1(last: int) -> None:
    lab = np.zeros((400, 3), np.float32)
    lab[:, 0] = np.linspace(16, 100, 400)
    on = Conditions(pp.paper("cotton-rag"), Room())
    one, next_ = (HighlightHold(last_light=min(n + 1, 100), strength=HOLD)(lab, on) for n in (last, last + 1))
    assert np.abs(one - next_).max() <= 1


def test_steps_lost_near_white_part_again() -> None:
    # all steps over L* 97 print as paper; that is what is read, and all but the last come back
    on = Conditions(pp.paper("cotton-rag"), Room())
    lab = np.zeros((15, 3), np.float32)
    lab[:, 0] = np.arange(86.0, 101.0)
    (step,) = (s for s in pp.pipeline(paper=new_paper("mine", seen="last-light=97", like="cotton-rag")).steps
               if isinstance(s, HighlightHold))  # fmt: skip
    out = step(lab, on)[:, 0]
    assert (out[lab[:, 0] <= 98] <= 97.5).all()
    assert out[-1] == 100


# ---------------------------------------------------------------- papers


def test_from_eight_patches(tmp_path: Path, own: Path) -> None:
    (tmp_path / "eight.csv").write_text(EIGHT)
    file = new_paper("my-rag", measurements=tmp_path / "eight.csv")
    assert file == own / "papers" / "my-rag.toml"
    assert pp.paper("my-rag").solids == pp.paper("cotton-rag").solids
    assert not pp.paper("my-rag").typical
    assert pp.paper(tmp_path / "eight.csv").black == (16, 0.5, 1)


def test_decimal_commas_and_any_order(tmp_path: Path) -> None:
    lines = [line.replace(",", ";").replace(".", ",") for line in EIGHT.splitlines()[:0:-1]]
    (tmp_path / "eight.csv").write_text("\r\n".join(lines))
    assert pp.paper(tmp_path / "eight.csv").white == (96.3, 0.1, 2.2)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("white,96.3,0.1,2.2\n", "", "white is missing"),
        ("cyan,", "azure,", "line 4: unknown patch 'azure'"),
        ("16,0.5", "dark,0.5", "line 3: black has a value that is no number"),
        ("16,0.5,1", "16,0.5", "line 3: 3 values"),
        ("black,16", "black,nan", "black"),
        ("black,16", "black,90", "at least 20 L* darker"),
        ("red,", "cyan,", "cyan is there twice"),
    ],
)
def test_bad_eight_patches_are_one_line(tmp_path: Path, own: Path, old: str, new: str, said: str) -> None:
    (tmp_path / "eight.csv").write_text(EIGHT.replace(old, new))
    with pytest.raises(InputError) as error:
        new_paper("my-rag", measurements=tmp_path / "eight.csv")
    assert said in str(error.value)
    assert "eight.csv" in str(error.value)
    assert "\n" not in str(error.value)
    assert not own.exists()


def test_a_measurement_is_kept_beside_the_preset(tmp_path: Path, own: Path) -> None:
    copy = tmp_path / "chart.txt"
    copy.write_bytes((DATA / "FOGRA29L.txt").read_bytes())
    new_paper("mine", measurements=copy, seen="mid=52", like="canvas")
    copy.unlink()
    paper = pp.paper("mine")
    assert (paper.kind, paper.surface) == ("measurement", "canvas")
    assert {p.name for p in (own / "papers").iterdir()} == {"mine.toml", "mine.txt"}


def test_a_profile_is_kept_beside_the_preset(tmp_path: Path) -> None:
    profile = tmp_path / "maker.icc"
    profile.write_bytes(output_profile(INK.lab, INK.rgb, device_nodes=9, lab_nodes=17))
    new_paper("mine", profile=profile)
    assert pp.paper("mine").profile == pp.Paper.from_profile(profile).profile
    with pytest.raises(ParameterError, match="is a profile; give it as profile"):
        new_paper("other", measurements=profile)


@pytest.mark.parametrize(
    ("text", "kind", "said"),
    [
        ("first-dark=7 brightness=3", UnknownName, "brightness"),
        ("first-dark=0", ParameterError, "first-dark = 0"),
        ("first-dark=seven", ParameterError, "number of a step"),
        ("last-light=100", ParameterError, "last-light = 100"),
        ("mid=70", ParameterError, "mid = 70"),
        ("first-dark=7 first-dark=8", ParameterError, "twice"),
        ("", ParameterError, "says nothing"),
        ("seven", ParameterError, "not understood"),
        ("first-dark=7.5", ParameterError, "whole number"),
    ],
)
def test_bad_readings_are_one_line(own: Path, text: str, kind: type[PrintprepError], said: str) -> None:
    with pytest.raises(kind) as error:
        new_paper("mine", seen=text)
    assert said in str(error.value)
    assert "\n" not in str(error.value)
    assert not own.exists()


def test_readings_in_any_order() -> None:
    readings = parse_readings("mid=48, Last_Light=97;first-dark = 7")
    assert (readings.first_dark, readings.last_light, readings.mid) == (7, 97, 48)
    assert parse_readings(str(readings)) == readings


@pytest.mark.parametrize("name", ["", "../up", "a b", ".hidden", "-x", "x" * 101, "cotton-rag", "Cotton-Rag", 7])
def test_names_that_cannot_be(own: Path, name: str) -> None:
    with pytest.raises(ParameterError, match="name"):
        new_paper(name, seen="mid=48")
    assert not own.exists()


def test_nothing_is_replaced_unasked() -> None:
    file = new_paper("mine", seen="mid=48", like="cotton-rag")
    before = file.read_bytes()
    with pytest.raises(OutputError, match="exists already"):
        new_paper("mine", seen="mid=52", like="cotton-rag")
    assert file.read_bytes() == before
    new_paper("mine", seen="mid=52", like="cotton-rag", overwrite=True)
    assert "mid = 52" in file.read_text()


@pytest.mark.parametrize("more", [{}, {"profile": "a.icc", "measurements": "b.txt"}])
def test_one_description_is_asked_for(more: dict[str, Any]) -> None:
    with pytest.raises(PrintprepError, match="give"):
        new_paper("mine", **more)


def test_a_paper_is_not_like_itself() -> None:
    new_paper("mine", seen="mid=48", like="cotton-rag")
    with pytest.raises(ParameterError, match="to be like"):
        new_paper("mine", seen="mid=50", like="mine", overwrite=True)


# ---------------------------------------------------------------- rooms


def test_a_camera_reading_is_kept() -> None:
    # ISO 2720: E = pi K N**2 / (t S rho) with K = 12.5, rho = 0.85
    wanted = np.pi * 12.5 * 16 / (400 / 15 * 0.85)
    file = new_room("stairs", metered="f/4 1/15 ISO 400", like="evening-sitting-room")
    assert pp.room("stairs").illuminance_lux == pytest.approx(wanted, rel=1e-3)
    assert "f/4 1/15 ISO 400" in file.read_text()
    assert pp.room("stairs").cct_kelvin == pp.room("evening-sitting-room").cct_kelvin
    assert [type(s) for s in pp.pipeline(paper="gloss", room="stairs").steps] == [
        type(s) for s in pp.pipeline(paper="gloss", room="evening-sitting-room").steps
    ]


def test_a_second_light_is_not_taken_over() -> None:
    new_room("study", lux=120, like="window-wall")
    assert pp.room("study").prepared_lux == 120


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({}, "nothing says how light"),
        ({"lux": 50, "metered": "f/4 1/15 ISO 400"}, "two lights"),
        ({"metered": "f/4 1/15"}, "no ISO"),
        ({"lux": -5}, "lux = -5"),
        ({"lux": float("nan")}, "lux = nan"),
        ({"metered": "f/0.5 1000 ISO 10000000"}, "stands for"),
        ({"lux": 50, "like": "nowhere"}, "unknown room"),
    ],
)
def test_bad_rooms_are_one_line(own: Path, more: dict[str, Any], said: str) -> None:
    with pytest.raises(PrintprepError) as error:
        new_room("stairs", **more)
    assert said in str(error.value)
    assert "\n" not in str(error.value)
    assert not own.exists()
