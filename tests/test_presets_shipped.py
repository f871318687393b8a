"""Every preset that comes with printprep: it loads, and its values agree with the standards it names."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from printprep.adjust.room_colour import RoomColour
from printprep.check.basis import basis, cautions
from printprep.colour.appearance import colourfulness
from printprep.colour.blackpoint import compensate
from printprep.colour.lab import lab_from_lch, luminance_from_lightness, xyz_from_lab
from printprep.compose import pipeline
from printprep.conditions._eight import SOLIDS
from printprep.conditions.conditions import Conditions
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.viewing import white_luminance
from printprep.preset import load
from printprep.preset_files import shipped
from tests.support.eye import lch_from_lab

PAPERS = ("baryta", "canvas", "coated-proof", "cotton-rag", "gloss", "lustre", "plain-uncoated", "smooth-matte")
ROOMS = (
    "evening-sitting-room",
    "gallery",
    "hallway",
    "museum",
    "office",
    "studio-check",
    "viewing-booth",
    "window-wall",
)
DIM = ("evening-sitting-room", "hallway", "museum")
TYPICAL = tuple(p for p in PAPERS if p not in ("coated-proof", "plain-uncoated"))


@pytest.fixture(autouse=True)
def _only_shipped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("PRINTPREP_PRESETS", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))


def paper(name: str) -> Paper:
    found = load(name, "paper").paper
    assert found is not None
    return found


def room(name: str) -> Room:
    found = load(name, "room").room
    assert found is not None
    return found


def density(lightness: float) -> float:
    return -math.log10(float(luminance_from_lightness(lightness)))


def test_these_and_no_others_are_shipped() -> None:
    for folder, known in (("papers", PAPERS), ("rooms", ROOMS)):
        assert {f.name for f in (shipped() / folder).iterdir()} == {f"{name}.toml" for name in known}


@pytest.mark.parametrize("name", PAPERS + ROOMS)
def test_every_preset_says_what_it_is_and_where_its_values_come_from(name: str) -> None:
    preset = load(name)
    assert preset.title
    assert preset.notes.strip()
    assert preset.source


@pytest.mark.parametrize("name", ROOMS)
def test_every_value_of_a_room_has_its_own_source(name: str) -> None:
    text = Path(load(name, "room").file).read_text(encoding="utf-8")
    table = text.split("[room]")[1].split("[[adjust]]")[0]
    for line in filter(None, table.splitlines()):
        assert "#" in line, line
        said = line.split("#")[1]
        assert any(s in said for s in ("ISO 3664", "EN 12464-1", "CIE 157", "common practice, no source")), line


@pytest.mark.parametrize("name", PAPERS)
def test_papers_bring_lift_fit_and_sharpening_with_their_defaults(name: str) -> None:
    preset = load(name, "paper")
    assert {step: dict(values) for step, values in preset.adjust.items()} == {
        "shadow-lift": {}, "gamut-fit": {}, "sharpen": {},
    }  # fmt: skip


@pytest.mark.parametrize(("paper_name", "room_name"), list(zip(PAPERS, ROOMS, strict=True)))
def test_papers_and_rooms_go_together(paper_name: str, room_name: str) -> None:
    pipe = pipeline(paper=paper_name, room=room_name)
    colour = ["RoomColour"] if room_name in DIM else []
    assert [type(s).__name__ for s in pipe.steps] == ["ShadowLift", "RoomBrightness", *colour, "GamutFit", "Sharpen"]


# --- papers: density of black by way of CIE L* (ISO 5: D = -log10 R; CIE 15: L* of Y)


@pytest.mark.parametrize(
    ("name", "black_density"),
    # The second column is what each file's comment states; L* to D is ISO 5-1 by way of CIE L*.
    [
        ("gloss", 2.35),
        ("lustre", 2.26),
        ("baryta", 2.41),
        ("cotton-rag", 1.68),
        ("smooth-matte", 1.60),
        ("canvas", 1.56),
    ],
)
def test_black_has_the_density_that_the_file_states(name: str, black_density: float) -> None:
    black = paper(name).black
    assert black is not None
    assert density(black[0]) == pytest.approx(black_density, abs=0.006)
    assert f"D {black_density:.2f}" in Path(load(name).file).read_text(encoding="utf-8")


@pytest.mark.parametrize("name", TYPICAL)
def test_blacks_lie_where_the_trade_puts_them(name: str) -> None:
    # Dmax of gloss and satin inkjet 2.2 to 2.5, of matte 1.5 to 1.7: common practice, no source
    found = paper(name)
    assert found.black is not None
    low, high = (2.2, 2.5) if found.surface in ("gloss", "lustre") else (1.5, 1.7)
    assert low <= density(found.black[0]) <= high


@pytest.mark.parametrize("name", TYPICAL)
def test_solids_are_what_inks_on_paper_can_be(name: str) -> None:
    found = paper(name)
    assert found.solids is not None and found.white is not None and found.black is not None
    white, black = xyz_from_lab(np.array(found.white)), xyz_from_lab(np.array(found.black))
    xyz = {ink: xyz_from_lab(np.array(found.solids[ink])) for ink in SOLIDS}
    for ink in SOLIDS:  # less light than bare paper, more than the darkest mix, in every third of the spectrum
        assert (xyz[ink] < white).all(), ink
        assert (xyz[ink] > black).all(), ink
    for mix, parts in (("red", "magenta yellow"), ("green", "cyan yellow"), ("blue", "cyan magenta")):
        for part in parts.split():  # a second ink only takes light away
            assert xyz[mix][1] < xyz[part][1], (mix, part)
    hues = {ink: float(lch_from_lab(np.array(found.solids[ink]))[2]) for ink in SOLIDS}
    # FOGRA39L, measured; inkjet inks lie within 20 degrees of these: common practice, no source
    for ink, hue in (
        ("magenta", 357.7),
        ("red", 35.2),
        ("yellow", 93.1),
        ("green", 157.4),
        ("cyan", 233.5),
        ("blue", 295.6),
    ):
        assert abs((hues[ink] - hue + 180) % 360 - 180) < 20, ink


def test_papers_hold_more_the_glossier_they_are() -> None:
    volume = {name: paper(name).solid.volume for name in PAPERS}
    # FOGRA39L against FOGRA29L shows the same order, measured
    assert volume["plain-uncoated"] < volume["canvas"] < volume["cotton-rag"] < volume["coated-proof"]
    assert volume["coated-proof"] < volume["lustre"] < volume["gloss"]


@pytest.mark.parametrize(
    ("name", "white", "darkest"),
    [
        # FOGRA29L and FOGRA39L, characterisation data, as published: paper white, darkest patch
        ("plain-uncoated", (95.71, 0.61, -2.32), (26.18, 0.16, 2.17)),
        ("coated-proof", (95.00, 0.00, -2.00), (7.88, 5.79, -5.94)),
    ],
)
def test_measured_papers_agree_with_the_published_data(
    name: str, white: tuple[float, ...], darkest: tuple[float, ...]
) -> None:
    found = paper(name)
    assert found.kind == "measurement"
    assert found.white == pytest.approx(white, abs=0.3)  # XYZ in the files has two decimals
    assert found.black == pytest.approx(darkest, abs=0.3)
    assert "FOGRA" in found.source


def test_typical_papers_come_with_a_caution_and_measured_ones_do_not() -> None:
    for name in PAPERS:
        said = "".join(cautions({name: paper(name)}))
        if name in TYPICAL:
            assert basis(paper(name)) == "typical values"
            assert said.startswith(f"{name!r}: warning:") and "ICC profile" in said
        else:
            assert basis(paper(name)) == "measured"
            assert said == ""


# --- rooms: published illuminances


def test_viewing_booth_is_critical_comparison() -> None:
    booth = room("viewing-booth")
    assert abs(booth.illuminance_lux - 2000) <= 500  # ISO 3664:2009, P1
    assert booth.cct_kelvin == 5000  # ISO 3664:2009, D50
    assert 0.10 <= booth.wall_reflectance <= 0.60  # ISO 3664:2009, surround; from memory
    assert booth.surround == "average"


def test_studio_check_is_practical_appraisal_and_the_reference() -> None:
    studio = room("studio-check")
    assert abs(studio.illuminance_lux - 500) <= 125  # ISO 3664:2009, P2
    assert studio.illuminance_lux == Room().reference.illuminance_lux
    assert 0.10 <= studio.wall_reflectance <= 0.60  # ISO 3664:2009, surround; from memory


def test_office_and_hallway_lie_within_the_workplace_standard() -> None:
    assert 75 <= room("office").illuminance_lux <= 500  # EN 12464-1: walls at least 75 lx, desks 500 lx
    assert 75 <= room("hallway").illuminance_lux <= 100  # EN 12464-1: corridors 100 lx, their walls at least 75 lx


def test_museum_keeps_the_limit_for_sensitive_works() -> None:
    assert room("museum").illuminance_lux <= 50  # CIE 157:2004, high and medium responsivity


def test_homes_and_galleries_are_common_practice() -> None:
    assert 25 <= room("evening-sitting-room").illuminance_lux <= 75  # half of 50 to 150 lx
    assert 150 <= room("gallery").illuminance_lux <= 300  # picture light


def test_a_window_wall_is_prepared_for_the_mean_of_day_and_evening() -> None:
    wall = room("window-wall")
    assert wall.evening_illuminance_lux is not None
    assert wall.prepared_lux == pytest.approx(math.sqrt(wall.illuminance_lux * wall.evening_illuminance_lux))


def test_dim_rooms_get_lighter_prints() -> None:
    tones = {}
    for name in ("studio-check", "hallway", "evening-sitting-room"):
        pipe = pipeline(paper="cotton-rag", room=name)
        grey = np.full((1, 1, 3), 0.35, np.float32)
        tones[name] = float(pipe.apply(grey, "sRGB").mean())
    assert tones["studio-check"] < tones["hallway"] < tones["evening-sitting-room"]


@pytest.mark.parametrize("name", ROOMS)
def test_dim_rooms_and_no_others_strengthen_colours(name: str) -> None:
    assert (name in DIM) == (room(name).prepared_lux <= 100) == ("room-colour" in load(name, "room").adjust)


# CIE 13.3:1995, sample 13; Munsell 2.2YR 6.47/4.1 and 3YR 3.7/3.2 under D50 by way of colour-science
SKIN = [(80.77, 13.71, 21.84), (65.93, 15.31, 17.37), (37.84, 13.86, 14.65)]


@pytest.mark.parametrize("paper_name", PAPERS)
@pytest.mark.parametrize("name", DIM)
def test_skin_gains_little_where_colours_are_strengthened(name: str, paper_name: str) -> None:
    pipe = pipeline(paper=paper_name, room=name)
    on = Conditions(pipe.paper, pipe.room)
    lab = compensate(np.array(SKIN), 0, on.black).astype(np.float32)
    lift, brightness, colour, *_ = pipe.steps
    lab = brightness(lift(lab, on), on)
    assert isinstance(colour, RoomColour)
    gained = lch_from_lab(colour(lab, on))[:, 1] - lch_from_lab(lab)[:, 1]
    assert 0.3 < gained.max() <= 2


@pytest.mark.parametrize("paper_name", ["cotton-rag", "gloss"])
def test_at_50_lx_colours_within_the_gamut_come_nearer_to_the_edits(paper_name: str) -> None:
    # CIECAM16's colourfulness M (CIE 248:2022) against the reference viewing, a third of the gamut's chroma
    pipe = pipeline(paper=paper_name, room="evening-sitting-room")
    on, hue = Conditions(pipe.paper, pipe.room), np.arange(0, 360, 15.0)
    chroma = pipe.paper.solid.max_chroma(np.full(24, 50.0), hue) / 3
    lab = lab_from_lch(np.stack([np.full(24, 50.0), chroma, hue], -1)).astype(np.float32)
    white = [500 * on.paper.white_reflectance / math.pi, white_luminance(on.paper, on.room)]
    edit = colourfulness(xyz_from_lab(lab), 0.2 * white[0])
    _, brightness, colour, *_ = pipe.steps

    def share(seen: NDArray[np.float32]) -> float:
        return float(np.mean(colourfulness(xyz_from_lab(seen), 0.2 * white[1]) / edit))

    lighter = brightness(lab, on)
    assert share(lab) < 0.83
    assert share(lighter) < 0.87
    assert share(colour(lighter, on)) > 0.91


def test_shipped_files_are_small_plain_text_without_paths_of_this_machine() -> None:
    for folder in ("papers", "rooms"):
        for file in (shipped() / folder).iterdir():
            text = file.read_text(encoding="utf-8")
            tomllib.loads(text)
            assert len(text) < 4000
            assert "/home/" not in text and "/work/" not in text and "/tmp/" not in text
