"""Papers from ICC profiles: RGB, CMYK and grey, matrix and table, versions 2 and 4."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
from numpy.typing import NDArray

from printprep.check.basis import cautions
from printprep.colour.icc import device_from_lab, lab_from_device
from printprep.colour.profile import Profile
from printprep.compose import pipeline
from printprep.conditions._gamut import ink_limit
from printprep.conditions.paper import Paper
from printprep.errors import InputError, PresetError, PrintprepError
from printprep.preset import load
from tests.support.command import one_line_error, run
from tests.support.lutprofile import MatrixInk, output_profile
from tests.support.solids import distance, within

Floats = NDArray[np.float64]


@cache
def rgb_table() -> bytes:
    ink = MatrixInk(12.0)
    return output_profile(ink.lab, ink.rgb, device_nodes=21, lab_nodes=33, white=(0.85, 0.88, 0.71))


@cache
def cmyk_table() -> bytes:
    """Three inks and a black that only darkens; its way back never asks for more than 260 %."""
    ink = MatrixInk(8.0)

    def to_lab(cmyk: Floats) -> Floats:
        return ink.lab((1 - cmyk[:, :3]) * (1 - 0.9 * cmyk[:, 3:]))

    def to_device(lab: Floats) -> Floats:
        rgb = ink.rgb(lab)
        key = np.clip((0.35 - rgb.max(axis=1)) / 0.35, 0, 0.8)
        left = rgb / (1 - 0.9 * key)[:, None]
        cmy = np.clip(1 - left, 0, 1)
        cmy *= np.minimum(1, (2.6 - key) / np.maximum(cmy.sum(axis=1), 1e-9))[:, None]
        return np.concatenate([cmy, key[:, None]], axis=1)

    return output_profile(to_lab, to_device, channels=4, device_nodes=9)


def reached(profile: bytes, channels: int) -> Floats:
    """Lab of random device values: another route to what a profile holds."""
    device = np.random.default_rng(7).random((20_000, channels))
    return np.asarray(lab_from_device(device, profile), np.float64)


def test_a_matrix_profile_holds_its_cube() -> None:
    paper = Paper.from_profile(bytes(imagecodecs.cms_profile("srgb")), any_profile=True)
    assert paper.kind == "profile"
    assert paper.white == pytest.approx((100, 0, 0), abs=0.01)
    assert paper.neutral_black == pytest.approx(0, abs=0.01)
    # published by many, from memory: the volume of sRGB is about 830 000 cubic dE*ab
    assert paper.solid.volume == pytest.approx(830_000, rel=0.01)


def test_an_rgb_table_holds_what_its_a2b_reaches() -> None:
    paper, lab = Paper.from_profile(rgb_table()), reached(rgb_table(), 3)
    beyond = distance(paper.solid, lab)
    assert beyond.max() < 0.6
    box = np.random.default_rng(8).uniform([12, -80, -80], [100, 80, 80], (60_000, 3))
    way_back = lab_from_device(np.clip(device_from_lab(box, rgb_table()), 0, 1), rgb_table())
    printable = np.linalg.norm(way_back - box, axis=-1) < 1.5
    held = within(paper.solid, box, 1.0)
    assert (held == printable).mean() > 0.98
    assert paper.white == pytest.approx((95.15, 0, 0), abs=3)
    assert paper.neutral_black == pytest.approx(12, abs=0.5)


def test_a_cmyk_table_is_held_to_its_ink_limit() -> None:
    limit = ink_limit(cmyk_table())
    assert 2.5 < limit < 2.75
    paper = Paper.from_profile(cmyk_table())
    device = np.random.default_rng(9).random((20_000, 4))
    lab = np.asarray(lab_from_device(device, cmyk_table()), np.float64)
    inside = device.sum(axis=1) <= limit
    assert distance(paper.solid, lab[inside]).max() < 1.0
    assert "profile" in paper.certainty


def test_a_grey_profile_holds_greys_only() -> None:
    grey = bytes(imagecodecs.cms_profile("gray", gamma=2.2))
    paper = Paper.from_profile(grey, any_profile=True)
    assert paper.solid.volume == 0
    assert paper.solid.contains([50, 0, 0])
    assert not paper.solid.contains([50, 1, 0])


@pytest.mark.parametrize("name", ["default_cmyk.icc", "default_rgb.icc"])
def test_profiles_of_an_open_package(name: str) -> None:
    """Those that Debian's libgs-common brings, where it is installed: real tables, made by others."""
    file = Path("/usr/share/color/icc/ghostscript") / name
    if not file.is_file():
        pytest.skip("no profiles of libgs-common here")
    paper = Paper.from_profile(file, any_profile=True)
    data = file.read_bytes()
    channels = {b"CMYK": 4, b"RGB ": 3}[data[16:20]]
    device = np.random.default_rng(7).random((20_000, channels))
    lab = np.asarray(lab_from_device(device, data), np.float64)
    printed = device.sum(axis=1) <= (ink_limit(data) if channels == 4 else 3)
    assert np.quantile(distance(paper.solid, lab[printed]), 0.999) < 1.0
    # what LittleCMS brings back unchanged is held, and what it must move is not
    box = np.random.default_rng(8).uniform([5, -100, -100], [100, 100, 100], (30_000, 3))
    back = lab_from_device(np.clip(device_from_lab(box, data), 0, 1), data)
    moved = np.linalg.norm(back - box, axis=-1)
    assert within(paper.solid, box[moved < 0.5], 2.0).mean() > 0.98
    assert paper.solid.contains(box[moved > 8]).mean() < 0.02


