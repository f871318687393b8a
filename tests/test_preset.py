import subprocess
import sys
from pathlib import Path

import pytest

from printprep import preset_files as presets
from printprep.cli._defaults import defaults, set_defaults
from printprep.errors import InputError, PresetError, PrintprepError, UnknownName
from printprep.preset import Setting, join_steps, load

PAPER = """
title = "Test matte"
source = "invented for tests"
[paper]
surface = "matte"
white = [96, 0.3, 2.0]
black = [16, 0.5, 1.0]
[paper.solids]
cyan = [57, -34, -43]
magenta = [50, 66, -4]
yellow = [88, -5, 84]
red = [48, 60, 38]
green = [50, -55, 24]
blue = [28, 16, -42]
"""
ROOM = """
title = "Test room"
source = "invented for tests"
[room]
illuminance_lux = 80.0
"""


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "papers").mkdir()
    (tmp_path / "rooms").mkdir()
    (tmp_path / "papers" / "test-matte.toml").write_text(PAPER)
    (tmp_path / "rooms" / "test-room.toml").write_text(ROOM)
    monkeypatch.setenv("PRINTPREP_PRESETS", str(tmp_path))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    return tmp_path


def test_a_name_is_looked_up_in_the_named_folder_first(place: Path) -> None:
    (place / "papers" / "gloss.toml").write_text(PAPER)
    assert load("gloss", "paper").title == "Test matte"
    assert "gloss" in presets.names("paper")
    assert {"test-room", "viewing-booth"} <= set(presets.names("room"))


def test_a_paper_and_a_room(place: Path) -> None:
    paper, room = load("test-matte", "paper").paper, load("test-room", "room").room
    assert paper is not None
    assert room is not None
    assert (paper.title, paper.source, paper.white) == ("Test matte", "invented for tests", (96.0, 0.3, 2.0))
    assert room.illuminance_lux == 80


def test_uses_builds_on_others_and_overrides_them(place: Path) -> None:
    file = place / "stairs.toml"
    file.write_text(
        'title = "Stairs"\nuses = ["test-matte", "test-room"]\n[room]\nviewing_distance_m = 2.5\n'
        "[paper]\nblack = [18, 0, 0]\n"
        '[[adjust]]\nstep = "shadow-lift"\nstrength = 0.5\n'
    )
    preset = load("stairs")
    assert preset.room is not None
    assert preset.paper is not None
    assert (preset.room.illuminance_lux, preset.room.viewing_distance_m) == (80, 2.5)
    assert preset.paper.black == (18.0, 0.0, 0.0)
    assert preset.room_table["illuminance_lux"].file.endswith("test-room.toml")
    assert preset.room_table["viewing_distance_m"].file.endswith("stairs.toml")
    assert [type(s).__name__ for s in preset.steps] == ["ShadowLift"]


def test_a_bundles_title_is_not_its_papers(place: Path) -> None:
    both = 'title = "Stairs"\nsource = "mine"\nuses = ["test-matte"{}]\n{}'
    for more, extra in ((', "test-room"', ""), ("", "[room]\n"), (', "test-room"', "[paper]\nmedia = 'Rag'\n")):
        (place / "stairs.toml").write_text(both.format(more, extra or "[room]\nilluminance_lux = 80\n"))
        preset = load("stairs")
        assert preset.title == "Stairs"
        assert preset.paper is not None
        expected = ("Test matte", "invented for tests") if preset.room_table else ("Stairs", "mine")
        assert (preset.paper.title, preset.paper.source) == expected
    (place / "papers" / "mine.toml").write_text(both.format("", ""))  # a paper of one's own, made from another
    mine = load("mine", "paper").paper
    assert mine is not None
    assert mine.title == "Stairs"


def test_a_circle_of_uses_is_refused(place: Path) -> None:
    (place / "a.toml").write_text('uses = ["b"]')
    (place / "b.toml").write_text('uses = ["a"]')
    with pytest.raises(PresetError, match="in a circle"):
        load("a")


def test_presets_that_disagree_are_refused_naming_both() -> None:
    into = {"shadow-lift": {"strength": Setting(0.5, "one.toml")}}
    join_steps(into, {"shadow-lift": {"strength": Setting(0.5, "same.toml")}, "gamut-fit": {}})
    with pytest.raises(PrintprepError, match=r"one\.toml.*0\.5.*two\.toml.*0\.7"):
        join_steps(into, {"shadow-lift": {"strength": Setting(0.7, "two.toml")}})


