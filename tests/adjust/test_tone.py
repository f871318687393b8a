"""Tone curves: the model's table, and the budget that lift and room share."""

from __future__ import annotations

from itertools import pairwise
from math import pi
from typing import Literal

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from printprep.adjust import _tone
from printprep.colour.lab import lightness_from_luminance, luminance_from_lightness
from printprep.colour.visibility import jnd_count_fixed, jnd_index
from printprep.conditions.room import Room

Array = _tone.Array
Glazing = Literal["none", "clear", "low-reflection"]
BLACKS = st.floats(3, 30)
LUX = st.floats(20, 2000)
GLAZING: st.SearchStrategy[Glazing] = st.sampled_from(("none", "clear", "low-reflection"))


def view(black: float, lux: float, glazing: Glazing = "none", rho: float = 0.88, wall: float = 0.5) -> _tone.View:
    room = Room(illuminance_lux=lux, glazing=glazing, wall_reflectance=wall)
    seen = room.transmittance * rho + room.veil
    reference = room.reference.white_luminance(rho)
    return _tone.View(black, lux / pi * seen, room.veil / seen, reference, room.reference.flare)


def compensated(edit: Array, black: float) -> Array:
    low = luminance_from_lightness(black)
    return np.asarray(lightness_from_luminance(low + (1 - low) * luminance_from_lightness(edit)))


def total(v: _tone.View) -> Array:
    return _tone.room(v)(_tone.lift(v, _tone.LIFT_STRENGTH)(v.lightness()))


# Equal shares of the JND range, reference 500 lx, paper white 0.88. Computed with colour-science's
# eotf_inverse_DICOMGSDF, in another program than this one. Edit L* 0, 5, 10, 20, 30, 50, 70, 90, 100.
EDIT = np.array([0.0, 5, 10, 20, 30, 50, 70, 90, 100])
HARMONISED = [
    (4.5, 500, [4.5, 9.4, 13.4, 21.9, 31.1, 50.5, 70.2, 90.1, 100]),
    (4.5, 200, [4.5, 10.2, 14.7, 24.0, 33.9, 53.7, 72.8, 91.1, 100]),
    (4.5, 100, [4.5, 10.8, 15.6, 25.5, 35.8, 55.8, 74.4, 91.8, 100]),
    (4.5, 50, [4.5, 11.5, 16.5, 26.9, 37.5, 57.6, 75.9, 92.3, 100]),
    (4.5, 2000, [4.5, 8.3, 11.5, 18.7, 27.0, 45.5, 66.1, 88.3, 100]),
    (17.4, 500, [17.4, 19.7, 21.9, 27.6, 34.9, 52.2, 71.0, 90.3, 100]),
    (17.4, 50, [17.4, 20.5, 23.2, 30.2, 38.8, 57.4, 75.4, 92.1, 100]),
]


@pytest.mark.parametrize(("black", "lux", "expected"), HARMONISED)
def test_the_room_at_full_strength_is_the_model(black: float, lux: float, expected: list[float]) -> None:
    out = _tone.room(view(black, lux), 1.0)(compensated(EDIT, black))
    np.testing.assert_allclose(out, expected, atol=0.15)


def test_equal_shares_by_colour_science() -> None:
    import colour

    def index(luminance: Array) -> Array:
        return np.asarray(colour.models.eotf_inverse_DICOMGSDF(luminance, out_int=False)) * 1023

    v = view(17.4, 50)
    L = v.lightness()
    Y = v.seen(L)
    there, here = index(Y * v.reference), index(Y * v.white)
    shares = (there - there[0]) / (there[-1] - there[0])
    expected = np.interp(shares, (here - here[0]) / (here[-1] - here[0]), L)
    np.testing.assert_allclose(_tone.room(v, 1.0)(L), expected, atol=1e-6)


def test_lift_then_room_are_the_way_from_the_original_to_the_print() -> None:
    v = view(17.4, 50)
    L = v.lightness()
    Y, edit = v.seen(L), np.asarray(luminance_from_lightness(v.edit(L)), np.float64)
    ideal = (edit * (1 - v.flare) + v.flare) * v.reference
    direct = _tone.equal_shares(ideal, Y * v.white, L)
    lifted = _tone.equal_shares(ideal, Y * v.reference, L)
    np.testing.assert_allclose(_tone.room(v, 1.0)(lifted), direct, atol=1e-3)


@settings(max_examples=150, deadline=None)
@given(BLACKS, LUX, GLAZING, st.floats(0.6, 0.95), st.floats(0, 1))
@example(3.0, 20.0, "clear", 0.88, 1.0)
@example(30.0, 20.0, "clear", 0.6, 1.0)
@example(28.0, 50.0, "none", 0.88, 0.5)
def test_the_budget_holds(black: float, lux: float, glazing: Glazing, rho: float, wall: float) -> None:
    v = view(black, lux, glazing, rho, wall)
    L = v.lightness()
    out = total(v)
    slope = np.diff(out) / np.diff(L)
    edit = v.edit(L)
    assert slope.min() > 0
    assert slope[(edit[1:] > 5) & (edit[:-1] < 95)].min() >= 0.6
    ends = compensated(np.array([40.0, 60.0]), black)
    middle = np.diff(np.interp(ends, L, out)) / np.diff(ends)
    assert middle[0] >= 0.88
    assert out[0] == black
    assert out[-1] == 100


