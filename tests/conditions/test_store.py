from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from printprep.colour.solid import HUES, LEVELS, Solid
from printprep.conditions import _store
from printprep.presets import load


@pytest.fixture(autouse=True)
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "kept"))
    return tmp_path / "kept"


def test_arrays_come_back_as_they_were_kept(place: Path) -> None:
    arrays: list[NDArray[Any]] = [np.ones((3, 4), np.float32), np.empty(0, np.uint16), np.array([1.5])]
    assert _store.load("k") is None
    _store.keep("k", *arrays)
    again = _store.load("k")
    assert again is not None
    assert [a.dtype for a in again] == [a.dtype for a in arrays]
    assert all(np.array_equal(one, other) for one, other in zip(again, arrays, strict=True))
    assert [p.name for p in place.iterdir()] == ["k.arrays"]


@pytest.mark.parametrize("change", ["cut", "bit", "empty", "text"])
def test_damage_counts_as_nothing_kept(place: Path, change: str) -> None:
    _store.keep("k", np.arange(1000.0))
    file = place / "k.arrays"
    data = bytearray(file.read_bytes())
    data[500] ^= 1
    file.write_bytes({"cut": bytes(data[:-1]), "bit": bytes(data), "empty": b"", "text": b"not arrays" * 9}[change])
    assert _store.load("k") is None


def test_the_longest_unused_go_first(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_store, "_LIMIT", 20_000)
    for key in "ab":
        _store.keep(key, np.zeros(1000))
    (place / "stranger").write_text("not ours")
    assert _store.load("a") is not None  # now "b" is the longest unused
    _store.keep("c", np.zeros(1000))
    assert sorted(p.name for p in place.iterdir()) == ["a.arrays", "c.arrays", "stranger"]


def test_an_unwritable_place_is_no_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "file" / "cache"))
    _store.keep("k", np.zeros(3))
    assert _store.load("k") is None


def test_a_solid_is_made_once(place: Path) -> None:
    made = Solid(np.full((LEVELS, HUES), 40.0), 12.0, 100.0, 11.0)
    assert _store.solid("one", lambda: made) == made

    def never() -> Solid:
        raise AssertionError("it was kept")

    assert _store.solid("one", never) == made
    for file in place.iterdir():
        file.write_bytes(b"damaged")
    assert _store.solid("one", lambda: made) == made


def test_a_paper_finds_its_solid_again(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = load("cotton-rag", "paper").paper
    again = load("cotton-rag", "paper").paper
    other = load("gloss", "paper").paper
    assert first is not None and again is not None and other is not None
    solid = first.solid
    monkeypatch.setattr(type(again), "_made_solid", None)  # it must not be needed
    assert again.solid == solid
    with pytest.raises(TypeError):
        other.solid  # noqa: B018  (another paper's must be made)
