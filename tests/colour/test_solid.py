"""Gamut solids against geometry that is known, and against the measured patches by other routes."""

from __future__ import annotations

import pickle
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.spatial import ConvexHull
from skimage.color import deltaE_ciede2000

from printprep.colour.icc import lab_from_device
from printprep.colour.lab import lab_from_lch, media_relative
from printprep.colour.profile import Profile
from printprep.colour.solid import HUES, LEVELS, Solid
from printprep.conditions import measurement
from printprep.conditions.paper import Paper
from printprep.preset_files import shipped
from tests.support.solids import distance, within

Array = NDArray[np.float64]
FOGRA = ("FOGRA29L", "FOGRA39L")


@cache
def paper(name: str) -> Paper:
    return Paper(measured=measurement.read_chart(shipped() / "measurements" / f"{name}.txt"))


def relative(name: str) -> Array:
    measured = paper(name).measured
    assert measured is not None
    return np.asarray(media_relative(measured.lab, measured.white), np.float64)


def cone() -> Solid:
    """A double cone: black 0, white 100, chroma 60 at L* 40."""
    L = np.linspace(0, 100, LEVELS)
    chroma = np.where(L < 40, L / 40, (100 - L) / 60) * 60
    return Solid(np.repeat(chroma[:, None], HUES, axis=1), 0.0)


@cache
def srgb() -> tuple[Array, Solid]:
    step = np.linspace(0, 1, 33)
    cube = lab_from_device(np.stack(np.meshgrid(step, step, step, indexing="ij"), -1), Profile.named("sRGB").data)
    return np.asarray(cube, np.float64), Solid.from_cube(cube)


def test_a_cone_has_its_volume_cusp_and_distances() -> None:
    solid = cone()
    assert solid.volume == pytest.approx(np.pi * 60**2 * 100 / 3, rel=1e-3)
    L, C = solid.cusp([0.0, 123.4])
    assert pytest.approx([40, 40], abs=0.3) == L
    assert pytest.approx([60, 60], rel=0.01) == C
    assert solid.max_chroma(70, 10) == pytest.approx(30, abs=0.05)
    assert solid.max_chroma([-1, 101], 0).tolist() == [0, 0]
    # from the axis at L* 40 the lower cone is 40 sin(atan(60/40)) away
    assert distance(solid, [40, 0, 0]) == pytest.approx(-40 * np.sin(np.arctan2(60, 40)), abs=0.1)
    assert distance(solid, [110, 0, 0]) == pytest.approx(10, abs=1e-3)
    # the point straight out from the middle of the upper side
    normal = np.array([60, 60]) / np.hypot(60, 60)
    outside = [70 + 5 * normal[0], 30 + 5 * normal[1], 0]
    assert distance(solid, outside) == pytest.approx(5, abs=0.05)
    assert solid.nearest(outside) == pytest.approx([70, 30, 0], abs=0.15)
    inside = np.array([[50, 10, 10]], np.float32)
    assert np.array_equal(solid.nearest(inside), inside)


def test_srgb_has_its_volume() -> None:
    cube, solid = srgb()
    faces = [np.take(cube, end, axis).reshape(-1, 3) for axis in range(3) for end in (0, -1)]
    # another route: tetrahedra of the cube's cells add up to the whole
    total = 0.0
    corner = cube[:-1, :-1, :-1]
    order = [(1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 1, 1), (0, 0, 1), (1, 0, 1), (1, 0, 0)]
    top = cube[1:, 1:, 1:]
    for one, two in pairwise(order):
        a = cube[tuple(slice(k, k + 32) for k in one)]
        b = cube[tuple(slice(k, k + 32) for k in two)]
        sides = np.stack([top - corner, a - corner, b - corner], -1)
        total += np.abs(np.linalg.det(sides)).sum() / 6
    assert solid.volume == pytest.approx(total, rel=0.005)
    assert solid.black_L == pytest.approx(0, abs=0.01)
    assert solid.white_L == 100
    outside = distance(solid, np.concatenate(faces))  # between the stored rays, sharp ridges are cut a little
    assert np.quantile(outside, 0.999) < 1.3
    assert outside.max() < 2.5


@pytest.mark.parametrize("name", FOGRA)
def test_no_measured_patch_lies_outside(name: str) -> None:
    lab, solid = relative(name), paper(name).solid
    assert deltaE_ciede2000(lab, solid.nearest(lab)).max() < 0.1


# FOGRA29L and FOGRA39L (open data, Debian package icc-profiles-free): largest chroma of any patch in bins of
# hue 15 degrees wide, absolute Lab; what the paper holds there is no less
LARGEST = {
    "FOGRA29L": {0: 59.59, 30: 63.05, 60: 58.80, 90: 79.18, 120: 49.17, 150: 46.65, 240: 50.42, 300: 32.56},
    "FOGRA39L": {0: 74.06, 30: 83.23, 60: 74.04, 90: 93.13, 120: 65.18, 150: 70.38, 240: 62.20, 300: 51.07},
}


