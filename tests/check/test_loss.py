"""What a print loses: figures against judging every pixel with a reference library, and steps against DICOM PS3.14."""

from __future__ import annotations

from dataclasses import replace
from math import pi
from pathlib import Path

import numpy as np
import pytest
from skimage import data

import printprep as pp
from printprep.check._tone import EDIT_LEVELS, edit_tones, print_tones
from printprep.check._words import headline, percent, verdict_lines
from printprep.check.loss import Figures, Loss, family, loss
from printprep.check.sampled import samples
from printprep.check.simulate import simulation
from printprep.check.verdict import verdict
from printprep.colour.profile import Profile
from printprep.page.pictures import look


@pytest.fixture(scope="module")
def pipe() -> pp.Pipeline:
    return pp.pipeline(paper="cotton-rag", room="hallway", settings={"shadow-lift.worth": 1})


@pytest.fixture(scope="module")
def cup() -> pp.Photo:
    """A picture with strong oranges and dark wood (scikit-image); its codes taken for opRGB, which strengthens them."""
    return pp.Photo.from_array(data.coffee(), "opRGB")


@pytest.fixture(scope="module")
def found(cup: pp.Photo, pipe: pp.Pipeline) -> Loss:
    return loss(cup, pipe)


def test_both_prints_are_judged_against_one_ask_over_one_area_by_colour_science(
    cup: pp.Photo, pipe: pp.Pipeline, found: Loss
) -> None:
    """Every seventh pixel of the edit and of the very job that is done, by colour-science's CIEDE2000."""
    import colour

    sim = simulation(cup.profile.data, pipe.suited(cup))
    before, after = (np.asarray(each).reshape(-1, 3)[::7].astype(np.float32) / 65535 for each in (cup, pipe(cup)))
    shown = sim.exactly(before)
    L, a, b = shown.toned.T
    over = np.hypot(a, b) > 1 + sim.on.paper.solid.max_chroma(L, np.degrees(np.arctan2(b, a)))
    assert found.outside == pytest.approx(over.mean(), abs=0.005)
    for figures, got in ((found.left_alone, shown.plain), (found.prepared, sim.after(after))):
        apart = colour.difference.delta_E_CIE2000(shown.toned.astype(float), got.astype(float))
        assert figures.colour == pytest.approx((over & (apart > 3)).mean(), abs=0.005)
        assert figures.difference == pytest.approx(apart[over].mean(), abs=0.05)
        whole = colour.difference.delta_E_CIE2000(shown.edit.astype(float), got.astype(float))
        assert figures.from_edit == pytest.approx(whole.mean(), abs=0.1)


def test_the_sample_is_the_one_that_the_job_takes(cup: pp.Photo, pipe: pp.Pipeline, tmp_path: Path) -> None:
    cup.write(tmp_path / "cup.tif")
    done = pp.prepare(tmp_path / "cup.tif", tmp_path / "out.tif", pipe)
    (taken,) = samples(pp.read(tmp_path / "cup.tif"), [pipe])
    assert np.array_equal(taken.before, done.before)
    assert np.array_equal(taken.after, done.after)
    assert taken.size == (160, 160)


def said(found: Loss) -> str:
    """Figures to the digits that anyone is told."""
    return repr({k: tuple(f"{x:.4f}" for x in vars(v).values()) if isinstance(v, Figures) else v
                 for k, v in vars(found).items() if k != "regions"})


def test_job_report_ranking_and_comparison_say_one_thing(
    cup: pp.Photo, pipe: pp.Pipeline, found: Loss, tmp_path: Path
) -> None:
    cup.write(tmp_path / "cup.tif")
    done = pp.prepare(tmp_path / "cup.tif", tmp_path / "out.tif", pipe)
    assert done.profile is not None and done.pipe is not None
    assert said(verdict(done.before, done.after, done.profile, done.pipe).loss) == said(found)
    assert pp.report(cup, pipe).loss == found
    assert pp.rank([cup], pipe).pictures[0].loss == found
    assert pp.compare(cup, [pipe], side=100).papers[0].loss == found


def test_visible_steps_are_those_of_dicom() -> None:
    """DICOM PS3.14, clause 7.1, by colour-science and by the table in the standard (100 cd/m2 is step 476.364)."""
    import colour

    paper = pp.paper("gloss")
    room = pp.Room(illuminance_lux=100 * pi / paper.white_reflectance)
    sim = simulation(Profile.named("sRGB").data, pp.Pipeline([], paper=paper, room=room))
    plain, ready = print_tones(sim, room)
    assert plain.count[-1] == pytest.approx(476.364, abs=0.05)
    assert np.array_equal(plain.count, ready.count)
    light = 100 * colour.colorimetry.luminance_CIE1976(plain.lightness) / 100
    expected = colour.models.eotf_inverse_DICOMGSDF(light, out_int=True)
    assert np.abs(plain.count - expected).max() <= 1.0  # whole steps there


def test_a_step_of_lightness_is_counted_between_its_ends() -> None:
    paper = pp.paper("cotton-rag")
    room = pp.Room(illuminance_lux=30)
    sim = simulation(Profile.named("sRGB").data, pp.Pipeline([], paper=paper, room=room))
    plain, _ = print_tones(sim, room)
    at = int(np.flatnonzero(EDIT_LEVELS == 30)[0])
    assert plain.per_step[at] == pytest.approx(plain.between(29.5, 30.5))
    assert plain.between(0, 20) + plain.between(20, 100) == pytest.approx(plain.between(0, 100))
    assert (plain.merged_shadows == ((plain.per_step < 1) & (EDIT_LEVELS < 50))).all()
    edit = edit_tones(sim.on)
    assert edit.count[-1] - edit.count[0] > plain.between(0, 100)


