"""gamut-fit, colour by colour: in gamut, hue kept near, greys grey, in order, smooth, and gentle the second time."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from printprep.adjust.gamut_fit import NEAR_WHITE, GamutFit
from printprep.colour.hue import lab_from_oklab, oklab_from_lab, visible_oklab
from printprep.colour.lab import lab_from_lch
from printprep.conditions.conditions import Conditions
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.errors import ParameterError
from printprep.preset_files import shipped
from tests.support.eye import lch_from_lab
from tests.support.gamut_metrics import ipt
from tests.support.solids import within
from tests.support.source_solid import source_solid

Array = NDArray[np.float32]
PAPERS = ("FOGRA29L", "FOGRA39L")
SPACES = ("sRGB", "ROMM RGB")


@cache
def on(paper: str = "FOGRA39L", space: str = "ROMM RGB") -> Conditions:
    found = Paper.from_measurement(shipped() / "measurements" / f"{paper}.txt")
    return Conditions(found, Room(), source=source_solid(space, found.neutral_black))


def fit(lab: Array, where: Conditions, **parameters: float) -> Array:
    return GamutFit(**{"glow": 0.0, **parameters})(np.asarray(lab, np.float32), where)


def printed(lab: Array, where: Conditions, **parameters: float) -> Array:
    """What the printer makes of it: next to white it clips what is handed over as it is."""
    return np.asarray(where.paper.solid.nearest(fit(lab, where, **parameters)))


def wide(count: int = 20_000, black: float = 5.0) -> Array:
    return np.random.default_rng(1).uniform([black, -130, -150], [100, 130, 150], (count, 3)).astype(np.float32)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("space", SPACES)
def test_everything_ends_inside(paper: str, space: str) -> None:
    where = on(paper, space)
    for parameters in ({}, {"knee": 0.5}, {"knee": 0.99}, {"lightness": 0.0}):
        out = fit(wide(), where, **parameters)
        assert np.isfinite(out).all()
        assert within(where.gamut, out, 0.01)[wide()[:, 0] < NEAR_WHITE[0]].all()


def test_next_to_white_the_print_is_the_one_left_alone() -> None:
    white = wide()
    white = white[white[:, 0] > NEAR_WHITE[1]]
    assert np.abs(fit(white, on()) - white).max() < 1e-4


def test_greys_stay_exactly() -> None:
    where = on()
    greys = np.zeros((500, 3), np.float32)
    greys[:, 0] = np.linspace(where.black, 100, 500)
    out = fit(greys, where)
    assert np.array_equal(out[:, 1:], greys[:, 1:])
    assert np.abs(out[:, 0] - greys[:, 0]).max() < 1e-4
    tinted = greys + np.array([0, 1e-4, -1e-4], np.float32)
    assert np.abs(fit(tinted, where) - tinted).max() < 1e-3


def test_what_is_well_inside_stays() -> None:
    where = on()
    lab = wide(60_000, where.black)
    L, C, h = lch_from_lab(lab).T
    inner = lab[0.85 * where.gamut.max_chroma(L, h) > C]
    moved = np.linalg.norm(fit(inner, where) - inner, axis=-1)
    assert len(inner) > 1000
    assert np.quantile(moved, 0.995) < 1e-3
    assert moved.max() < 12  # the razor-sharp ridge of yellow near white is rounded
    dull = 0.7 * where.gamut.max_chroma(L, h) > C
    assert np.abs(fit(lab[dull], where) - lab[dull]).max() < 1e-3


@pytest.mark.parametrize("paper", PAPERS)
def test_hue_is_kept_better_than_by_the_nearest_colour(paper: str) -> None:
    """In Oklab where it is mapped; judged in IPT too, which it is not mapped in."""
    where = on(paper, "sRGB")
    step = np.linspace(0, 1, 12)
    rgb = np.stack(np.meshgrid(step, step, step, indexing="ij"), -1).reshape(-1, 3)
    from printprep.colour.blackpoint import compensate
    from printprep.colour.icc import lab_from_device
    from tests.support.source_solid import srgb

    asked = compensate(lab_from_device(rgb, srgb()), 0, where.black).astype(np.float32)
    asked = asked[~within(where.paper.solid, asked, 1.0)]
    asked = asked[asked[:, 0] < NEAR_WHITE[0]]
    out, near = fit(asked, where), where.paper.solid.nearest(asked)
    coloured = (np.hypot(out[:, 1], out[:, 2]) > 3) & (np.hypot(near[:, 1], near[:, 2]) > 3)
    for space in (oklab_from_lab, ipt):
        turns = []
        for done in (out, near):
            one, two = space(asked[coloured]), space(done[coloured])
            turn = np.degrees(np.arctan2(one[:, 2], one[:, 1]) - np.arctan2(two[:, 2], two[:, 1]))
            turns.append(np.abs((turn + 180) % 360 - 180))
        ours, nearest = turns
        assert np.quantile(ours, 0.99) < 12, space.__name__
        assert ours.mean() < 0.6 * nearest.mean(), space.__name__


def seen(ray: NDArray[np.floating]) -> Array:
    """The part of a ray whose hue Oklab can tell; the rest is eased along CIELAB's lines, which bend in Oklab."""
    kept = np.abs(visible_oklab(ray) - oklab_from_lab(ray)).max(axis=-1) < 1e-3
    return np.asarray(ray[kept], np.float32)


