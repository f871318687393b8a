"""What the descent makes small (in JAX, with derivatives) is what pictures are judged by."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks import _gamut_descent as descent
from benchmarks import gamut_train as train
from benchmarks.gamut_metrics import NAMES, ciede2000, compressed, judge
from printprep.adjust._base import channels
from printprep.adjust._blocks import at_pixels, block_means
from printprep.adjust.gamut_fit import GamutFit
from tests.adjust.test_gamut_fit_detail import on, textured

pytest.importorskip("jax", reason="jax is installed by hand, to find the numbers of gamut-fit anew")


def test_colour_differences_are_those_of_scikit_image() -> None:
    """Both of CIE 142:2001; scikit-image is the reference."""
    random = np.random.default_rng(0)
    one = random.normal((55, 0, 0), (20, 40, 40), (2000, 3)).astype(np.float32)
    two = one + random.normal(0, 6, one.shape).astype(np.float32)
    assert np.allclose(descent._ciede2000(one, two), ciede2000(one, two), atol=0.02)


def test_detail_and_structure_are_those_of_the_table() -> None:
    where = on("FOGRA39L")
    asked = textured(where)
    printed = GamutFit()(asked, where)
    outside = ~where.paper.solid.contains(asked, 1.0)
    outside[-1], outside[:, -1] = False, False  # the last have no gradient there, and are left out of frames
    wanted = judge(asked, printed, where.paper.solid, outside)
    x, y, there = compressed(asked), compressed(printed), outside.astype(np.float32)
    assert float(descent._gradients(x, y, there)) == pytest.approx(wanted[NAMES.index("detail")], abs=1e-3)
    assert float(descent._texture(x, y, there)[0]) == pytest.approx(wanted[NAMES.index("structure")], abs=1e-3)


def test_what_is_mended_is_what_the_step_mends() -> None:
    """But for the cut where the gamut ends, which the step makes later."""
    where = on("FOGRA39L")
    asked = textured(where)
    found = np.array(descent.mended(train._kept(np.ones(24, np.float32)), train._looked_at(asked, where)))
    parts = GamutFit().spread(where)
    assert parts is not None
    colours = parts.enter(asked)
    weight = at_pixels(parts.weigh(block_means(colours)), 0, asked.shape[0], 0, asked.shape[1])
    whole = slice(0, asked.shape[0]), slice(0, asked.shape[1])
    L, x, y = parts.mend(channels(colours), channels(parts.fit(colours)), weight, whole)
    assert np.allclose(found[..., 0], L, atol=2e-3)
    C, wanted = np.hypot(found[..., 1], found[..., 2]), np.hypot(x, y)
    assert (wanted - C).min() > -2e-3
    assert np.mean(np.abs(C - wanted) < 2e-3) > 0.2
