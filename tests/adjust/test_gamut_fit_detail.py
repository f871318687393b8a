"""The spatial part of gamut-fit: detail kept, no halos, bands without seams, the pointwise result elsewhere."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from benchmarks.gamut_methods import nearest_colour
from benchmarks.gamut_metrics import NAMES, judge
from benchmarks.gamut_pictures import pictures, source_solid, srgb
from printprep.adjust._base import BLOCK, channels
from printprep.adjust._gamut_detail import mend
from printprep.adjust.gamut_fit import GamutFit
from printprep.colour.blackpoint import compensate
from printprep.colour.icc import lab_from_device
from printprep.colour.lab import lab_from_lch
from printprep.conditions.conditions import Conditions
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.presets import shipped
from printprep.testing import check_adjustment

Array = NDArray[np.float32]


def on(paper: str, space: str = "ROMM RGB") -> Conditions:
    found = Paper.from_measurement(shipped() / "measurements" / f"{paper}.txt")
    return Conditions(found, Room(), source=source_solid(space, found.neutral_black))


def textured(where: Conditions, *, texture: float = 3.0) -> Array:
    """A petal: a red that no paper holds, slowly changing, with fine texture in lightness and chroma."""
    y, x = np.mgrid[0:96, 0:128].astype(np.float32)
    noise = np.random.default_rng(3).normal(0, texture, (2, 96, 128))
    L = 52 + 6 * np.sin(x / 40) + noise[0]
    C = 96 + 8 * np.cos(y / 37) + 2 * noise[1]
    return lab_from_lch(np.stack([L, C, np.full_like(L, 30.0)], -1)).astype(np.float32)


@pytest.mark.parametrize("paper", ["FOGRA29L", "FOGRA39L"])
def test_texture_survives_better_than_pointwise(paper: str) -> None:
    where = on(paper)
    asked = textured(where)
    detail, structure = NAMES.index("detail"), NAMES.index("structure")
    plain = judge(asked, GamutFit(detail=0.0)(asked, where), where.paper.solid)
    full = judge(asked, GamutFit()(asked, where), where.paper.solid)
    assert full[detail] > plain[detail] + 0.01
    assert full[structure] > plain[structure]
    assert full[NAMES.index("outside %")] == 0


def test_photographs_keep_more_than_by_nearest_colour() -> None:
    """Two of scikit-image's photographs with chroma raised by a third; all figures of the table at once."""
    where = on("FOGRA39L")
    for picture in pictures(160, "bundled")[:6:2]:
        asked = picture.asked(where.paper)
        asked[..., 1:] *= 4 / 3
        solid = where.paper.solid
        ours = judge(asked, GamutFit()(asked, where), solid)
        clipped = judge(asked, nearest_colour(asked, picture.lab, solid, solid), solid)
        assert ours[NAMES.index("hue Oklab")] < 0.1
        assert ours[NAMES.index("dE00")] < clipped[NAMES.index("dE00")]
        assert ours[NAMES.index("detail")] > clipped[NAMES.index("detail")]
        assert ours[NAMES.index("structure")] > clipped[NAMES.index("structure")]
        assert ours[NAMES.index("moved")] < 0.02
        assert ours[NAMES.index("outside %")] < 0.1


@pytest.mark.parametrize("paper", ["FOGRA29L", "FOGRA39L"])
def test_no_halo_at_step_edges(paper: str) -> None:
    """No overshoot over 1 L* beyond the lighter or darker side, for edges between colours of sRGB."""
    random = np.random.default_rng(0)
    where = on(paper, "sRGB")
    worst = 0.0
    for trial in range(120):
        rgb = random.random((2, 3))
        if trial % 2:
            rgb = np.round(rgb) * random.uniform(0.3, 1, (2, 1))
        one, two = compensate(lab_from_device(rgb, srgb()), 0.0, where.black)
        picture = np.empty((16, 96, 3), np.float32)
        edge = 48 + trial % 4
        picture[:, :edge], picture[:, edge:] = one, two
        L = GamutFit()(picture, where)[8, :, 0]
        low, high = min(L[4], L[-5]), max(L[4], L[-5])
        worst = max(worst, float(L.max() - high), float(low - L.min()))
    assert 0.1 < worst < 1.0


WHOLE = slice(None), slice(None)


@pytest.mark.parametrize("seed", range(4))
def test_changes_are_bounded_whatever_the_neighbours_are(seed: int) -> None:
    """Beside what is flat, lightness stays within what fitting left nearby but for 0.55: so halos are bounded."""
    random = np.random.default_rng(seed)
    asked = [random.normal(mean, spread, (40, 56)).astype(np.float32) for mean, spread in ((60, 8), (20, 9), (12, 9))]
    for channel in asked:
        channel[:, :28] = channel[0, 0]
    keep = random.uniform(0.4, 1, (40, 56)).astype(np.float32)
    keep[:, :28] = 0.8
    turned = asked[0] + random.normal(0, 4, (40, 56)).astype(np.float32)  # light and dark may change places
    turned[:, :20] = turned[0, 0]
    fitted = (turned, asked[1] * keep, asked[2] * keep)
    window = np.lib.stride_tricks.sliding_window_view(np.pad(turned, 11, mode="edge"), (23, 23))
    low, high = window.min(axis=(2, 3)), window.max(axis=(2, 3))
    weight = random.uniform(0, 1, (40, 56)).astype(np.float32)
    L, x, y = mend((asked[0], asked[1], asked[2]), fitted, weight, WHOLE)
    beside = np.s_[:, :28]  # of the cells around these, some are flat
    assert (low - 0.551 <= L)[beside].all() and (high + 0.551 >= L)[beside].all()
    assert (low - 6.551 <= L).all() and (high + 6.551 >= L).all()
    assert 1 < np.abs(L - turned).max() <= 4.001
    assert np.abs(L - turned)[beside].max() <= 1.001
    share = np.hypot(x, y) / np.hypot(fitted[1], fitted[2])
    assert 0.8599 <= share.min() < 0.99 and share.max() <= 1.0301
    assert share[:, :28].min() >= 0.9599
    assert np.allclose(np.arctan2(y, x), np.arctan2(fitted[2], fitted[1]), atol=1e-4)


