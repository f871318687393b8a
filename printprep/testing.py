"""The promises that every adjustment keeps, for anyone who writes one to check."""

from __future__ import annotations

import pickle
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Adjustment
from printprep.colour.lab import Lab
from printprep.conditions.conditions import Conditions
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room


def plain() -> Conditions:
    """A matte paper in a dim room: conditions under which most steps have something to do."""
    paper = Paper(
        surface="matte",
        white=(96.0, 0.3, 2.0),
        black=(16.0, 0.5, 1.0),
        title="plain test paper",
        source="invented for tests",
        solids={
            "cyan": (57.0, -34.0, -43.0),
            "magenta": (50.0, 66.0, -4.0),
            "yellow": (88.0, -5.0, 84.0),
            "red": (48.0, 60.0, 38.0),
            "green": (50.0, -55.0, 24.0),
            "blue": (28.0, 16.0, -42.0),
        },
    )
    return Conditions(paper, Room(illuminance_lux=50.0))


def sample(rows: int = 96, columns: int = 128, *, seed: int = 1) -> Lab:
    """A small picture in print-referred Lab: a grey ramp, smooth colours, an edge, some noise."""
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float32)
    light = 20 + 75 * x / columns
    lab = np.stack([light, 40 * np.sin(y / 9 + x / 31), 40 * np.cos(y / 13 - x / 23)], -1)
    lab[: rows // 8, :, 1:] = 0
    lab[rows // 2 :, columns // 2 :, 0] *= 0.6
    lab += np.random.default_rng(seed).normal(0, 0.8, lab.shape) * (lab[..., 1:2] != 0)
    return lab.astype(np.float32)


def check_adjustment(step: Adjustment, on: Conditions | None = None) -> None:
    """Hold a step to the promises that the engine builds on.

    Parameters
    ----------
    step : Adjustment
        The step, with the parameters to be checked.
    on : Conditions, optional
        Where; `plain` conditions if not given.

    Raises
    ------
    AssertionError
        Saying which promise is broken.
    """
    on = on or plain()
    lab = sample()
    before = lab.copy()
    out = step(lab, on)
    assert isinstance(out, np.ndarray), "the result must be an array"
    assert out.shape == lab.shape and out.dtype == np.float32, f"shape or dtype changed: {out.shape}, {out.dtype}"
    assert np.array_equal(lab, before), "the input was written into"
    assert not np.shares_memory(out, lab) or np.array_equal(out, lab), "the result is a view of the input"
    assert np.isfinite(out).all(), "the result has NaN or infinity"
    assert np.array_equal(out, step(lab, on)), "two calls differ"
    if step.idle(on):
        assert np.array_equal(out, lab), "idle() says nothing changes, but something does"
    _check_extremes(step, on)
    reach = step.reach(on)
    assert reach == int(reach) and reach >= 0, "reach() must be a whole number of pixels"
    if reach == 0:
        _check_pointwise(step, on, lab, out)
    else:
        _check_bands(step, on, reach)
    copy = pickle.loads(pickle.dumps(step))
    assert copy == step and hash(copy) == hash(step), "a copy must be equal: steps hold parameters and no state"


def _check_extremes(step: Adjustment, on: Conditions) -> None:
    values = np.array([0.0, on.black, 50.0, 100.0, 104.0], np.float32)
    chroma = np.array([-200.0, -60.0, 0.0, 60.0, 200.0], np.float32)
    nodes = np.stack(np.meshgrid(values, chroma, chroma, indexing="ij"), -1).reshape(1, -1, 3)
    out = step(nodes, on)
    assert np.isfinite(out).all(), "colours beyond every gamut give NaN or infinity"


def _check_pointwise(step: Adjustment, on: Conditions, lab: Lab, out: Lab) -> None:
    order = np.random.default_rng(2).permutation(lab.shape[0] * lab.shape[1])
    shuffled = step(np.ascontiguousarray(lab.reshape(-1, 3)[order]), on)
    assert _close(shuffled, out.reshape(-1, 3)[order]), "reach() is 0, but a pixel's result depends on its neighbours"
    few = step(np.ascontiguousarray(lab[3:4, 5:12]), on)
    assert _close(few, out[3:4, 5:12]), "reach() is 0, but a pixel's result depends on the rest of the picture"
    for shape in ((1, 3), (3,), (2, 1, 5, 3)):
        piece = np.resize(lab.reshape(-1, 3), (int(np.prod(shape[:-1])), 3)).reshape(shape).astype(np.float32)
        assert step(piece, on).shape == shape, f"shape {shape} is not kept"
    greys = np.zeros((1, 256, 3), np.float32)
    greys[..., 0] = np.linspace(on.black, 100, 256)
    again = step(greys, on)
    if not np.abs(again[..., 1:]).max() > 0.01:  # toned greys may go anywhere
        assert (np.diff(again[0, :, 0]) >= -1e-3).all(), "a lighter grey became darker than a darker one"


def _check_bands(step: Adjustment, on: Conditions, reach: int) -> None:
    lab = sample(rows=max(96, 6 * reach), columns=max(64, 2 * reach + 1))
    whole = step(lab, on)
    cuts = [0, 16, 40, 48, len(lab)]
    for top, bottom in pairwise(cuts):
        low, high = max(0, top - reach), min(len(lab), bottom + reach)
        part = step(lab[low:high].copy(), on)[top - low : bottom - low]
        assert _close(part, whole[top:bottom]), (
            f"rows {top}..{bottom} differ from the whole picture: reach() is too small"
        )


def _close(a: NDArray[np.float32], b: NDArray[np.float32]) -> bool:
    return bool(np.allclose(a, b, rtol=0, atol=2e-3))
