"""Pictures whose loss is known by construction: the headline must name the right cause, a cost what makes it less."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

import printprep as pp
from printprep.check._words import costs, headline, loudest, no_better, verdict_lines
from printprep.check.loss import Loss, loss
from printprep.check.place import place_lines

Y, X = np.mgrid[0:90, 0:135] / 135
COLOUR, BLACKS, LIGHT, NOTHING = "lose colour", "Blacks turn dark grey", "paper white", "nothing of weight"


def grey(values: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.repeat(np.broadcast_to(values, X.shape)[..., None], 3, axis=2)


def disc(ground: object, colour: object, radius: float) -> NDArray[np.float64]:
    picture = np.empty((*X.shape, 3))
    picture[:] = ground
    picture[np.hypot(X - 0.5, Y - 0.33) < radius] = colour
    return picture


PICTURES = {
    "a black ramp": (grey(0.2 * X), "museum", BLACKS),
    "a night with few lights": (disc(0.03, (1, 0.8, 0.4), 0.06), "museum", BLACKS),
    "half of it black": (grey(np.where(X < 0.5, 0.01, 0.6)), "museum", BLACKS),
    "a small green disc on black": (disc(0.02, (0, 0.9, 0.1), 0.12), "museum", BLACKS),
    "a saturated blue disc": (disc(0.5, (0.05, 0.1, 1), 0.25), "museum", "Blues in the centre " + COLOUR),
    "a large red disc on a little black": (disc(0.4, (1, 0.05, 0.2), 0.3), "museum", COLOUR),
    "a blue sky": (np.stack([0.1 + 0.2 * Y, 0.3 + 0.3 * Y, 1 - 0.05 * Y], -1), "museum", COLOUR),
    "a white veil, in little light": (grey(0.9945 + 0.001 * X), "lux=8", LIGHT),
    "neutral fog": (grey(0.55 + 0.1 * Y), "museum", NOTHING),
    "a mild scene": (np.stack([0.5 + 0.15 * X, 0.5 + 0.1 * Y, 0.48 + 0.05 * X], -1), "museum", NOTHING),
    "a blank sheet": (grey(np.ones(X.shape)), "museum", NOTHING),
}


@pytest.mark.parametrize("name", PICTURES)
def test_the_headline_names_the_cause(name: str) -> None:
    picture, room, words = PICTURES[name]
    found = loss(pp.Photo.from_array(picture), pp.pipeline(paper="cotton-rag", room=room))
    assert words in headline(found)
    assert (loudest(found.prepared) == "nothing") == (words == NOTHING)


def test_a_gloss_print_in_good_light_keeps_its_blacks() -> None:
    found = loss(pp.Photo.from_array(PICTURES["half of it black"][0]), pp.pipeline(paper="gloss", room="studio-check"))
    assert found.prepared.visible < 0.05
    assert "grey" not in headline(found)


def test_a_gloss_print_in_little_light_loses_steps_and_not_its_blacks() -> None:
    found = loss(pp.Photo.from_array(PICTURES["half of it black"][0]), pp.pipeline(paper="gloss", room="museum"))
    assert "Shadows close up" in headline(found)
    assert "grey" not in headline(found)


def test_a_cost_is_told_with_the_setting_that_makes_it_less() -> None:
    sky = pp.Photo.from_array(PICTURES["a blue sky"][0])
    dusk = pp.Photo.from_array(np.concatenate([grey(0.05 + 0.1 * X), grey(0.35 + 0.15 * X)]))

    def lost_chroma(found: Loss) -> float:
        return -found.prepared.kept_chroma

    def flatter(found: Loss) -> float:
        return found.flatter * found.flatter_by

    for photo, of, word in ((sky, lost_chroma, "their colour"), (dusk, flatter, "flatter")):
        settings: dict[str, object] = {"shadow-lift.worth": 1}
        before = loss(photo, pp.pipeline(paper="cotton-rag", room="museum", settings=settings))
        told = next(cost for cost in costs(before) if word in cost.what)
        assert str(told) in " ".join(verdict_lines(before))
        key, _, value = told.setting.partition("=")
        after = loss(photo, pp.pipeline(paper="cotton-rag", room="museum", settings=settings | {key: value}))
        assert of(after) < of(before)


def test_the_print_left_alone_is_praised_where_it_does_as_well() -> None:
    fog = loss(pp.Photo.from_array(PICTURES["neutral fog"][0]), pp.pipeline(paper="cotton-rag", room="museum"))
    assert "left alone would lose no more" in no_better(fog)
    night, room, _ = PICTURES["a night with few lights"]
    dark = loss(pp.Photo.from_array(night), pp.pipeline(paper="cotton-rag", room=room))
    assert no_better(dark) == ""
    nothing = loss(pp.Photo.from_array(PICTURES["neutral fog"][0]), pp.Pipeline([], paper=pp.paper("gloss")))
    assert "same print" in no_better(nothing)


def test_what_belongs_to_paper_and_room_is_said_of_them() -> None:
    said = " ".join(place_lines(pp.pipeline(paper="cotton-rag", room="museum")))
    paper = pp.paper("cotton-rag")
    assert paper.black is not None
    assert f"darkest grey on this paper is L* {paper.neutral_black:.0f} " in said
    assert f"darkest patch L* {paper.black[0]:.0f})" in said
    assert "50 lx" in said and "500 lx" in said and "Pane" in said
    canvas = place_lines(pp.pipeline(paper="canvas", room="museum"))  # hangs without a pane
    assert not any("Pane" in line for line in canvas)