@pytest.mark.parametrize("paper", PAPERS)
def test_chroma_keeps_its_order_along_every_ray(paper: str) -> None:
    where = on(paper)
    C = np.arange(0, 32, 0.1)
    low = float(oklab_from_lab(np.array([where.black, 0, 0]))[0])
    for L in np.linspace(low + 1, 99, 12):
        for h in np.radians(np.arange(0, 360, 15)):
            ray = lab_from_oklab(np.stack([np.full_like(C, L), C * np.cos(h), C * np.sin(h)], -1))
            out = oklab_from_lab(fit(seen(ray), where))
            fall = 0.04 if NEAR_WHITE[0] > L else 0.3
            assert (np.diff(np.hypot(out[:, 1], out[:, 2])) > -fall).all(), (L, h)
    for L in (30, 50, 70, 90):  # along CIELAB's rays Oklab's hue turns a little, and with it what can be held
        for hue in range(0, 360, 15):
            ray = lab_from_lch(np.stack(np.broadcast_arrays(L, np.arange(0, 130, 0.5), hue), -1))
            chroma = lch_from_lab(fit(seen(ray), where))[:, 1]
            assert (chroma - np.maximum.accumulate(chroma)).min() > -8, (L, hue)


@pytest.mark.parametrize("paper", PAPERS)
def test_there_are_no_seams(paper: str) -> None:
    """Steps of one unit come out as steps of a few, through blues and over cusps; next to white as left alone."""
    where = on(paper)

    def steps(lab: Array, order: int) -> tuple[Array, Array]:
        """Of prints, ours and left alone."""
        ours, nearest = (
            np.linalg.norm(np.diff(done, order, axis=0), axis=-1)
            for done in (printed(lab, where), where.paper.solid.nearest(lab))
        )
        return ours, nearest

    for L in (30, 50, 70, 88, 94):
        for C in (25, 50, 75, 100):
            turn = np.arange(0, 360, 360 / (2 * np.pi * C))
            ours, nearest = steps(lab_from_lch(np.stack(np.broadcast_arrays(L, C, turn), -1)).astype(np.float32), 1)
            assert ours.max() < (5 if NEAR_WHITE[0] > L else max(5, nearest.max() + 0.1))
    for h in range(0, 360, 5):
        for C in (30, 60, 90):
            light = np.arange(np.ceil(where.black), 100)
            ours, nearest = steps(lab_from_lch(np.stack(np.broadcast_arrays(light, C, h), -1)).astype(np.float32), 2)
            assert ours[light[2:] < NEAR_WHITE[0]].max() < 8
            assert ours.max() < max(12, nearest.max() + 0.1)  # from 75 to 87 what is fitted becomes what is asked


@pytest.mark.parametrize("paper", PAPERS)
def test_a_second_fit_stays_inside_and_moves_nothing_further(paper: str) -> None:
    where = on(paper)
    lab = wide(20_000, where.black)
    lab = lab[lab[:, 0] < NEAR_WHITE[0]]
    once = fit(lab, where)
    twice = fit(once, where)
    assert within(where.gamut, twice[once[:, 0] < NEAR_WHITE[0]], 0.01).all()
    first, second = (np.linalg.norm(d, axis=-1) for d in (once - lab, twice - once))
    assert (second <= first + 0.05).all()


