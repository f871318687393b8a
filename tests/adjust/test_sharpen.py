"""Sharpening: edges crisper within bounds, noise left alone, nothing beyond paper, the same wherever bands are cut."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

import printprep as pp
from printprep.adjust.sharpen import Sharpen
from printprep.photo.bands import read_all
from printprep.photo.pixels import ArrayPixels
from printprep.testing import check_adjustment, plain
from tests.support.tiffs import picture

SURFACES = ("gloss", "lustre", "matte", "canvas")


def on(surface: str = "matte", distance: float | None = 1.0, ppi: float = 360.0) -> pp.Conditions:
    base = plain()
    paper = replace(base.paper, surface=surface)  # type: ignore[arg-type]
    return replace(base, paper=paper, sheet=pp.Sheet(ppi=ppi, distance_m=distance))


def grey(light: NDArray[np.floating]) -> NDArray[np.float32]:
    return np.stack([light, np.zeros_like(light), np.zeros_like(light)], axis=-1).astype(np.float32)


def sharpened(light: NDArray[np.floating], where: pp.Conditions, step: Sharpen | None = None) -> NDArray[np.float32]:
    return (step or Sharpen())(grey(light), where)[..., 0]


@pytest.mark.parametrize("surface", SURFACES)
@pytest.mark.parametrize("distance", [0.3, 1.0, 4.0])
def test_it_keeps_the_promises(surface: str, distance: float) -> None:
    check_adjustment(Sharpen(), on(surface, distance))
    check_adjustment(Sharpen(strength=1.5, radius_mm=0.5), on(surface, distance))


def test_idle_where_no_size_is_known_or_none_is_asked_for() -> None:
    assert Sharpen().idle(plain())
    assert Sharpen().reach(plain()) == 0
    assert Sharpen(strength=0).idle(on())
    assert not Sharpen().idle(on())


@pytest.mark.parametrize(("distance", "radius"), [(0.3, 0.08), (0.55, 0.08), (0.8, 0.1164), (1.0, 0.1454), (3, 0.15)])
def test_radius_is_half_a_minute_of_arc_within_bounds(distance: float, radius: float) -> None:
    # 0.8 m * tan(0.5') = 0.1164 mm, worked out by hand
    assert Sharpen().resolved(on(distance=distance)).radius_mm == pytest.approx(radius, abs=1e-4)
    assert Sharpen(radius_mm=0.3).resolved(on(distance=distance)).radius_mm == 0.3


@settings(max_examples=60, deadline=None)
@given(
    dark=st.floats(17, 95), step=st.floats(0.5, 80), blur=st.floats(0, 3), surface=st.sampled_from(SURFACES),
    distance=st.floats(0.2, 5), strength=st.floats(0, 1.5), ppi=st.sampled_from([300.0, 360.0, 720.0]),
)  # fmt: skip
def test_overshoot_at_an_edge_is_bounded(
    dark: float, step: float, blur: float, surface: str, distance: float, strength: float, ppi: float
) -> None:
    light = min(dark + step, 100.0)
    ramp = np.clip((np.arange(120) - 60) / (blur + 1e-3) + 0.5, 0, 1)
    made = sharpened(np.tile(dark + (light - dark) * ramp, (9, 1)), on(surface, distance, ppi), Sharpen(strength))
    rounding = 1 / 600 + 1e-4
    assert made.max() <= min(light + 3, 100) + rounding
    assert made.min() >= max(dark - 4, min(dark, on().black)) - rounding


@pytest.mark.parametrize("surface", SURFACES)
def test_an_edge_is_steeper(surface: str) -> None:
    for width in (0.7, 1.0, 2.0):  # the last as of a picture enlarged to twice its size
        soft = np.tile(60 + 10 * np.tanh((np.arange(80) - 40) / width), (9, 1))
        made = sharpened(soft, on(surface))
        assert np.abs(np.diff(made[4])).max() > 1.1 * np.abs(np.diff(soft[4])).max()


def test_matte_and_canvas_get_more_than_gloss() -> None:
    edge = np.tile(np.where(np.arange(60) < 30, 40.0, 55.0), (9, 1))
    high = [float(sharpened(edge, on(surface)).max()) for surface in SURFACES]
    assert high == sorted(high)
    assert high[-1] > high[0] + 0.2


@pytest.mark.parametrize("surface", SURFACES)
@pytest.mark.parametrize("distance", [0.3, 0.7, 2.0])
@pytest.mark.parametrize("ppi", [300.0, 360.0, 720.0])
def test_flat_noise_rises_by_less_than_a_tenth(surface: str, distance: float, ppi: float) -> None:
    noise = np.random.default_rng(3).normal(55, 1, (300, 300))
    assert sharpened(noise, on(surface, distance, ppi)).std() < 1.1 * noise.std()


def test_colour_stays() -> None:
    lab = np.random.default_rng(0).uniform((20, -40, -40), (90, 40, 40), (40, 40, 3)).astype(np.float32)
    made = Sharpen()(lab, on())
    assert np.array_equal(made[..., 1:], lab[..., 1:])
    assert np.abs(made[..., 0] - lab[..., 0]).max() > 1


def _contrast_sensitivity(u: NDArray[np.floating], luminance: float, degrees: float) -> NDArray[np.floating]:
    """Contrast sensitivity of the eye at `u` cycles per degree: the approximation of Barten's model (P. G. J. Barten,
    Contrast Sensitivity of the Human Eye, 1999, and SPIE 5294, 2003); from memory."""
    a = 540 * (1 + 0.7 / luminance) ** -0.2 / (1 + 12 / (degrees * (1 + u / 3) ** 2))
    b = 0.3 * (1 + 100 / luminance) ** 0.15
    return np.asarray(a * u * np.exp(-b * u) * np.sqrt(1 + 0.06 * np.exp(b * u)))


def _seen(light: NDArray[np.floating], ppi: float, distance: float) -> NDArray[np.floating]:
    """A row of L* as contrast in units of its threshold, filtered by the eye."""
    Y = ((light + 16) / 116) ** 3
    contrast = Y / Y.mean() - 1
    cycles = np.fft.rfftfreq(len(light)) * ppi / 25.4 * distance * 1000 * np.pi / 180
    sensitivity = _contrast_sensitivity(np.maximum(cycles, 1e-3), 100.0, 10.0)
    return np.asarray(np.fft.irfft(np.fft.rfft(contrast) * sensitivity, len(light)))


@pytest.mark.parametrize("distance", [0.4, 1.0])
def test_an_edge_is_seen_crisper_and_no_halo_is_seen_beside_it(distance: float) -> None:
    """What the eye gets of an edge and of its rims, by its contrast sensitivity at this distance."""
    x = np.arange(4096)
    soft = 60 + 10 * (np.tanh(x - 1024) - np.tanh(x - 3072) - 1)
    where = on(distance=distance)
    made = sharpened(np.tile(soft, (9, 1)), where)[4]
    before, after = (_seen(line, 360.0, distance) for line in (soft, made))
    slope = [np.abs(np.diff(line[900:1150])).max() for line in (before, after)]
    assert slope[1] > 1.03 * slope[0]
    # 1 mm and more away from the edge nothing is left to be seen: under a threshold
    far = np.abs(x - 1024) > 15
    far &= np.abs(x - 3072) > 15
    halo = _seen(np.where(far, made - soft, 0) + 60, 360.0, distance)
    assert np.abs(halo).max() < 1


# ---------------------------------------------------------------- on codes


def pipe(distance: float | None = 0.8, **more: object) -> pp.Pipeline:
    sheet = pp.Sheet(ppi=360, distance_m=distance)
    return pp.pipeline(paper="cotton-rag", room="hallway", sheet=sheet, settings=dict(more))


def test_without_a_size_bytes_are_as_without_the_step() -> None:
    codes = picture(60, 80)
    without = pp.Pipeline(pipe().steps.items[:-1], paper=pipe().paper, room=pipe().room)
    assert isinstance(pipe().steps.items[-1], Sharpen)
    assert np.array_equal(pipe(None).apply(codes, "sRGB"), without.apply(codes, "sRGB"))
    assert not np.array_equal(pipe().apply(codes, "sRGB"), without.apply(codes, "sRGB"))


@settings(max_examples=25, deadline=None)
@given(
    height=st.integers(1, 70), width=st.integers(1, 40), rows=st.integers(1, 40), distance=st.floats(0.2, 3),
    seed=st.integers(0, 9),
)  # fmt: skip
def test_bands_may_be_cut_anywhere(height: int, width: int, rows: int, distance: float, seed: int) -> None:
    plan = pp.Pipeline([Sharpen()], paper=pp.paper("canvas"), sheet=pp.Sheet(distance_m=distance)).plan("opRGB")
    pixels = plan.pixels(ArrayPixels(picture(height, width, seed=seed)))
    whole = read_all(pixels)
    for top in range(0, height, rows):
        band = np.empty((min(rows, height - top), width, 3), np.uint16)
        pixels.read(top, band)
        assert np.array_equal(band, whole[top : top + len(band)])


@pytest.mark.parametrize("profile", ["sRGB", "opRGB", "ROMM RGB"])
def test_greys_on_codes_are_as_in_lab(profile: str) -> None:
    """The quick way, on what the table hands over, beside the exact chain in Lab."""
    made = pp.Pipeline([Sharpen()], paper=pp.paper("cotton-rag"), sheet=pp.Sheet(distance_m=0.8)).plan(profile)
    grey = np.random.default_rng(5).integers(2000, 63000, (12, 16)).repeat(5, axis=0).repeat(5, axis=1)
    codes = np.repeat(grey[..., None], 3, axis=2).astype(np.uint16)
    quick = read_all(made.pixels(ArrayPixels(codes)))
    exact = made.chain(codes.astype(np.float32) / np.float32(65535))
    a, b = (made.chain.to_print(np.asarray(c, np.float32))[..., 0] for c in (quick / np.float32(65535), exact))
    assert np.abs(a - b).max() < 0.02
    assert np.abs(quick.astype(int) - codes).max() > 500


@pytest.mark.parametrize("colour", [(200, 40, 30), (30, 60, 190), (230, 200, 30), (40, 120, 60), (190, 140, 120)])
def test_coloured_edges_keep_the_bound_and_their_hue(colour: tuple[int, int, int]) -> None:
    made = pp.Pipeline([Sharpen()], paper=pp.paper("canvas"), sheet=pp.Sheet(distance_m=1.0)).plan("sRGB")
    codes = np.full((20, 60, 3), colour, np.uint16) * np.uint16(257)
    codes[:, 30:] //= 2
    quick = read_all(made.pixels(ArrayPixels(codes)))
    before, after = (made.chain.to_print(c.astype(np.float32) / np.float32(65535)) for c in (codes, quick))
    change = after - before
    assert change[..., 0].max() < 3.3
    assert change[..., 0].min() > -4.4
    assert np.abs(change[..., 0]).max() > 1
    assert np.abs(change[..., 1:]).max() < 4


def test_flat_areas_stay_to_the_bit() -> None:
    codes = np.full((30, 30, 3), (12345, 40000, 20001), np.uint16)
    made = pp.Pipeline([Sharpen(strength=1.5)], paper=pp.paper("canvas"), sheet=pp.Sheet(distance_m=1.0))
    assert np.array_equal(made.apply(codes, "sRGB"), codes)