@settings(max_examples=60, deadline=None)
@given(BLACKS, GLAZING, st.lists(LUX, min_size=2, max_size=5))
def test_a_dimmer_room_never_darkens_a_tone(black: float, glazing: Glazing, lights: list[float]) -> None:
    outs = [total(view(black, lux, glazing)) for lux in sorted(lights, reverse=True)]
    for bright, dim in pairwise(outs):
        assert (dim - bright).min() > -0.02


@settings(max_examples=100, deadline=None)
@given(st.floats(0, 45), st.floats(1, 20_000), GLAZING, st.floats(0, 1.5), st.floats(0, 1.5))
def test_any_strengths_rise(black: float, lux: float, glazing: Glazing, lift: float, room: float) -> None:
    v = view(black, lux, glazing)
    out = _tone.room(v, room)(_tone.lift(v, lift)(v.lightness()))
    assert (np.diff(out) > 0).all()
    assert out[0] == black
    assert out[-1] == 100


@pytest.mark.parametrize("glazing", ["none", "clear"])
@pytest.mark.parametrize("black", [4.5, 17.4, 28.0])
@pytest.mark.parametrize("lux", [500, 50])
def test_curves_have_no_corner(black: float, lux: float, glazing: Glazing) -> None:
    v = view(black, lux, glazing)

    def jump(nodes: int) -> float:
        L = np.linspace(black, 100, nodes)
        out = _tone.room(v)(_tone.lift(v, _tone.LIFT_STRENGTH)(L))
        return float(np.abs(np.diff(np.diff(out) / np.diff(L)))[1:].max())

    # where the slope is continuous its jumps shrink with the distance of the nodes; at a corner they stay
    assert jump(1025) < jump(257) / 2 + 1e-3


def wedge(v: _tone.View, count: str) -> tuple[Array, Array]:
    """JND between neighbours of 21 steps, edit L* 0 to 20: compensation alone, and prepared."""
    L = compensated(np.linspace(0, 20, 21), v.black)
    after = np.interp(L, v.lightness(), total(v))

    def steps(lightness: Array) -> Array:
        luminance = v.seen(lightness) * v.white
        index = jnd_index(luminance) if count == "each tone" else jnd_count_fixed(luminance, 0.2 * v.white)
        return np.asarray(np.diff(index))

    return steps(L), steps(after)


@pytest.mark.parametrize("count", ["each tone", "the room"])
@pytest.mark.parametrize("glazing", ["none", "clear"])
@pytest.mark.parametrize("lux", [2000, 500, 200, 100, 50, 20])
def test_no_viewer_sees_fewer_shadow_steps(lux: float, glazing: Glazing, count: str) -> None:
    for black in (3.0, 4.5, 9.8, 17.4, 21.0, 29.3):
        before, after = wedge(view(black, lux, glazing), count)
        assert after.sum() >= before.sum() - 1e-6
        assert (after >= 1).sum() >= (before >= 1).sum()


@pytest.mark.parametrize("black", [16.0, 17.4, 21.0, 29.3])
def test_matte_at_50_lx_gains_1_6_times_the_steps(black: float) -> None:
    for count in ("each tone", "the room"):
        before, after = wedge(view(black, 50), count)
        assert after.sum() >= 1.6 * before.sum()
    assert (wedge(view(black, 50), "each tone")[1] >= 1).all()


def test_what_the_page_says() -> None:
    def steps(black: float, lux: float, low: float = 0, high: float = 100) -> float:
        v = view(black, lux)
        ends = compensated(np.array([low, high]), black)
        return float(np.diff(jnd_index(v.seen(ends) * v.white))[0])

    gloss, matte = 4.5, 17.4
    assert steps(gloss, 500) == pytest.approx(460, abs=15)
    assert steps(gloss, 50) == pytest.approx(240, abs=10)
    assert steps(gloss, 500, 0, 20) == pytest.approx(100, abs=4)
    assert steps(gloss, 50, 0, 20) == pytest.approx(40, abs=2)
    assert steps(matte, 500, 0, 20) == pytest.approx(58, abs=2)
    assert steps(matte, 50, 0, 20) == pytest.approx(25, abs=1)


@settings(max_examples=60, deadline=None)
@given(BLACKS, st.floats(0.05, 20), st.floats(140, 1500))
def test_in_the_dark_the_room_yields_too(black: float, lux: float, screen: float) -> None:
    v = _tone.View(black, lux * 0.88 / pi, 0.0, screen, 0.005)
    L = v.lightness()
    edit = v.edit(L)
    slope = np.diff(total(v)) / np.diff(L)
    assert slope[(edit[1:] > 5) & (edit[:-1] < 95)].min() >= 0.6
    assert _tone.room_strength(v) <= _tone.ROOM_STRENGTH
