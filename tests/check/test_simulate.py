"""What a print will show, against LittleCMS, and tables against each colour by itself."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from skimage import data

import printprep as pp
from printprep.check import _tone
from printprep.check.simulate import Simulation, printed, simulation
from printprep.colour.difference import ciede2000
from printprep.colour.lab import absolute
from printprep.colour.profile import Profile
from tests.support.fograprofile import chart, press_profile
from tests.support.solids import within

SRGB = Profile.named("sRGB").data


def colours(name: str = "coffee", step: int = 29) -> NDArray[np.float32]:
    """Colours of a photograph that comes with scikit-image, (n, 3), 0..1."""
    picture = getattr(data, name)()
    return np.asarray(picture.reshape(-1, 3)[::step] / np.float32(255), np.float32)


@pytest.mark.parametrize("name", ["FOGRA29L", "FOGRA39L"])
def test_a_print_agrees_with_littlecms_through_a_profile_of_the_same_chart(name: str) -> None:
    """LittleCMS: from Lab to the printer, relative colorimetric; from there to Lab, absolute colorimetric."""
    import imagecodecs

    paper = pp.Paper.from_measurement(chart(name))
    profile, lab4 = press_profile(name), imagecodecs.cms_profile("lab4")
    rgb = np.concatenate([colours(n, 97) for n in ("coffee", "rocket", "chelsea")])
    shown = Simulation(SRGB, pp.Pipeline([], paper=paper)).exactly(rgb)
    device = imagecodecs.cms_transform(
        shown.asked[None], lab4, profile, colorspace="lab", outcolorspace="rgb", outdtype="float32", intent=1,
        flags=0x0140,
    )  # fmt: skip
    seen = imagecodecs.cms_transform(
        device, profile, lab4, colorspace="rgb", outcolorspace="lab", outdtype="float32", intent=3, flags=0x140
    )[0]
    apart = ciede2000(absolute(shown.plain, np.array(paper.white)), np.asarray(seen, np.float64))
    assert apart.mean() < 1.0
    assert np.percentile(apart, 95) < 3.0


def test_through_a_paper_profile_the_print_is_what_littlecms_makes_of_it() -> None:
    """LittleCMS: relative colorimetric with its own black point compensation, then back to Lab."""
    import imagecodecs

    profile, lab4 = press_profile("FOGRA39L"), imagecodecs.cms_profile("lab4")
    rgb = colours("rocket", 301)
    device = imagecodecs.cms_transform(
        rgb[None], SRGB, profile, colorspace="rgb", outcolorspace="rgb", outdtype="float32", intent=1, flags=0x2140
    )
    seen = imagecodecs.cms_transform(
        device, profile, lab4, colorspace="rgb", outcolorspace="lab", outdtype="float32", intent=1, flags=0x140
    )[0]
    pipe = pp.Pipeline([], paper=pp.Paper.from_profile(profile))
    assert np.allclose(Simulation(SRGB, pipe).exactly(rgb).plain, seen, atol=0.01)


def test_colours_inside_stay_and_others_land_on_the_paper() -> None:
    paper = pp.paper("cotton-rag")
    rng = np.random.default_rng(3)
    lab = rng.uniform([0, -100, -100], [100, 100, 100], (4000, 3)).astype(np.float32)
    before, out = lab.copy(), printed(lab, paper)
    assert np.array_equal(lab, before)
    inside = paper.solid.contains(lab)
    assert inside.any() and np.array_equal(out[inside], lab[inside])
    assert within(paper.solid, out, 0.5).all()


@pytest.mark.parametrize(
    ("paper", "room", "source"),
    [("cotton-rag", "hallway", "sRGB"), ("gloss", "gallery", "opRGB"), ("cotton-rag", "hallway", "ROMM RGB")],
)
def test_tables_agree_with_each_colour_by_itself(paper: str, room: str, source: str) -> None:
    # without the field, whose exposure pictures carry before they are looked up
    pipe = pp.pipeline(paper=paper, room=room, settings={"gamut-fit.glow": 0})
    sim = simulation(Profile.named(source).data, pipe)
    codes = np.rint(65535 * colours()).astype(np.uint16)
    exact = sim.exactly(codes / np.float32(65535))
    far = source == "ROMM RGB"  # a photograph's codes taken for it ask for colours where the nearest jumps
    span = np.array([100, 256, 256], np.float32)
    for name, lab in (("edit", exact.edit), ("plain", exact.plain), ("placed", exact.ready)):
        shown = sim.picture(name, codes[None], lambda v: v / span + np.array([0, 0.5, 0.5], np.float32))[0]
        apart = ciede2000(lab, (shown / np.float32(255) - np.array([0, 0.5, 0.5], np.float32)) * span)
        inside = np.abs(lab[:, 1:]).max(axis=1) < 127
        assert apart[inside].mean() < (0.5 if far else 0.35), name  # most of it is rounding to 8 bits
        assert np.percentile(apart[inside], 99) < (2.2 if far else 1.0), name
    table = sim.asks(codes / np.float32(65535)).plain
    assert ciede2000(exact.plain, table).mean() < (0.2 if far else 0.05)


def test_an_idle_pipeline_prints_the_same_prepared_and_not() -> None:
    sim = Simulation(SRGB, pp.Pipeline([], paper=pp.paper("gloss")))
    shown = sim.exactly(colours("rocket", 301))
    assert np.array_equal(shown.plain, shown.ready) and np.array_equal(shown.asked, shown.toned)


def test_a_step_that_looks_around_is_taken_as_on_an_even_area() -> None:
    paper = pp.paper("cotton-rag")
    even = Simulation(SRGB, pp.Pipeline([pp.GamutFit()], paper=paper))
    around = Simulation(SRGB, pp.Pipeline([pp.GamutFit(glow=0.8)], paper=paper))
    rgb = colours("coffee", 601)
    assert np.array_equal(even.exactly(rgb).ready, around.exactly(rgb).ready)


def test_nothing_keeps_more_simulations_than_are_kept() -> None:
    """Each takes some 40 MB: a list of pictures with many profiles took 2 GB through what was kept beside them."""
    from printprep.check import simulate
    from printprep.check._tone import print_tones

    most = simulate._simulation.cache_info().maxsize
    assert most is not None and most <= 8
    assert (print_tones.cache_info().maxsize or most + 1) <= most


def test_tones_that_other_code_made_are_made_anew(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path))
    pipe = pp.pipeline(paper="gloss", room="lux=77")
    made: list[Simulation] = []
    real = _tone._lightness

    def counted(sim: Simulation) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        made.append(sim)
        return real(sim)

    monkeypatch.setattr(_tone, "_lightness", counted)
    for code in ("one", "one", "other"):
        monkeypatch.setattr(_tone, "stamp", partial(str, code))
        _tone.print_tones.cache_clear()
        _tone.print_tones(simulation(Profile.named("sRGB").data, pipe), pipe.room)
    assert len(made) == 2
