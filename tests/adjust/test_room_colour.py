"""Room colour: the Hunt effect made up for in part, greys and the gamut's end untouched."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep.adjust.room_colour import RoomColour, full_gain
from printprep.colour.appearance import colourfulness
from printprep.colour.lab import lab_from_lch, xyz_from_lab
from printprep.conditions.conditions import Conditions
from printprep.conditions.room import Reference, Room
from printprep.errors import ParameterError
from printprep.testing import check_adjustment, plain
from tests.support.eye import lch_from_lab

PAPER = plain().paper
WHITE_500 = 500 * PAPER.white_reflectance / np.pi


def at(lux: float, surround: Literal["average", "dim", "dark"] = "average") -> Conditions:
    return Conditions(PAPER, Room(illuminance_lux=lux, surround=surround))


def test_it_keeps_the_promises() -> None:
    check_adjustment(RoomColour())
    check_adjustment(RoomColour(strength=1.5), at(5))


def test_greys_are_untouched_exactly() -> None:
    lab = np.stack([np.linspace(0, 100, 101), np.zeros(101), np.zeros(101)], -1).astype(np.float32)
    assert np.array_equal(RoomColour(strength=1.5)(lab, at(50)), lab)


@pytest.mark.parametrize("lux", [200, 100, 50, 20])
def test_at_full_strength_colourfulness_is_that_of_the_reference(lux: float) -> None:
    # CIECAM16 (CIE 248:2022); M at 50 lx is 0.82 of M at 500
    gain = full_gain(WHITE_500, "average", WHITE_500 * lux / 500, "average")
    lab = lab_from_lch(np.array([[50, 20, h] for h in range(0, 360, 15)], float))
    there = colourfulness(xyz_from_lab(lab), 0.2 * WHITE_500)
    raised = lab * np.array([1, 1 + gain, 1 + gain])
    here = colourfulness(xyz_from_lab(raised), 0.2 * WHITE_500 * lux / 500)
    np.testing.assert_allclose(here / there, 1, atol=0.035)  # one factor serves all hues to 3.5 %


def test_directions() -> None:
    gains = [RoomColour(strength=1).gain(at(lux)) for lux in (2000, 500, 200, 100, 50, 20)]
    assert gains == sorted(gains)  # Hunt: the dimmer, the more is to be made up
    assert gains[0] < 0
    assert gains[1] == pytest.approx(0, abs=1e-9)
    # a darker surround takes colourfulness away as well (CIECAM16 M, and so at all light levels)
    surrounds: tuple[Literal["average", "dim", "dark"], ...] = ("average", "dim", "dark")
    by_surround = [RoomColour(strength=1).gain(at(100, s)) for s in surrounds]
    assert by_surround == sorted(by_surround)


def test_nobody_wants_a_duller_print_unasked() -> None:
    assert RoomColour().idle(at(2000))
    assert RoomColour().idle(at(500))
    assert not RoomColour(strength=0.5).idle(at(2000))
    assert not RoomColour().idle(at(50))
    assert RoomColour().resolved(at(50)) == RoomColour(strength=0.5)
    assert RoomColour().resolved(at(2000)) == RoomColour(strength=0)
    same = Room(illuminance_lux=50, surround="dim", reference=Reference(illuminance_lux=50, surround="dim"))
    assert RoomColour(strength=1).idle(Conditions(PAPER, same))


def test_nothing_is_pushed_over_the_gamuts_end() -> None:
    on = at(20)
    L, h = (g.ravel() for g in np.meshgrid(np.linspace(20, 98, 40), np.arange(0, 360, 7.0)))
    most = on.gamut.max_chroma(L, h)
    for share in (0.3, 0.7, 0.95, 1.0, 1.2):
        lab = lab_from_lch(np.stack([L, most * share, h], -1)).astype(np.float32)
        out = lch_from_lab(RoomColour(strength=1.5)(lab, on))
        moved = out[:, 1] - most * share
        assert (moved >= -1e-3).all()
        if share < 1:
            assert (out[:, 1] <= most * (1 + 1e-4)).all()
        else:
            assert np.abs(moved).max() < 1e-2


@settings(max_examples=60, deadline=None)
@given(st.floats(25, 90), st.floats(0, 360), st.floats(1, 2000), st.floats(0, 1.5))
def test_chroma_rises_hue_and_lightness_stay(L: float, h: float, lux: float, strength: float) -> None:
    on = at(lux)
    C = np.linspace(0.5, 1.3 * float(on.gamut.max_chroma(L, h)) + 1, 200)
    lab = lab_from_lch(np.stack([np.full(200, L), C, np.full(200, h)], -1)).astype(np.float32)
    out = RoomColour(strength=strength)(lab, on)
    assert np.array_equal(out[:, 0], lab[:, 0])
    assert (np.diff(np.hypot(out[:, 1], out[:, 2])) > 0).all()
    np.testing.assert_allclose(out[:, 1] * lab[:, 2], out[:, 2] * lab[:, 1], rtol=1e-4, atol=1e-3)


def test_strength_has_its_range() -> None:
    with pytest.raises(ParameterError, match="strength"):
        RoomColour(strength=2)
