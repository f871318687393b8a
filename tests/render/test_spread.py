"""Steps that look around, run by tables: against exact evaluation, whatever the bands, plain elsewhere."""

from __future__ import annotations

import pickle
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import skimage.data
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000

from printprep.adjust.gamut_fit import GamutFit
from printprep.colour.icc import lab_from_device
from printprep.compose import pipeline
from printprep.photo.photo import ArrayPixels
from printprep.photo.profile import Profile
from printprep.render.plan import Plan
from printprep.render.spread import SpreadPixels

Codes = NDArray[np.uint16]
SRGB = Profile.named("sRGB").data


@pytest.fixture(autouse=True)
def cache(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRINTPREP_CACHE", str(Path(tmp_path_factory.getbasetemp()) / "spread-tables"))


def plan(profile: bytes = SRGB) -> Plan:
    return pipeline(paper="cotton-rag", room="evening-sitting-room").plan(profile)


def photograph() -> Codes:
    """Coffee, with a strip of strong reds and blues that are textured."""
    codes = skimage.data.coffee()[:150, :251].astype(np.uint16) * np.uint16(257)
    noise = np.random.default_rng(1).integers(0, 9000, (40, 251, 3))
    codes[40:80] = np.array([54000, 3000, 3000]) + noise
    codes[80:120, 100:200] = np.array([2000, 3000, 55000]) + noise[:, 100:200]
    return np.asarray(codes, np.uint16)


def run(ready: Plan, codes: Codes, bands: int | None = None) -> Codes:
    pixels = ready.pixels(ArrayPixels(codes))
    out = np.empty_like(codes)
    step = bands or len(codes)
    for top in range(0, len(codes), step):
        pixels.read(top, out[top : top + step])
    return out


def lab(codes: NDArray[np.floating], profile: bytes) -> NDArray[np.floating]:
    return lab_from_device(codes.reshape(-1, 3).astype(np.float64), profile)


def test_gamut_fit_runs_by_tables() -> None:
    ready = plan()
    assert isinstance(ready.pixels(ArrayPixels(photograph())), SpreadPixels)
    assert ready.reach == 12
    assert ready.flat.reach == 0


@pytest.mark.parametrize(("space", "mean", "most"), [("sRGB", 0.03, 0.5), ("opRGB", 0.06, 0.9)])
def test_tables_agree_with_exact_evaluation(space: str, mean: float, most: float) -> None:
    profile = Profile.named(space).data
    ready, codes = plan(profile), photograph()
    exact = ready.chain(codes.astype(np.float32) / np.float32(65535))
    error = deltaE_ciede2000(lab(exact, profile), lab(run(ready, codes) / 65535, profile))
    assert error.mean() < mean
    assert np.quantile(error, 0.999) < most


@pytest.mark.parametrize("bands", [1, 7, 16, 37, 64])
def test_results_do_not_depend_on_bands(bands: int) -> None:
    ready, codes = plan(), photograph()
    assert np.array_equal(run(ready, codes, bands), run(ready, codes))


def test_the_plain_table_holds_where_no_block_takes_part() -> None:
    ready, codes = plan(), photograph()
    ours, plain = run(ready, codes), run(ready.flat, codes)
    assert not np.array_equal(ours[44:76], plain[44:76])
    calm = skimage.data.coffee()[200:264, :64].astype(np.uint16) // 3 * 257 + 20000
    assert np.array_equal(run(ready, calm), run(ready.flat, calm))


def test_greys_stay_grey() -> None:
    ready = plan()
    ramp = np.repeat(np.linspace(0, 65535, 300).astype(np.uint16)[None, :, None], 3, axis=2).repeat(40, 0)
    ramp[10:20, 40:90] = [60000, 2000, 2000]
    out = run(ready, ramp).astype(int)
    assert np.abs(out[30:] - out[30:, :, :1]).max() <= 1


@pytest.mark.parametrize("shape", [(1, 1), (1, 300), (3, 2), (5, 70), (70, 5), (33, 257)])
def test_any_size(shape: tuple[int, int]) -> None:
    codes = np.random.default_rng(2).integers(0, 65536, (*shape, 3)).astype(np.uint16)
    out = run(plan(), codes)
    assert out.shape == codes.shape
    assert np.array_equal(out, run(plan(), codes, 2))


def test_a_kept_table_gives_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path))
    codes = photograph()
    first = run(plan(), codes)
    again = replace(plan())
    assert np.array_equal(run(again, codes), first)
    assert any(p.name.endswith(".arrays") for p in tmp_path.iterdir())
    copy = pickle.loads(pickle.dumps(again.pixels(ArrayPixels(codes))))
    out = np.empty_like(codes)
    copy.read(0, out)
    assert np.array_equal(out, first)


def test_single_colours_are_fitted_pointwise() -> None:
    pipe = pipeline(paper="cotton-rag", room="evening-sitting-room")
    colours = np.random.default_rng(3).random((50, 3)).astype(np.float32)
    flat = replace(plan(), steps=plan().flat.steps)
    assert GamutFit(detail=0.0) in flat.steps.items or any(
        isinstance(s, GamutFit) and s.detail == 0 for s in flat.steps
    )
    got = pipe.apply(colours, profile="sRGB")
    values = colours[None].copy()
    flat.engine.apply_values(values)
    assert np.allclose(got, values[0], atol=1e-6)