def test_imaginary_primaries_come_out_clean() -> None:
    """ROMM RGB (ISO 22028-2): its blue and green are no colours of light, and yet stay blue and green."""
    where = on()
    # print-referred Lab of its primaries and secondaries, compensated to this black; hue angles in CIELAB
    for name, lab, hues in (
        ("blue", (10, 75, -130), (250, 320)), ("green", (88, -180, 140), (120, 180)),
        ("red", (61, 135, 95), (15, 60)), ("cyan", (88, -165, -21), (170, 235)),
        ("magenta", (61, 140, -65), (320, 360)), ("yellow", (100, -5, 168), (75, 110)),
    ):  # fmt: skip
        for share in np.linspace(0.1, 1, 10):
            out = fit(np.array([lab[0], lab[1] * share, lab[2] * share]), where)
            L, C, h = lch_from_lab(out)
            assert np.isfinite(out).all()
            assert C < 2 or hues[0] <= h <= hues[1], (name, share, out)
            assert where.black - 0.01 <= L <= 100


def test_parameters_do_what_they_say() -> None:
    where = on()
    lab = wide(5_000, where.black)
    assert np.array_equal(fit(lab, where, strength=0.0), lab)
    assert GamutFit(strength=0.0).idle(where)
    half = fit(lab, where, strength=0.5)
    assert np.abs(half - (lab + fit(lab, where)) / 2).max() < 1e-3
    still = fit(lab, where, lightness=0.0)
    inside = (lab[:, 0] > where.black) & (np.abs(oklab_from_lab(lab)[:, 0] - oklab_from_lab(still)[:, 0]) < 0.5)
    assert inside.mean() > 0.6  # imaginary colours are eased first, which moves their Oklab lightness
    soft, hard = fit(lab, where, knee=0.6), fit(lab, where, knee=0.99)
    assert np.linalg.norm(soft - lab, axis=-1).mean() > np.linalg.norm(hard - lab, axis=-1).mean()
    for name, value in (("strength", 1.5), ("knee", 0.3), ("lightness", -1), ("glow", 2), ("knee", float("nan"))):
        with pytest.raises(ParameterError, match=name):
            GamutFit(**{name: value})


def test_a_source_that_fits_is_left_alone() -> None:
    """Where the edit's own space is the smaller, its colours stay: they end where they begin."""
    where = on("FOGRA39L", "sRGB")
    gamut = where.gamut
    small = Conditions(where.paper, Room(), source=gamut)
    L, h = np.meshgrid(np.linspace(where.black + 4, 92, 25), np.arange(0, 360, 6))
    edge = lab_from_lch(np.stack([L, 0.97 * gamut.max_chroma(L, h), h], -1)).reshape(-1, 3).astype(np.float32)
    moved = np.linalg.norm(fit(edge, small) - edge, axis=-1)
    assert np.median(moved) < 0.1


@settings(max_examples=60, deadline=None)
@given(L=st.floats(11, 100), a=st.floats(-200, 200), b=st.floats(-200, 200), knee=st.floats(0.5, 0.99))
def test_near_colours_come_out_near(L: float, a: float, b: float, knee: float) -> None:
    where = on()
    lab = np.array([L, a, b], np.float32)
    around = lab + 0.05 * np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], np.float32)
    out = fit(around, where, knee=knee)
    assert within(where.gamut, out, 0.01)[around[:, 0] < NEAR_WHITE[0]].all()
    # next to white what is fitted becomes what is asked, over 12 L*: steep for what no light has, C* 200 and more
    assert np.linalg.norm(out - out[0], axis=-1).max() < (1.0 if NEAR_WHITE[0] > L else 2.0)


def test_any_shape() -> None:
    where = on()
    lab = wide(24)
    for shape in ((3,), (24, 3), (2, 12, 3), (2, 3, 4, 3), (0, 3), (0, 4, 3)):
        piece = lab[: int(np.prod(shape[:-1]))].reshape(shape)
        for step in (GamutFit(), GamutFit(glow=0.0)):
            assert step(piece, where).shape == shape
