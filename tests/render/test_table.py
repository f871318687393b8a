"""The compiled table against exact evaluation; CIEDE2000 by scikit-image."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000

from printprep.colour.icc import lab_from_device
from printprep.compose import pipeline
from printprep.photo.profile import Profile
from printprep.render import cache
from printprep.render.table import Table, compile_table, grey_curve
from tests.support.spaces import linear_profile

SPACES = {name: Profile.named(name).data for name in ("sRGB", "opRGB", "ROMM RGB")} | {"linear": linear_profile()}


@pytest.fixture(autouse=True)
def no_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "tables"))


def dense(profile: bytes, count: int = 60_000) -> NDArray[np.float32]:
    """A dense sample of a source space, even in its shaped codes (as pictures are, roughly)."""
    coordinates = np.random.default_rng(5).random((count, 3))
    return np.interp(coordinates, grey_curve(profile), np.linspace(0, 1, 65536)).astype(np.float32)


@pytest.mark.parametrize("paper", ["cotton-rag", "gloss"])
@pytest.mark.parametrize("space", sorted(SPACES))
def test_table_is_as_good_as_exact(space: str, paper: str, record_property: Callable[[str, object], None]) -> None:
    profile = SPACES[space]
    plan = pipeline(paper=paper, room="evening-sitting-room").plan(profile)
    rgb = dense(profile)
    exact = lab_from_device(plan.chain(rgb).astype(np.float64), profile)
    got = rgb[None].copy()
    plan.engine.apply_values(got)
    error = deltaE_ciede2000(exact, lab_from_device(got[0].astype(np.float64), profile))
    worst = int(np.argmax(error))
    record_property("worst", f"{error[worst]:.2f} at {lab_from_device(rgb[worst].astype(float), profile).round(1)}")
    assert error.mean() <= 0.04
    assert np.quantile(error, 0.999) <= 0.5
    greys = np.repeat(np.linspace(0, 1, 4001, dtype=np.float32)[None, :, None], 3, axis=2)
    exact_greys = lab_from_device(plan.chain(greys).astype(np.float64), profile)
    plan.engine.apply_values(greys := np.ascontiguousarray(greys))
    assert deltaE_ciede2000(exact_greys, lab_from_device(greys.astype(np.float64), profile)).max() <= 0.1


def test_codes_of_a_grey_ramp_never_fall() -> None:
    for profile in SPACES.values():
        plan = pipeline(paper="cotton-rag", room="evening-sitting-room").plan(profile)
        ramp = np.ascontiguousarray(np.repeat(np.arange(65536, dtype=np.uint16)[None, :, None], 3, axis=2))
        plan.engine.apply(ramp)
        assert (np.diff(ramp[0].astype(int), axis=0) >= 0).all()


def test_linear_profiles_are_interpolated_in_lightness() -> None:
    on = pipeline(paper="gloss", room="viewing-booth")
    assert compile_table(on.plan(SPACES["linear"]).chain, 5).unshaper is not None
    assert compile_table(on.plan(SPACES["sRGB"]).chain, 5).unshaper is None


def test_cache_returns_what_was_kept_and_survives_damage(tmp_path: Path) -> None:
    table = Table(np.linspace(0, 1, 65536, dtype=np.float32), np.zeros((3, 3, 3, 3), np.float32))
    assert cache.load("k") is None
    cache.keep("k", table)
    again = cache.load("k")
    assert again is not None
    assert np.array_equal(again.cube, table.cube)
    assert again.unshaper is None
    (tmp_path / "tables" / "k.npz").write_bytes(b"not a table")
    assert cache.load("k") is None


def test_cache_keeps_only_so_many(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(cache, "_KEPT", 2)
    table = Table(np.linspace(0, 1, 65536, dtype=np.float32), np.zeros((2, 2, 2, 3), np.float32))
    for key in "abc":
        cache.keep(key, table)
    assert len(list((tmp_path / "tables").iterdir())) == 2


def test_an_unwritable_cache_is_no_error(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "file" / "cache"))
    cache.keep("k", Table(np.linspace(0, 1, 65536, dtype=np.float32), np.zeros((2, 2, 2, 3), np.float32)))
    assert cache.load("k") is None