@pytest.mark.parametrize("name", FOGRA)
def test_cusps_reach_the_most_colourful_patches(name: str) -> None:
    solid = paper(name).solid
    for hue, chroma in LARGEST[name].items():
        cusp = float(solid.cusp(np.arange(hue - 7.5, hue + 8, 0.5))[1].max())
        assert chroma - 1 < cusp < 1.06 * chroma + 6  # media-relative adds about 4 %, and overprints lie between


@pytest.mark.parametrize("name", FOGRA)
def test_volume_agrees_with_counting_random_points(name: str) -> None:
    """Monte Carlo, and the convex hull of the patches by scipy."""
    solid = paper(name).solid
    low, high = np.array([solid.floor_L, -80, -60]), np.array([100, 80, 100])
    points = np.random.default_rng(3).uniform(low, high, (100_000, 3))
    inside = solid.contains(points)
    assert inside.mean() * np.prod(high - low) == pytest.approx(solid.volume, rel=0.02)
    hull = ConvexHull(relative(name))
    # a hull over everything promises 5 to 12 % more than these papers hold
    assert 1.05 < hull.volume / solid.volume < 1.12
    beyond = (points[inside] @ hull.equations[:, :3].T + hull.equations[:, 3]).max(axis=1)
    assert np.quantile(beyond, 0.999) < 0.5  # nothing far outside the hull of the patches counts as held


def test_hollows_stay_hollow() -> None:
    """There are colours well inside the convex hull of the patches that no patch comes near, and they are outside."""
    solid, lab = paper("FOGRA39L").solid, relative("FOGRA39L")
    hull = ConvexHull(lab)
    points = np.random.default_rng(4).uniform(lab.min(axis=0), lab.max(axis=0), (30_000, 3))
    deep = points[(points @ hull.equations[:, :3].T + hull.equations[:, 3]).max(axis=1) < -1]
    beyond = distance(solid, deep)
    hollow = deep[beyond > 2]
    assert len(hollow) > 20
    apart = np.linalg.norm(hollow[:, None] - lab[None], axis=-1).min(axis=1)
    assert apart.min() > 1.9


@pytest.mark.parametrize("name", FOGRA)
def test_every_ray_meets_the_boundary_once(name: str) -> None:
    solid = paper(name).solid
    L = np.linspace(solid.black_L + 0.5, 99.5, 40)[:, None]
    h = np.arange(0, 360, 7.3)[None]
    most = solid.max_chroma(L, h)
    assert (most > 0).all()
    for share, held in ((0.5, True), (0.999, True), (1.001, False), (1.5, False)):
        colours = lab_from_lch(np.stack(np.broadcast_arrays(L, most * share, h), -1))
        assert (solid.contains(colours) == held).all()


def test_a_toned_grey_scale_is_an_axis() -> None:
    ends = np.zeros((LEVELS, HUES))
    solid = Solid(ends, 12.0)
    assert solid.volume == 0
    assert solid.contains([50, 0, 0])
    assert distance(solid, [50, 3, 4]) == pytest.approx(5, abs=1e-3)


def test_intersection_holds_what_both_hold() -> None:
    one, two = paper("FOGRA39L").solid, srgb()[1]
    both = one.intersection(two)
    points = np.random.default_rng(5).uniform([0, -90, -90], [100, 90, 90], (20_000, 3))
    sure = (np.abs(distance(one, points)) > 1) & (np.abs(distance(two, points)) > 1)
    assert np.array_equal((one.contains(points) & two.contains(points))[sure], both.contains(points)[sure])
    assert both.black_L == max(one.black_L, two.black_L)


def test_a_copy_is_equal() -> None:
    solid = paper("FOGRA29L").solid
    copy = pickle.loads(pickle.dumps(solid))
    assert copy == solid
    assert hash(copy) == hash(solid)
    assert solid != cone()


@pytest.mark.parametrize(
    ("grid", "black", "white"),
    [(np.zeros((3, 3)), 0, 100), (np.full((LEVELS, HUES), np.nan), 0, 100), (np.zeros((LEVELS, HUES)), 60, 50)],
)
def test_nonsense_is_refused(grid: Array, black: float, white: float) -> None:
    with pytest.raises(ValueError, match="a solid needs"):
        Solid(grid, black, white)


@settings(max_examples=40, deadline=None)
@given(L=st.floats(-5, 105), C=st.floats(0, 200), h=st.floats(-720, 720))
def test_nearest_is_inside_and_no_farther_than_the_distance(L: float, C: float, h: float) -> None:
    solid = paper("FOGRA39L").solid
    lab = lab_from_lch(np.array([L, C, h], np.float32))
    nearest = solid.nearest(lab)
    assert within(solid, nearest, 0.02)
    assert float(np.linalg.norm(nearest - lab)) == pytest.approx(max(float(distance(solid, lab)), 0), abs=1e-3)
