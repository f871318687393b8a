"""What gamut-fit's spatial part sees: contrast as numpy has it, texture but not edges, parts as in the whole."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from printprep.adjust._gamut_look import CELL, Sight, look, weight_of_chroma

Array = NDArray[np.float32]
ROWS, COLUMNS = 44, 56


def planes(seed: int = 0, rows: int = ROWS, columns: int = COLUMNS) -> tuple[Array, Array, Array, Array]:
    random = np.random.default_rng(seed)
    L, C = 60 + random.normal(0, 4, (rows, columns)), 20 + random.normal(0, 3, (rows, columns))
    new = 58 + 0.7 * (L - 60), 0.8 * C + random.normal(0, 0.2, C.shape)
    one, two, three, four = (np.asarray(plane, np.float32) for plane in (L, C, *new))
    return one, two, three, four


def halved(plane: Array) -> Array:
    rows, columns = plane.shape
    return np.asarray(plane.reshape(rows // 2, 2, columns // 2, 2).mean(axis=(1, 3)))


def around(plane: Array, cell: tuple[int, int], wider: int) -> Array:
    """Means of 2 x 2 pixels in a cell and those around it."""
    rows, columns = (slice(2 * (at - wider), 2 * (at + wider + 1)) for at in cell)
    return halved(plane)[rows, columns]


@pytest.mark.parametrize(("wider", "first"), [(1, 0), (2, 10)])
def test_contrast_is_what_numpy_finds(wider: int, first: int) -> None:
    L, C, new_L, new_C = planes()
    features, cell = look(L, C, new_L, new_C).features, (5, 7)
    seen = features[first : first + 10, *cell]
    counts = weight_of_chroma(halved(new_C))
    weighed, new_weighed = (np.repeat(np.repeat(halved(plane) * counts, 2, 0), 2, 1) for plane in (C, new_C))
    part_L, part_C, part_new_L, part_new_C = (around(p, cell, wider) for p in (L, weighed, new_L, new_weighed))
    own = np.s_[4 * cell[0] : 4 * cell[0] + 4, 4 * cell[1] : 4 * cell[1] + 4]
    weight = np.repeat(np.repeat(counts, 2, 0), 2, 1)[own].mean()
    assert seen[0] == pytest.approx(L[own].mean() - part_L.mean(), abs=1e-4)
    assert seen[1] == pytest.approx((C[own].mean() - around(C, cell, wider).mean()) * weight, abs=1e-4)
    assert seen[2] == pytest.approx((new_L - L)[own].mean() - around(new_L - L, cell, wider).mean(), abs=1e-4)
    assert seen[4] == pytest.approx(part_L.std(), rel=1e-3)
    assert seen[5] == pytest.approx(part_C.std(), rel=1e-3)
    wanted, there = np.hypot(part_L.std(), part_C.std()), np.hypot(part_new_L.std(), part_new_C.std())
    assert seen[6] == pytest.approx((wanted - there) / (there + 0.1), rel=1e-3)
    assert seen[7] == pytest.approx(np.corrcoef(part_L.ravel(), part_C.ravel())[0, 1], abs=0.01)
    slope = np.cov(part_L.ravel(), (part_new_L - part_L).ravel())[0, 1] / part_L.var(ddof=1)
    assert seen[8] == pytest.approx(slope, abs=0.01)


def test_means_are_those_of_cells() -> None:
    L, C, new_L, new_C = planes()
    means = look(L, C, new_L, new_C).means
    for found, plane in zip(means[0], (L, C, new_L - L, new_C - C), strict=True):
        cells = plane.reshape(ROWS // CELL, CELL, COLUMNS // CELL, CELL).mean(axis=(1, 3))
        assert np.allclose(found, cells, atol=1e-4)


@pytest.mark.parametrize("edge", range(20, 25))
def test_an_edge_is_no_texture_and_noise_is(edge: int) -> None:
    L, C, new_L, new_C = planes()
    assert look(L, C, new_L, new_C).texture.min() > 1
    L, C = np.full_like(L, 40), np.full_like(C, 20)
    L[:, edge:], C[:, edge:] = 70, 35
    sight = look(L, C, L, C)
    assert sight.texture.max() == 0
    assert sight.low.min() == 40 and sight.high.max() == 70
    assert sight.high[:, : edge // CELL - 1].max() == 40


def test_a_part_is_seen_as_it_is_within_the_whole() -> None:
    L, C, new_L, new_C = planes(1, 47, 61)  # the last cells are not whole
    whole = look(L, C, new_L, new_C)
    cells, near = np.s_[3:9, 4:10], np.s_[:, 4:52]
    part = look(L[near], C[near], new_L[near], new_C[near], np.s_[3:9, 3:9])
    for one, other in zip(Sight(*(plane[..., *cells] for plane in whole)), part, strict=True):
        assert np.allclose(one, other, atol=1e-3)
    assert whole.low.shape == (12, 16)
