"""The figures beside the colour-image difference, on cases that can be worked out; and the program that prints them."""

from __future__ import annotations

import numpy as np
import pytest

import printprep as pp
from benchmarks import lively, lively_made
from benchmarks.gamut_pictures import KEPT_APART, LOOKED_AT, pictures
from printprep.conditions.paper import Paper
from printprep.preset_files import shipped
from tests.support.gamut_methods import hpminde
from tests.support.gamut_metrics import chroma_kept, halos, local_contrast, near_white, order_of_glow
from tests.support.pictures import glow
from tests.support.solids import within

SOLID = Paper.from_measurement(shipped() / "measurements" / "FOGRA39L.txt").solid


def picture(*rows: tuple[float, float, float]) -> np.ndarray:
    """A stripe of 20 x 20 pixels of each colour."""
    return np.concatenate([np.full((20, 20, 3), lab, np.float32) for lab in rows])


def test_chroma_kept_is_of_strong_colours_that_the_paper_lacks() -> None:
    asked = picture((50, 120, 0), (50, 0, 110), (50, 40, 0), (10, 10, 0))
    printed = picture((50, 60, 0), (50, 0, 88), (50, 10, 0), (10, 0, 0))
    assert chroma_kept(asked, printed, SOLID) == pytest.approx((0.5 + 0.8) / 2)
    assert chroma_kept(asked, asked * np.float32(2), SOLID) == 1  # more chroma than asked counts as all
    assert np.isnan(chroma_kept(picture((50, 40, 0)), picture((50, 0, 0)), SOLID))


def test_near_white_counts_what_is_darker_than_left_alone() -> None:
    asked, left = picture((95, 5, 0), (60, 0, 0)), picture((94, 5, 0), (60, 0, 0))
    printed = left - np.array([3, 0, 0], np.float32)
    printed[0, 0, 0] -= 1
    high, most = near_white(asked, left, printed)
    assert most == pytest.approx(4) and 3 <= high <= 4
    assert near_white(asked, left, left + 1) == (0, 0)
    assert np.isnan(near_white(picture((60, 0, 0)), left, printed)).all()


def test_local_contrast_does_not_count_what_is_added() -> None:
    random = np.random.default_rng(0)
    asked = (picture((50, 90, 0)) + random.normal(0, 3, (20, 20, 3))).astype(np.float32)
    everywhere = np.ones((20, 20), bool)
    half = asked.copy()
    half[..., 0] = 50 + (half[..., 0] - 50) / 2
    half[..., 1:] = 0
    more = asked.copy()
    more[..., 0] = 50 + (more[..., 0] - 50) * 2
    assert local_contrast(asked, asked, everywhere) == pytest.approx(1)
    assert 0.3 < local_contrast(asked, half, everywhere) < 0.5
    assert local_contrast(asked, more, everywhere) == pytest.approx(1)


def test_halos_are_what_flat_areas_vary_by() -> None:
    lab, areas = picture((50, 0, 0), (30, 50, 0)), np.repeat([1, 2], 20)[:, None].repeat(20, 1)
    assert halos(lab, areas) == 0
    lab[20, 3, 0] += 1.5
    assert halos(lab, areas) == pytest.approx(1.5)
    areas[20, 3] = 0
    assert halos(lab, areas) == 0


def test_order_of_glow() -> None:
    lab, bands = glow(330)
    assert order_of_glow(lab, bands) == 1
    assert order_of_glow(-lab, bands) == 0
    clipped = np.minimum(lab, 60)  # the bands over it are the same
    assert order_of_glow(clipped, bands) == pytest.approx(1 - ((96 - 60) // 3.5) / (bands.max() - 1), abs=0.04)


def test_no_picture_is_on_both_sides() -> None:
    assert not set(LOOKED_AT) & set(KEPT_APART)


def test_the_program_on_one_picture() -> None:
    """Left alone is 1 and never worse than itself; the methods that the table names are there."""
    sheets = {name: pp.paper(name) for name in ("cotton-rag", "gloss")}
    found = list(lively.cases(("coffee",), sheets, 64))
    prints = [(case.picture.name, case.paper) for case in found]  # gloss holds the picture as it is
    assert prints == [("coffee", "cotton-rag"), ("coffee +", "cotton-rag"), ("coffee +", "gloss")]
    figures = lively.measured(found, {"HPMINDE": hpminde})
    text = lively.table(figures).splitlines()
    assert [line.split()[0] for line in text[1:4]] == ["left", "HPMINDE", "ours"]
    assert text[1].split()[2:6] == ["1.000", "1.000", "0.000", "0.000"]
    assert len(text[3].split()) == 1 + len(lively.COLUMNS)
    assert all(len(row) == len(lively.COLUMNS) for row in lively.WANTED.values())
    case = found[0]
    assert np.array_equal(pictures(64, names=("coffee",))[0].asked(case.pipe.paper), case.asked)
    assert within(case.pipe.paper.solid, case.handed, 0.5).mean() > 0.99  # handed over inside


def test_pictures_made_for_one_fault_each_are_all_judged() -> None:
    found = lively_made.figures(pp.paper("gloss"))
    assert list(found) == list(lively_made.WANTED)
    assert np.isfinite(list(found.values())).all()
    assert found["greys moved by what is around them, L* (99 %)"] < 0.5
    assert found["order of glow, worst lamp, %"] > found["order of glow, left alone, worst lamp, %"]