def test_less_light_leaves_fewer_steps_and_merges_more(cup: pp.Photo) -> None:
    paper = pp.paper("cotton-rag")
    found = [loss(cup, pp.Pipeline([], paper=paper, room=pp.Room(illuminance_lux=lux))) for lux in (500, 80, 15)]
    steps = [each.left_alone.steps for each in found]
    merged = [each.left_alone.shadows for each in found]
    assert steps == sorted(steps, reverse=True) and steps[0] > 2 * steps[2]
    assert merged[0] == 0 < merged[2]
    assert merged == sorted(merged)


def test_preparation_gives_shadow_steps_back(found: Loss) -> None:
    assert found.prepared.steps > 1.4 * found.left_alone.steps
    assert found.left_alone.shadows > 0.1
    assert found.prepared.shadows == 0
    assert found.prepared.hue_shift < found.left_alone.hue_shift
    assert found.steps_edit > found.prepared.steps


def test_nothing_done_is_the_same_prepared_and_not(cup: pp.Photo) -> None:
    found = loss(cup, pp.Pipeline([], paper=pp.paper("gloss")))
    assert found.prepared == found.left_alone


def test_greys_lose_no_colour(pipe: pp.Pipeline) -> None:
    ramp = np.repeat(np.linspace(0.3, 0.9, 300)[None, :, None], 3, axis=2).repeat(40, 0)
    found = loss(pp.Photo.from_array(ramp), pipe)
    assert found.outside == 0 == found.prepared.colour == found.left_alone.colour
    assert found.prepared.kept_chroma == 1 == found.prepared.detail
    assert found.score == 0
    assert any("holds every colour" in line for line in verdict_lines(found))


def test_the_part_that_loses_is_named(pipe: pp.Pipeline) -> None:
    picture = np.full((90, 90, 3), 0.5)
    picture[60:, :30] = (0.1, 0.1, 1.0)
    found = loss(pp.Photo.from_array(picture), pipe)
    worst = max(found.regions, key=lambda r: r.outside)
    assert (worst.name, worst.outside) == ("lower left", 1.0)
    assert worst.hues in ("blues", "purples")
    assert found.outside == pytest.approx(1 / 9, abs=0.002)
    assert "in the lower left" in verdict_lines(found)[0]
    assert sum(r.outside > 0.1 for r in found.regions) == 1


def test_highlights_that_cannot_be_told_from_paper_are_found() -> None:
    """In two lux the last step below white is wide."""
    picture = np.full((60, 60, 3), 0.4)
    picture[:20] = 0.993
    paper = pp.paper("gloss")
    found = loss(pp.Photo.from_array(picture), pp.Pipeline([], paper=paper, room=pp.Room(illuminance_lux=2)))
    assert found.left_alone.highlights == pytest.approx(1 / 3, abs=0.01)
    bright = loss(pp.Photo.from_array(picture), pp.Pipeline([], paper=paper, room=pp.Room(illuminance_lux=5000)))
    assert bright.left_alone.highlights == 0


def test_two_lights_are_both_counted(cup: pp.Photo) -> None:
    room = pp.Room(illuminance_lux=300, evening_illuminance_lux=40)
    found = loss(cup, pp.pipeline(paper="gloss", room=room))
    by_day = loss(cup, pp.pipeline(paper="gloss", room=replace(room, evening_illuminance_lux=None)))
    assert found.evening_steps is not None
    assert found.left_alone.steps == pytest.approx(by_day.left_alone.steps)
    assert found.evening_steps[1] < found.left_alone.steps
    assert any("evening" in line for line in verdict_lines(found))


def test_the_copy_is_the_mean_of_blocks() -> None:
    picture = np.random.default_rng(0).integers(0, 65536, (103, 207, 3), dtype=np.uint16)
    small = look(pp.Photo.from_array(picture), side=70)
    assert small.shape == (34, 69, 3)
    blocks = picture[:102].reshape(34, 3, 69, 3, 3).mean(axis=(1, 3))
    assert np.abs(small - blocks).max() <= 1
    assert np.array_equal(look(pp.Photo.from_array(picture), side=70, threads=1), small)


def test_shares_are_said_as_people_say_them() -> None:
    assert [percent(v) for v in (0, 0.0004, 0.004, 0.0996, 0.12, 1)] == [
        "0\u00a0%", "under 0.1\u00a0%", "0.4\u00a0%", "10\u00a0%", "12\u00a0%", "100\u00a0%",
    ]  # fmt: skip
    assert [family(h) for h in (40, 90, 150, 280, 355, -5)] == ["reds", "yellows", "greens", "blues", "pinks", "pinks"]


def test_the_headline_names_the_loudest_cause(found: Loss) -> None:
    assert headline(found).startswith("Blacks turn dark grey")
    quiet = replace(found.prepared, visible=0.001, flat=0.0, colour=0.001)
    assert "nothing of weight" in headline(replace(found, prepared=quiet))
    loud = replace(found.prepared, visible=0.6, colour=0.6)
    assert "lose colour" in headline(replace(found, prepared=loud))


def test_a_notebook_gets_the_sentences(found: Loss) -> None:
    html = found._repr_html_()
    assert headline(found) in html and all(line in html for line in verdict_lines(found))