def test_what_is_no_profile_is_refused(tmp_path: Path) -> None:
    (tmp_path / "x.icc").write_bytes(b"no profile")
    with pytest.raises(InputError, match=r"x\.icc"):
        Paper.from_profile(tmp_path / "x.icc")
    with pytest.raises(InputError, match=r"none\.icc"):
        Paper.from_profile(tmp_path / "none.icc")
    truncated = rgb_table()[:4000]
    with pytest.raises(InputError):
        Paper.from_profile(truncated)


def of_class(profile: bytes, signature: bytes) -> bytes:
    """The same profile with another class in its header (ISO 15076-1, 7.2.5)."""
    return profile[:12] + signature + profile[16:]


HARDLY = {
    "sRGB": (Profile.named("sRGB").data, "display"),
    "ROMM RGB": (Profile.named("ROMM RGB").data, "display"),
    "a screen with tables": (of_class(rgb_table(), b"mntr"), "display"),
    "a working space with tables": (of_class(rgb_table(), b"spac"), "colour space"),
    "an output profile of a matrix": (of_class(Profile.named("sRGB").data, b"prtr"), "without tables"),
    "greys of a screen": (bytes(imagecodecs.cms_profile("gray", gamma=2.2)), "display"),
    "greys of a printer": (of_class(bytes(imagecodecs.cms_profile("gray", gamma=2.2)), b"prtr"), "greys alone"),
}


@pytest.mark.parametrize("name", HARDLY)
def test_what_is_hardly_a_paper_is_asked_back_about(name: str, tmp_path: Path) -> None:
    data, words = HARDLY[name]
    file = tmp_path / "x.icc"
    file.write_bytes(data)
    preset = tmp_path / "x.toml"
    preset.write_text('source = "mine"\n[paper]\nprofile = "x.icc"\n')
    for call in (lambda: Paper.from_profile(file), lambda: pipeline(paper=file), lambda: load(preset)):
        with pytest.raises(PrintprepError, match=rf"x\.icc'.*{words}.*maker's own output profile.*any_profile = true"):
            call()
    preset.write_text(preset.read_text() + "any_profile = true\n")
    assert load(preset).paper == Paper.from_profile(file, any_profile=True, title="", source="mine")


def test_what_nothing_prints_by_is_refused_however_one_insists() -> None:
    for data in (of_class(rgb_table(), b"scnr"), of_class(rgb_table(), b"link"), of_class(rgb_table(), b"abst")):
        with pytest.raises(InputError, match=r"scanner|describes no device"):
            Paper.from_profile(data, any_profile=True)


def test_insisting_goes_with_the_profile_it_is_about(tmp_path: Path) -> None:
    (tmp_path / "screen.icc").write_bytes(Profile.named("sRGB").data)
    (tmp_path / "a.toml").write_text('[paper]\nprofile = "screen.icc"\nany_profile = true\n')
    (tmp_path / "b.toml").write_text('uses = ["a.toml"]\n[paper]\nprofile = "screen.icc"\n')
    with pytest.raises(PresetError, match="display"):
        load(tmp_path / "b.toml")


def test_presets_check_says_the_same(tmp_path: Path) -> None:
    (tmp_path / "screen.icc").write_bytes(Profile.named("sRGB").data)
    (tmp_path / "a.toml").write_text('source = "mine"\n[paper]\nprofile = "screen.icc"\n')
    line = one_line_error(run("presets", "check", "a.toml", cwd=tmp_path))
    assert "is a display profile, not a paper's" in line


def test_a_paper_of_greys_alone_is_said_to_be_one() -> None:
    grey = Paper.from_profile(bytes(imagecodecs.cms_profile("gray", gamma=2.2)), any_profile=True)
    assert "greys alone" in cautions({"mine": grey})[0]
    assert cautions({"mine": Paper.from_profile(rgb_table())}) == []