WRONG = [
    ("[room]\nilluminence_lux = 80\n", r"\[room\] 'illuminence_lux': unknown key; did you mean illuminance_lux\?"),
    ("[room]\nilluminance_lux = -5\n", r"\[room\] illuminance_lux = -5.*0.1 to 200000.*lux"),
    ("[room]\nilluminance_lux = true\n", r"\[room\] illuminance_lux = True: must be"),
    ("[room]\nilluminance_lux = nan\n", r"\[room\] illuminance_lux = nan"),
    ("[room]\nsurround = 'dimm'\n", r"\[room\] surround = 'dimm'"),
    ("[[adjust]]\nstep = 'shadow-lfit'\n", r"'shadow-lfit': unknown step; did you mean shadow-lift\?"),
    (
        "[[adjust]]\nstep = 'shadow-lift'\nstrenght = 1\n",
        r"\[\[adjust\]\] 1: 'strenght': unknown key; did you mean strength\?",
    ),
    ("[[adjust]]\nstep = 'shadow-lift'\nstrength = 'much'\n", r"\[\[adjust\]\] 1: strength = 'much'"),
    ("[[adjust]]\nstrength = 1\n", "step: missing"),
    ("adjust = 3\n", "adjust = 3: must be a list"),
    ("room = 3\n", r"room = 3: must be a table"),
    ("[papper]\n", r"'papper': unknown key; did you mean paper\?"),
    ("schema = 2\n", "schema = 2: must be 1"),
    ("uses = 'gloss'\n", "uses = 'gloss'"),
    ("uses = ['glos']\n", r"'glos': unknown preset; did you mean gloss\?"),
    ("title = 3\n", "title = 3: must be text"),
    ("title = \n", "not valid TOML"),
    ("[[adjust]]\nstep = 'shadow-lift'\n[[adjust]]\nstep = 'shadow-lift'\n", "occurs twice"),
    ("[paper]\nwhite = [96, 0]\n", r"\[paper\] white"),
    ("[paper]\nprofile = 'missing.icc'\n", r"\[paper\].*missing\.icc"),
    ("title = " + "[" * 3000, "not valid TOML"),
]


@pytest.mark.parametrize(("text", "message"), WRONG)
def test_what_is_wrong_is_said_with_its_place(place: Path, text: str, message: str) -> None:
    file = place / "wrong.toml"
    file.write_text(text)
    with pytest.raises(PrintprepError, match=message) as caught:
        load(str(file))
    assert "\n" not in str(caught.value)
    assert "wrong.toml" in str(caught.value)


def test_names_are_bare_words(place: Path) -> None:
    for name in ("../gloss", "papers/gloss", "", ".", "gloss\n", "gl\x1boss"):
        with pytest.raises(UnknownName):
            load(name, "paper")


def test_files_that_are_no_presets(place: Path) -> None:
    with pytest.raises(InputError, match="does not exist"):
        load(str(place / "nothing.toml"))
    (place / "folder.toml").mkdir()
    with pytest.raises(InputError, match="is a folder"):
        load(str(place / "folder.toml"))
    (place / "large.toml").write_bytes(b"#" * (2 << 20))
    with pytest.raises(PresetError, match="too large"):
        load(str(place / "large.toml"))
    (place / "bytes.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(PresetError, match="not UTF-8 text"):
        load(str(place / "bytes.toml"))


def test_defaults_are_kept(place: Path) -> None:
    assert defaults() == {}
    set_defaults("gloss", 'a "quoted" room')
    assert defaults() == {"paper": "gloss", "room": 'a "quoted" room'}
    set_defaults("cotton-rag", "hallway")
    assert defaults() == {"paper": "cotton-rag", "room": "hallway"}


def test_damaged_defaults_are_refused(place: Path) -> None:
    """Cut anywhere, or with any one bit of them flipped: never another paper or room, nor half of them."""
    file = set_defaults("gloss", "hallway")
    good = file.read_bytes()
    versions = [good[:length] for length in range(len(good))]
    versions += [bytes([*good[:i], good[i] ^ 1 << bit, *good[i + 1 :]]) for i in range(len(good)) for bit in range(8)]
    same = 0
    for data in versions:
        file.write_bytes(data)
        try:
            assert defaults() == {"paper": "gloss", "room": "hallway"}
            assert data.split(b"\n")[1:4] == good.split(b"\n")[1:4]  # all but the comment, and the last line's end
            same += 1
        except PresetError as error:
            assert "printprep presets use PAPER ROOM" in str(error)  # noqa: PT017
    assert 0 < same < len(versions) / 2


@pytest.mark.parametrize("more", ["schema = 2\n", 'sheet = "A4"\n', "[more]\n"])
def test_defaults_of_another_version_are_refused(place: Path, more: str) -> None:
    file = set_defaults("gloss", "hallway")
    file.write_text(file.read_text() + more)
    with pytest.raises(PresetError, match="of another version; set the defaults again"):
        defaults()


def test_defaults_set_by_several_processes_are_always_whole(place: Path) -> None:
    script = (
        "import sys\nfrom printprep.cli._defaults import defaults, set_defaults\n"
        "for i in range(200):\n"
        "    set_defaults(f'paper-{sys.argv[1]}-{i}', f'room-{sys.argv[1]}-{i}')\n"
        "    found = defaults()\n"
        "    assert found['paper'][6:] == found['room'][5:], found\n"
    )
    file = set_defaults("a", "a")
    running = [subprocess.Popen([sys.executable, "-c", script, str(n)]) for n in range(3)]
    assert [process.wait(120) for process in running] == [0, 0, 0]
    assert list(file.parent.iterdir()) == [file]
