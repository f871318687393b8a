"""Tone curves: the model's table, what the shadows gain, and how little others pay for it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import pi
from typing import Literal

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from printprep.adjust import _tone
from printprep.colour.lab import Array, lightness_from_luminance, luminance_from_lightness
from printprep.colour.visibility import jnd_index
from printprep.conditions.room import Room
from printprep.conditions.viewing import in_edit
from tests.support.eye import jnd_count_fixed

Glazing = Literal["none", "clear", "low-reflection"]
BLACKS = st.floats(3, 30)
LUX = st.floats(20, 2000)
GLAZING: st.SearchStrategy[Glazing] = st.sampled_from(("none", "clear", "low-reflection"))


def view(black: float, lux: float, glazing: Glazing = "none", rho: float = 0.88, wall: float = 0.5) -> _tone.View:
    room = Room(illuminance_lux=lux, glazing=glazing, wall_reflectance=wall)
    passed = room.transmittance * rho
    reference = room.reference.white_luminance(rho)
    return _tone.View(black, lux / pi * passed, room.veil / (passed + room.veil), reference, room.reference.flare)


def compensated(edit: Array, black: float) -> Array:
    low = luminance_from_lightness(black)
    return np.asarray(lightness_from_luminance(low + (1 - low) * luminance_from_lightness(edit)))


def total(v: _tone.View, overall: float = 1.0) -> Array:
    room = _tone.room(v, overall * _tone.room_strength(v))
    return room(_tone.lift(v, overall * _tone.LIFT_STRENGTH)(v.lightness()))


def luminance(v: _tone.View, lightness: Array) -> Array:
    return v.seen(lightness) * v.white / (1 - v.veil)


def slope(v: _tone.View, out: Array) -> Array:
    return np.asarray(np.diff(out) / np.diff(v.lightness()))


def added(v: _tone.View, out: Array, edit: list[float]) -> Array:
    """L* that a curve adds at these L* of the edit."""
    at = compensated(np.array(edit, float), v.black)
    return np.asarray(np.interp(at, v.lightness(), out) - at)


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
    Y = np.asarray(luminance_from_lightness(L), np.float64)
    there, here = index(Y * v.reference), index(Y * v.white)
    shares = (there - there[0]) / (there[-1] - there[0])
    expected = np.interp(shares, (here - here[0]) / (here[-1] - here[0]), L)
    np.testing.assert_allclose(_tone.room(v, 1.0)(L), expected, atol=1e-6)


def test_lift_then_room_are_the_way_from_the_original_to_the_print() -> None:
    v = view(17.4, 50)
    L = v.lightness()
    Y, edit = v.seen(L), np.asarray(luminance_from_lightness(in_edit(L, v.black)), np.float64)
    ideal = (edit * (1 - v.flare) + v.flare) * v.reference
    direct = _tone.equal_shares(ideal, Y * v.white, L)
    lifted = _tone.equal_shares(ideal, Y * v.reference, L)
    np.testing.assert_allclose(_tone.room(v, 1.0)(lifted), direct, atol=1e-3)


@settings(max_examples=200, deadline=None)
@given(BLACKS, LUX, GLAZING, st.floats(0.6, 0.95), st.floats(0, 1), st.floats(10, 4000))
@example(3.0, 20.0, "none", 0.88, 0.5, 300.0)
@example(17.6, 20.0, "clear", 0.88, 1.0, 140.0)
@example(30.0, 20.0, "clear", 0.6, 1.0, 140.0)
def test_no_tone_pays_much(black: float, lux: float, glazing: Glazing, rho: float, wall: float, screen: float) -> None:
    v = replace(view(black, lux, glazing, rho, wall), reference=screen)
    for overall, least in ((0.5, 0.9), (1.0, 0.84), (1.5, 0.78)):
        out = total(v, overall)
        assert slope(v, out).min() >= least
        assert out[0] == black
        assert out[-1] == 100


@settings(max_examples=60, deadline=None)
@given(BLACKS, st.floats(0.1, 20))
def test_in_the_dark_too(black: float, lux: float) -> None:
    v = view(black, lux)
    assert slope(v, total(v)).min() >= 0.84
    assert slope(v, total(v, 1.5)).min() >= 0.78


# What a matte paper is to gain and to pay, by the edit's L*: preferences of the trade, common practice, no source.
COTTON = 17.6


def gain(v: _tone.View, out: Array, low: float = 0, high: float = 20) -> float:
    """Visible range (DICOM PS3.14) of the edit's L* 0 to 20, as a multiple of compensation's."""
    ends = compensated(np.array([low, high], float), v.black)
    after = np.interp(ends, v.lightness(), out)
    return float(np.ptp(jnd_index(luminance(v, after))) / np.ptp(jnd_index(luminance(v, ends))))


@pytest.mark.parametrize(
    ("lux", "times", "least", "most"),
    [(500, 1.38, 0.86, [1.0, 2.0, 1.0, 0.02]), (50, 1.6, 0.85, [1.0, 4.0, 2.5, 1.0])],
)
def test_what_matte_gains_and_pays(lux: float, times: float, least: float, most: list[float]) -> None:
    v = view(COTTON, lux, rho=0.9073)
    out = total(v)
    assert gain(v, out) >= times
    assert slope(v, out)[in_edit(v.lightness(), v.black)[1:] > 20].min() >= least
    assert (added(v, out, [2, 50, 70, 90]) <= most).all()


def test_the_payment_is_spread_evenly() -> None:
    # from L* 20 to where it has eased out, nobody pays much more than the mean of all who pay: one line would
    # be the flattest possible
    v = view(COTTON, 500)
    edit = in_edit(v.lightness(), v.black)
    pays = 1 - slope(v, total(v))[(edit[1:] > 20) & (edit[1:] < 60)]
    assert pays.max() < 1.35 * pays.mean()


def test_gloss_in_good_light_is_as_good_as_untouched() -> None:
    v = view(4.5, 500)
    assert np.abs(total(v) - v.lightness()).max() < 0.02


def test_lift_is_in_proportion_to_strength() -> None:
    v = view(COTTON, 100, "clear")
    np.testing.assert_allclose(_tone.lift(v, 1.3).added, 1.3 * _tone.lift(v, 1.0).added, atol=1e-12)


@settings(max_examples=100, deadline=None)
@given(BLACKS, LUX, GLAZING, st.floats(0, 1), st.floats(0, 1.5))
def test_the_lift_for_a_pane_is_held(black: float, lux: float, glazing: Glazing, wall: float, strength: float) -> None:
    v = view(black, lux, glazing, wall=wall)
    for_pane = _tone.pane_lift(v, strength).added
    bare = _tone.lift(replace(v, veil=0.0), strength).added
    np.testing.assert_allclose(_tone.lift(v, strength).added, bare + for_pane, atol=1e-9)
    assert for_pane.min() >= -1e-9
    assert for_pane.max() <= 2 * strength + 1e-9
    assert glazing != "none" or for_pane.max() == 0


def test_what_the_pane_takes_of_the_light_counts_in_full() -> None:
    glazed = view(COTTON, 100, "clear")
    assert glazed.white == pytest.approx(view(COTTON, 84.331).white, rel=1e-4)  # Fresnel, n = 1.52, two faces, twice
    np.testing.assert_allclose(_tone.room(glazed).added, _tone.room(view(COTTON, 84.331)).added, atol=1e-4)


# --- strong colours move less


def lch(lightness: Array, chroma: Array | float, hue: float) -> Array:
    turn, C = np.radians(hue), chroma + 0 * lightness
    return np.stack([lightness, C * np.cos(turn), C * np.sin(turn)], -1)


@settings(max_examples=100, deadline=None)
@given(st.floats(0, 2.0), st.floats(0, 360), st.floats(3, 30), LUX, st.floats(0, 1.5))
def test_tones_of_one_chromaticity_keep_their_order(
    ratio: float, hue: float, black: float, lux: float, overall: float
) -> None:
    # a*, b* over L* + 16 are the same for all tones of one chromaticity (CIE 15), above the cube root's foot
    v = view(black, lux)
    L = np.linspace(max(black, 8.0), 100, 400)
    lab = lch(L, ratio * (L + 16), hue)
    out = _tone.apply(lab, _tone.lift(v, overall))  # type: ignore[arg-type]
    out = _tone.apply(out, _tone.room(v, overall * _tone.ROOM_STRENGTH))
    assert (np.diff(out[:, 0]) > 0).all()
    np.testing.assert_allclose(out[:, 1:] * (L + 16)[:, None], lab[:, 1:] * (out[:, :1] + 16), atol=1e-6)


def test_strong_colours_are_lifted_less_and_greys_do_not_notice() -> None:
    curve = _tone.room(view(4.5, 50), 1.0)
    L = np.full(6, 50.0)
    ratio = np.array([0.0, 0.3, 0.6, 1.0, 1.4, 2.0])
    moved = _tone.apply(lch(L, ratio * 66, 30.0), curve)[:, 0] - 50  # type: ignore[arg-type]
    np.testing.assert_allclose(moved / curve.change(np.array([50.0])), [1, 1, 1, 0.7, 0.4, 0.4], atol=1e-9)
    grey = lch(np.linspace(4.5, 100, 50), 0.0, 0.0).astype(np.float32)
    out = _tone.apply(grey, curve)
    assert np.array_equal(out[:, 0], grey[:, 0] + curve.change(grey[:, 0]))
    assert (out[:, 1:] == 0).all()


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
        out = _tone.room(v)(_tone.lift(v)(L))
        return float(np.abs(np.diff(np.diff(out) / np.diff(L)))[1:].max())

    # where the slope is continuous its jumps shrink with the distance of the nodes; at a corner they stay
    assert jump(1025) < jump(257) / 2 + 1e-3


def wedge(v: _tone.View, count: str) -> tuple[Array, Array]:
    """JND between neighbours of 21 steps, edit L* 0 to 20: compensation alone, and prepared."""
    L = compensated(np.linspace(0, 20, 21), v.black)
    after = np.interp(L, v.lightness(), total(v))

    def steps(lightness: Array) -> Array:
        light = luminance(v, lightness)
        room = 0.2 * v.white / (1 - v.veil)
        index = jnd_index(light) if count == "each tone" else jnd_count_fixed(light, room)
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


@pytest.mark.parametrize(("black", "times"), [(16.0, 1.57), (17.4, 1.6), (21.0, 1.65), (29.3, 1.7)])
def test_matte_at_50_lx_gains_steps(black: float, times: float) -> None:
    for count in ("each tone", "the room"):
        before, after = wedge(view(black, 50), count)
        assert after.sum() >= times * before.sum()
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
