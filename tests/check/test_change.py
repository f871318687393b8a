"""What was changed, in words: nothing that moves is called nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from printprep.adjust._base import Adjustment, Stage
from printprep.check._change import change
from printprep.check.verdict import verdict
from printprep.colour.lab import Lab
from printprep.colour.profile import Profile
from printprep.compose import pipeline
from printprep.conditions.conditions import Conditions
from printprep.conditions.paper import Paper
from printprep.pipe import Pipeline

NOTHING = "nothing that the eye would see"
SRGB = Profile.named("sRGB")
COLOURS = np.random.default_rng(3).uniform([30, -20, -20], [70, 20, 20], (5000, 3)).astype(np.float32)


@dataclass(frozen=True)
class Warmer(Adjustment):
    """A plug-in that tints."""

    stage: ClassVar[Stage] = Stage.COLOUR
    amount: float = 5.0

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        return lab + np.array([0, 0, self.amount], np.float32)


def said(asked: Lab, printed: Lab) -> str:
    return change(asked, printed, asked[:, 0], np.zeros(len(asked), np.float32))


def uniform(value: float) -> NDArray[np.uint16]:
    return np.full((40, 40, 3), round(value * 65535), np.uint16)


def test_a_uniform_picture_that_is_lifted() -> None:
    """L* 26 of the edit, between the shadows and the middle."""
    pipe = pipeline(paper="cotton-rag", room="hallway", settings={"shadow-lift.worth": 1})
    before = uniform(0.24)
    line = verdict(before, pipe.apply(before, SRGB), SRGB, pipe).changed
    name, rise, unit = line.split()
    assert (name, unit) == ("mid-tones", "L*")
    assert float(rise) > 4


def test_a_plug_in_that_tints() -> None:
    paper = pipeline(paper="gloss").paper
    pipe = Pipeline([Warmer()], paper=paper)
    before = uniform(0.5)
    line = verdict(before, pipe.apply(before, SRGB), SRGB, pipe).changed
    assert "colours shifted towards yellow (a* " in line
    assert "b* +5.0" in line


@pytest.mark.parametrize(
    ("matrix", "add", "words"),
    [
        (np.eye(3), (0, 0, 5), "colours shifted towards yellow (a* +0.0, b* +5.0)"),
        (np.eye(3), (0, -5, 0), "colours shifted towards green (a* -5.0, b* +0.0)"),
        (np.diag([1, 1.3, 1.3]), (0, 0, 0), "chroma +"),
        (np.diag([1, 0.5, 0.5]), (0, 0, 0), "chroma -"),
        (np.diag([1, -1, -1]), (0, 0, 0), "CIEDE2000 in 100\u00a0% of the picture"),  # hues by half a circle
        (np.array([[1, 0, 0], [0, 0, 1], [0, -1, 0]]), (0, 0, 0), "CIEDE2000 in 100\u00a0% of the picture"),
        (np.eye(3), (8, 0, 0), "mid-tones +8.0 L*"),
        (np.eye(3), (0, 0.2, 0.2), NOTHING),
    ],
)
def test_each_kind_of_change_has_its_words(matrix: NDArray[np.float64], add: tuple[float, ...], words: str) -> None:
    printed = (COLOURS @ matrix.T + np.array(add)).astype(np.float32)
    assert words in said(COLOURS, printed)


def test_up_here_and_down_there_is_no_mean_of_nothing() -> None:
    printed = COLOURS.copy()
    printed[::2, 0] += 3
    printed[1::2, 0] -= 3
    assert said(COLOURS, printed) == "mid-tones up and down by 3.0 L*"


def test_one_pixel_in_a_hundred_may_move() -> None:
    """The rule: nothing, where 99 % of the sample moved by under 1 CIEDE2000."""
    few, more = COLOURS.copy(), COLOURS.copy()
    few[:49, 1:] *= -1
    more[:500, 1:] *= -1
    assert said(COLOURS, few) == NOTHING
    assert NOTHING not in said(COLOURS, more)


@settings(deadline=None)  # another's library is loaded in one
@given(
    arrays(np.float32, (60, 3), elements=st.floats(-40, 40, width=32)),
    arrays(np.float32, (60, 3), elements=st.floats(-12, 12, width=32)),
)
def test_nothing_is_said_only_of_what_hardly_moved(colours: Lab, by: Lab) -> None:
    """Judged by another implementation of CIEDE2000, that of scikit-image."""
    from skimage.color import deltaE_ciede2000

    asked = colours + np.array([50, 0, 0], np.float32)
    line = said(asked, asked + by)
    if line == NOTHING:
        assert (deltaE_ciede2000(asked, asked + by) > 1.001).mean() < 0.01


def test_what_is_the_same_is_called_nothing() -> None:
    assert said(COLOURS, COLOURS) == NOTHING
    paper = Paper(white=(96, 0, 0), black=(5, 0, 0), solids=_solids())
    before = np.random.default_rng(1).integers(0, 65535, (30, 30, 3), dtype=np.uint16)
    assert verdict(before, before, SRGB, Pipeline([], paper=paper)).changed == NOTHING


def _solids() -> dict[str, tuple[float, float, float]]:
    return {
        "cyan": (55, -37, -50), "magenta": (48, 74, -3), "yellow": (89, -5, 93), "red": (47, 68, 48),
        "green": (50, -65, 27), "blue": (24, 22, -46),
    }  # fmt: skip
