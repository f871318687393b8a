"""The compiled table against exact evaluation; CIEDE2000 by scikit-image."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000

from printprep.colour.icc import lab_from_device
from printprep.colour.profile import Profile
from printprep.compose import pipeline
from printprep.render import plan as plan_module
from printprep.render.plan import Plan
from printprep.render.table import Table, grey_curve, source_axis
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
    plan.engine.apply(got)
    error = deltaE_ciede2000(exact, lab_from_device(got[0].astype(np.float64), profile))
    worst = int(np.argmax(error))
    record_property("worst", f"{error[worst]:.2f} at {lab_from_device(rgb[worst].astype(float), profile).round(1)}")
    assert error.mean() <= 0.04
    assert np.quantile(error, 0.999) <= (0.75 if space == "ROMM RGB" else 0.5)  # its imaginary colours next to white
    greys = np.repeat(np.linspace(0, 1, 4001, dtype=np.float32)[None, :, None], 3, axis=2)
    exact_greys = lab_from_device(plan.chain(greys).astype(np.float64), profile)
    plan.engine.apply(greys := np.ascontiguousarray(greys))
    assert deltaE_ciede2000(exact_greys, lab_from_device(greys.astype(np.float64), profile)).max() <= 0.1


def test_codes_of_a_grey_ramp_never_fall() -> None:
    for profile in SPACES.values():
        plan = pipeline(paper="cotton-rag", room="evening-sitting-room").plan(profile)
        ramp = np.ascontiguousarray(np.repeat(np.arange(65536, dtype=np.uint16)[None, :, None], 3, axis=2))
        plan.engine.apply(ramp)
        assert (np.diff(ramp[0].astype(int), axis=0) >= 0).all()


def test_only_tables_that_need_shapers_have_them() -> None:
    def shaped(space: str, paper: str, room: str) -> tuple[bool, bool]:
        _, shaper, steep = source_axis(pipeline(paper=paper, room=room).plan(SPACES[space]).flat.chain)
        return shaper is not None, steep

    for space in ("sRGB", "opRGB", "ROMM RGB"):
        assert shaped(space, "gloss", "viewing-booth") == (False, False)
    assert shaped("sRGB", "canvas", "evening-sitting-room") == (False, False)
    assert shaped("ROMM RGB", "gloss", "evening-sitting-room") == (True, False)
    assert shaped("linear", "gloss", "viewing-booth") == (True, True)


@pytest.mark.parametrize("paper", ["canvas", "plain-uncoated"])
def test_greys_of_the_darkest_lifts_are_right_too(paper: str) -> None:
    profile = SPACES["sRGB"]  # its straight foot ends between two nodes
    plan = pipeline(paper=paper, room="evening-sitting-room").plan(profile).flat
    greys = np.repeat(np.linspace(0, 1, 4001, dtype=np.float32)[:, None], 3, axis=1)
    plan.engine.apply(got := greys[None].copy())
    exact = lab_from_device(plan.chain(greys).astype(np.float64), profile)
    assert deltaE_ciede2000(exact, lab_from_device(got[0].astype(np.float64), profile)).max() <= 0.1


def test_a_plan_finds_its_table_again_and_survives_damage(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pipe = pipeline(paper="gloss", room="hallway")
    profile = SPACES["linear"]
    first = Plan(profile, pipe.conditions(profile), pipe.steps, 9)
    made = first.table
    again = replace(first)
    with monkeypatch.context() as patch:
        patch.setattr(plan_module, "compile_table", None)  # it must not be needed
        found = again.table
    for one, other in zip(made.arrays(), found.arrays(), strict=True):
        assert np.array_equal(one, other)
    (tmp_path / "tables" / f"{first.fingerprint}.arrays").write_bytes(b"not a table")
    assert np.array_equal(replace(first).table.cube, made.cube)


def test_arrays_that_are_no_table_are_none() -> None:
    table = Table(np.zeros((3, 3, 3, 3), np.float32), np.linspace(0, 1, 65536, dtype=np.float32))
    parts = list(table.arrays())
    again = Table.of(parts)
    assert again is not None
    assert again.unshaper is None
    assert again.shaper is not None
    assert Table.of(None) is None
    assert Table.of(parts[:2]) is None
    assert Table.of([parts[0].astype(np.float64), *parts[1:]]) is None
    assert Table.of([parts[0][0], *parts[1:]]) is None
    assert Table.of([parts[0], parts[1][:9], parts[2]]) is None
