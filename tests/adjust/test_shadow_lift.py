"""Shadow lift: much on matte, nearly nothing on gloss, nothing in the highlights, little for a pane."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep.adjust.room_brightness import RoomBrightness
from printprep.adjust.shadow_lift import ShadowLift
from printprep.colour.blackpoint import compensate
from printprep.colour.lab import xyz_from_lab
from printprep.conditions.conditions import Conditions
from printprep.conditions.paper import Paper
from printprep.conditions.room import Reference, Room
from printprep.errors import ParameterError
from printprep.testing import check_adjustment

SOLIDS = {
    "cyan": (57.0, -34.0, -43.0), "magenta": (50.0, 66.0, -4.0), "yellow": (88.0, -5.0, 84.0),
    "red": (48.0, 60.0, 38.0), "green": (50.0, -55.0, 24.0), "blue": (28.0, 16.0, -42.0),
}  # fmt: skip


def paper(black: float) -> Paper:
    return Paper(title="made up", white=(95.5, 0.0, 0.0), black=(black, 0.0, 0.0), solids=SOLIDS)


GLOSS, MATTE, PLAIN = paper(4.0), paper(16.0), paper(28.0)


def greys(step: ShadowLift, on: Conditions, L: list[float]) -> list[float]:
    lab = np.array([[x, 0, 0] for x in L], np.float32)
    out = step(lab, on)
    assert (out[:, 1:] == 0).all()
    return [float(x) for x in out[:, 0]]


def test_it_keeps_the_promises() -> None:
    check_adjustment(ShadowLift())
    check_adjustment(ShadowLift(strength=1.5), Conditions(PLAIN, Room(glazing="clear", illuminance_lux=30)))


def test_much_on_matte_nearly_nothing_on_gloss() -> None:
    at = [22.0, 28.0]
    for room in (Room(), Room(illuminance_lux=50)):
        gloss = np.subtract(greys(ShadowLift(), Conditions(GLOSS, room), at), at)
        matte = np.subtract(greys(ShadowLift(), Conditions(MATTE, room), at), at)
        assert np.abs(gloss).max() < 0.3
        assert matte.min() > 2.5


def test_glazing_makes_gloss_a_paper_with_a_lighter_black() -> None:
    at = list(np.linspace(5, 60, 56))
    rooms = [
        Room(),
        Room(glazing="low-reflection", wall_reflectance=0.5),
        Room(glazing="clear", wall_reflectance=0.2),
        Room(glazing="clear", wall_reflectance=0.5),
    ]
    lifts = [np.subtract(greys(ShadowLift(), Conditions(GLOSS, r), at), at).max() for r in rooms]
    assert lifts == pytest.approx(sorted(lifts), abs=0.01)
    assert 1.9 < lifts[-1] < 2.1  # people look past what a pane mirrors: common practice, no source


def test_the_office_of_a_glazed_lustre_print_is_not_milky() -> None:
    # 300 lx, clear glass before a wall of 0.5: the whole of what the pane asks for would be 5.5 L*
    at = [6.0, 8.0, 12.0, 16.0, 20.0]
    on = Conditions(paper(5.0), Room(illuminance_lux=300, glazing="clear", wall_reflectance=0.5))
    moved = np.subtract(greys(ShadowLift(), on, at), at)
    bare = np.subtract(greys(ShadowLift(), Conditions(paper(5.0), Room(illuminance_lux=300)), at), at)
    assert 1.5 < (moved - bare).max() <= 2.01


def test_canvas_hangs_without_a_pane() -> None:
    canvas = replace(MATTE, surface="canvas")
    bare, glazed = (Conditions(canvas, Room(glazing=g, illuminance_lux=80)) for g in ("none", "clear"))
    at = list(np.linspace(17.0, 99.0, 30))
    for step in (ShadowLift(), RoomBrightness()):
        lab = np.array([[x, 3, 4] for x in at], np.float32)
        assert np.array_equal(step(lab, bare), step(lab, glazed))
    assert greys(ShadowLift(), Conditions(MATTE, glazed.room), at) != greys(ShadowLift(), bare, at)


@settings(max_examples=80, deadline=None)
@given(
    st.sampled_from([GLOSS, MATTE, PLAIN]),
    st.floats(20, 2000),
    st.sampled_from(("none", "clear", "low-reflection")),
)
def test_mid_tones_move_little_and_highlights_not_at_all(
    sheet: Paper, lux: float, glazing: Literal["none", "clear", "low-reflection"]
) -> None:
    on = Conditions(sheet, Room(illuminance_lux=lux, glazing=glazing))
    edit = np.array([[x, 0, 0] for x in (0.0, 50.0, 70.0, 85.0, 100.0)])
    at = [float(x) for x in compensate(edit, 0, sheet.neutral_black)[:, 0].astype(np.float32)]
    moved = np.subtract(greys(ShadowLift(), on, at), np.array(at, np.float32))
    assert abs(moved[0]) < 1e-5
    assert 0 <= moved[1] <= 2
    assert 0 <= moved[2] <= 1
    assert np.abs(moved[3:]).max() == 0


def test_lifting_keeps_the_colour_of_the_light() -> None:
    # chromaticity kept: XYZ scaled by one factor (CIE 15), where all of XYZ is above the cube root's foot
    on = Conditions(MATTE, Room(illuminance_lux=50))
    lab = np.array([[25, 8, 5], [28, -6, 9], [22, 3, -12]], np.float32)
    out = ShadowLift()(lab, on)
    assert (out[:, 0] > lab[:, 0] + 2).all()
    ratio = xyz_from_lab(out.astype(float)) / xyz_from_lab(lab.astype(float))
    np.testing.assert_allclose(ratio, ratio[:, 1:2].repeat(3, 1), rtol=1e-4)
    np.testing.assert_allclose(out[:, 1] * lab[:, 2], out[:, 2] * lab[:, 1], rtol=1e-5)  # the hue angle too


def test_the_flare_of_the_edit_counts() -> None:
    # a true zero would be lifted further than a screen's black
    at = [20.0]
    dark = Reference(screen_white_cd_m2=140, screen_black_cd_m2=0.05)
    pale = Reference(screen_white_cd_m2=140, screen_black_cd_m2=1.4)
    a, b = (greys(ShadowLift(), Conditions(MATTE, Room(reference=r)), at)[0] for r in (dark, pale))
    assert a > b + 0.3


def test_idle_where_nothing_is_lost() -> None:
    assert ShadowLift(strength=0).idle(Conditions(MATTE, Room()))
    assert not ShadowLift().idle(Conditions(MATTE, Room()))
    deep = paper(3.0)
    assert ShadowLift().idle(Conditions(deep, Room()))
    lab = np.array([[30, 2, 3]], np.float32)
    out = ShadowLift()(lab, Conditions(deep, Room()))
    assert np.array_equal(out, lab)
    assert out is not lab


@settings(max_examples=40, deadline=None)
@given(st.floats(0, 1.5), st.floats(0, 1.5))
def test_more_strength_lifts_more(low: float, high: float) -> None:
    low, high = sorted((low, high))
    on = Conditions(MATTE, Room())
    at = list(np.linspace(18, 50, 9))
    weak, strong = (greys(ShadowLift(strength=s), on, at) for s in (low, high))
    assert np.subtract(strong, weak).min() >= -0.02  # a change under 0.02 L* is left out


@pytest.mark.parametrize("strength", [-0.1, 1.6, float("nan")])
def test_strength_has_its_range(strength: float) -> None:
    with pytest.raises(ParameterError, match="strength"):
        ShadowLift(strength=strength)