def test_a_part_is_mended_as_it_is_within_the_whole() -> None:
    where = on("FOGRA39L")
    parts = GamutFit().spread(where)
    assert parts is not None
    asked = parts.enter(textured(where))
    fitted = parts.fit(asked)
    margin = parts.around * BLOCK
    inner = slice(margin, 40), slice(margin, 60)
    rows, columns = 40 + margin, 60 + margin
    weight = np.ones(asked.shape[:2], np.float32)
    whole = mend(channels(asked), channels(fitted), weight, WHOLE)
    part = mend(channels(asked[:rows, :columns]), channels(fitted[:rows, :columns]), weight[inner], inner)
    for one, other in zip(whole, part, strict=True):
        assert np.abs(one[inner] - other).max() < 2e-3


def test_what_fitting_turned_round_makes_no_halo() -> None:
    """Where the edit is lighter and the fitted picture darker than around, it stays so but for what no one sees."""
    asked = [np.full((24, 24), value, np.float32) for value in (60.0, 20.0, 10.0)]
    asked[0][10:14, 10:14] += 3
    turned = np.full((24, 24), 58, np.float32)
    turned[10:14, 10:14] -= 2
    fitted = turned, asked[1] * np.float32(0.7), asked[2] * np.float32(0.7)
    L, _, _ = mend((asked[0], asked[1], asked[2]), fitted, np.ones((24, 24), np.float32), WHOLE)
    assert L.min() >= 55.44 and L.max() <= 58.56


def test_flat_areas_stay_near_the_pointwise_result() -> None:
    where = on("FOGRA29L")
    for h in range(0, 360, 20):
        flat = np.empty((12, 12, 3), np.float32)
        flat[:] = lab_from_lch(np.array([55, 90, h]))
        apart = GamutFit()(flat, where)[6, 6] - GamutFit(detail=0.0)(flat, where)[6, 6]
        assert abs(apart[0]) < 1.0


@pytest.mark.parametrize("paper", ["FOGRA29L", "FOGRA39L"])
def test_slow_gradients_stay_even(paper: str) -> None:
    """Gains change from cell to cell; beside 0.07 L* that fitting alone leaves, no step of cells shows."""
    where = on(paper)
    y, x = np.mgrid[0:96, 0:128].astype(np.float32)
    for h in (30, 95, 290):
        L, C = 52 + 8 * np.sin(x / 40 + y / 90), 85 + 12 * np.cos(y / 37)
        out = GamutFit()(lab_from_lch(np.stack([L, C, np.full_like(L, h)], -1)).astype(np.float32), where)[..., 0]
        for axis in (0, 1):
            assert np.abs(np.diff(out, 2, axis=axis)).max() < 0.15


def test_pointwise_where_the_base_lies_inside() -> None:
    where = on("FOGRA39L")
    _, x = np.mgrid[0:64, 0:64].astype(np.float32)
    noise = np.random.default_rng(5).normal(0, 6, (64, 64))
    inner = lab_from_lch(np.stack([60 + noise, 22 + noise, 360 * x / 64], -1)).astype(np.float32)
    assert np.array_equal(GamutFit()(inner, where), GamutFit(detail=0.0)(inner, where))
    mixed = inner.copy()
    mixed[:, 40:] = textured(where)[:64, :24]
    out, plain = GamutFit()(mixed, where), GamutFit(detail=0.0)(mixed, where)
    assert np.array_equal(out[:, :24], plain[:, :24])
    assert not np.array_equal(out[:, 44:], plain[:, 44:])


def test_detail_0_is_pointwise_and_every_result_is_in_gamut() -> None:
    where = on("FOGRA29L")
    asked = textured(where, texture=8)
    shuffled = asked.reshape(-1, 3)[::-1].reshape(asked.shape)
    flat = GamutFit(detail=0.0)
    assert np.array_equal(flat(shuffled, where), flat(asked, where).reshape(-1, 3)[::-1].reshape(asked.shape))
    for detail in (0.0, 0.3, 1.0):
        assert where.gamut.contains(GamutFit(detail=detail)(asked, where), 0.01).all()
    assert flat.reach(where) == 0
    assert GamutFit().flat(where) == flat


@pytest.mark.parametrize("detail", [0.0, 0.5, 1.0])
def test_the_promises_of_every_step(detail: float) -> None:
    check_adjustment(GamutFit(detail=detail))
