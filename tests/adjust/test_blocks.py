"""Means over blocks of a picture, whatever its size, and block values at pixels, whatever part asks."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep.adjust._base import BLOCK
from printprep.adjust._blocks import at_pixels, block_means

SIZES = st.integers(1, 5 * BLOCK)


@pytest.mark.parametrize(("dtype", "off"), [(np.float32, 1e-3), (np.uint16, 1)])
@settings(max_examples=40, deadline=None)
@given(height=SIZES, width=SIZES)
def test_means_are_those_of_whole_blocks_with_edges_repeated(dtype: Any, off: float, height: int, width: int) -> None:
    picture = (np.random.default_rng(height * 100 + width).random((height, width, 3)) * 1000).astype(dtype)
    filled = np.pad(picture, ((0, -height % BLOCK), (0, -width % BLOCK), (0, 0)), mode="edge")
    rows, columns = filled.shape[0] // BLOCK, filled.shape[1] // BLOCK
    plain = filled.reshape(rows, BLOCK, columns, BLOCK, 3).mean(axis=(1, 3), dtype=np.float64)
    means = block_means(picture)
    assert means.dtype == dtype
    assert np.abs(means - plain).max() <= off


@settings(max_examples=40, deadline=None)
@given(top=st.integers(0, 20), rows=st.integers(1, 12), left=st.integers(0, 20), columns=st.integers(1, 12))
def test_a_part_has_the_values_of_the_whole(top: int, rows: int, left: int, columns: int) -> None:
    small = np.random.default_rng(0).random((8, 8)).astype(np.float32)
    whole = at_pixels(small, 0, 8 * BLOCK, 0, 8 * BLOCK)
    part = at_pixels(small, top, rows, left, columns)
    assert np.abs(part - whole[top : top + rows, left : left + columns]).max() < 1e-6
