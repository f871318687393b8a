import errno
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from printprep.colour.solid import HUES, LEVELS, Solid, kept
from printprep.files import cache
from printprep.preset import load


@pytest.fixture(autouse=True)
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "kept"))
    return tmp_path / "kept"


def test_arrays_come_back_as_they_were_kept(place: Path) -> None:
    arrays: list[NDArray[Any]] = [np.ones((3, 4), np.float32), np.empty(0, np.uint16), np.array([1.5])]
    assert cache.load("k") is None
    cache.keep("k", *arrays)
    again = cache.load("k")
    assert again is not None
    assert [a.dtype for a in again] == [a.dtype for a in arrays]
    assert all(np.array_equal(one, other) for one, other in zip(again, arrays, strict=True))
    assert [p.name for p in place.iterdir()] == ["k.arrays"]


def test_any_damage_counts_as_nothing_kept(place: Path) -> None:
    """Cut anywhere, or with any one bit flipped."""
    cache.keep("k", np.arange(4, dtype=np.uint8), np.ones((1, 2), np.float32))
    file = place / "k.arrays"
    good = file.read_bytes()
    for length in range(len(good)):
        file.write_bytes(good[:length])
        assert cache.load("k") is None
    for i in range(len(good)):
        file.write_bytes(bytes([*good[:i], good[i] ^ 1 << i % 8, *good[i + 1 :]]))
        assert cache.load("k") is None
    for other in (b"not arrays" * 9, good + b"\0", good + good):
        file.write_bytes(other)
        assert cache.load("k") is None
    file.write_bytes(good)
    assert cache.load("k") is not None


def test_a_file_kept_for_another_key_or_by_another_format_is_none(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache.keep("one", np.zeros(3))
    (place / "one.arrays").rename(place / "two.arrays")
    assert cache.load("two") is None
    monkeypatch.setattr(cache, "_FORMAT", cache._FORMAT + 1)
    cache.keep("k", np.zeros(3))
    monkeypatch.undo()
    monkeypatch.setenv("PRINTPREP_CACHE", str(place))
    assert (place / "k.arrays").exists()
    assert cache.load("k") is None


@pytest.mark.parametrize("kind", ["folder", "pipe", "loop", "large"])
def test_what_is_no_kept_file_is_none(place: Path, kind: str) -> None:
    place.mkdir()
    file = place / "k.arrays"
    match kind:
        case "folder":
            file.mkdir()
        case "pipe":
            os.mkfifo(file)
        case "loop":
            file.symlink_to(file)
        case "large":
            with file.open("wb") as stream:
                stream.truncate(cache._LIMIT + 1)  # takes no room on the disk
    assert cache.load("k") is None


def test_a_place_that_can_only_be_read_serves_what_it_has(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache.keep("good", np.arange(3))
    cache.keep("bad", np.arange(3))
    (place / "bad.arrays").write_bytes(b"damaged")

    def refuse(*_: object, **__: object) -> None:
        raise OSError(errno.EROFS, "Read-only file system")

    for module, name in ((os, "utime"), (os, "replace"), (os, "unlink"), (Path, "mkdir"), (Path, "replace")):
        monkeypatch.setattr(module, name, refuse)
    found = cache.load("good")
    assert found is not None
    assert found[0].tolist() == [0, 1, 2]
    cache.keep("new", np.zeros(3))
    assert cache.load("new") is None
    assert cache.load("bad") is None


SHARED = """
import sys
import numpy as np
from printprep.files import cache
cache._LIMIT = 40_000  # some five files, so that they are tidied away all the time
rng = np.random.default_rng(int(sys.argv[1]))
found = 0
for _ in range(400):
    key = int(rng.integers(8))
    cache.keep(f"key-{key}", np.full(1000, key))
    key = int(rng.integers(8))
    arrays = cache.load(f"key-{key}")
    if arrays is not None:
        assert len(arrays) == 1 and (arrays[0] == key).all() and len(arrays[0]) == 1000
        found += 1
assert found
"""


def test_several_processes_share_a_place_and_one_is_killed(place: Path) -> None:
    running = [subprocess.Popen([sys.executable, "-c", SHARED, str(n)]) for n in range(4)]
    time.sleep(1)
    running[0].kill()
    assert [process.wait(120) for process in running[1:]] == [0, 0, 0]
    running[0].wait()
    for left in place.glob(".*.tmp"):  # the killed one's, an hour later
        os.utime(left, (1, 1))
    cache.keep("k", np.zeros(3))
    assert not list(place.glob(".*.tmp"))


def test_the_longest_unused_go_first(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cache, "_LIMIT", 20_000)
    for key in "ab":
        cache.keep(key, np.zeros(1000))
    (place / "stranger").write_text("not ours")
    assert cache.load("a") is not None  # now "b" is the longest unused
    cache.keep("c", np.zeros(1000))
    assert sorted(p.name for p in place.iterdir()) == ["a.arrays", "c.arrays", "stranger"]


def test_an_unwritable_place_is_no_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "file" / "cache"))
    cache.keep("k", np.zeros(3))
    assert cache.load("k") is None


def test_a_solid_is_made_once(place: Path) -> None:
    made = Solid(np.full((LEVELS, HUES), 40.0), 12.0, 100.0, 11.0)
    assert kept("one", lambda: made) == made

    def never() -> Solid:
        raise AssertionError("it was kept")

    assert kept("one", never) == made
    for file in place.iterdir():
        file.write_bytes(b"damaged")
    assert kept("one", lambda: made) == made


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


def test_what_was_made_once_is_found(place: Path) -> None:
    made: list[int] = []

    def make() -> tuple[NDArray[Any], ...]:
        made.append(1)
        return np.arange(5), np.eye(2)

    first, again = cache.made("five", make), cache.made("five", make)
    assert len(made) == 1
    assert [a.tolist() for a in first] == [a.tolist() for a in again] == [[0, 1, 2, 3, 4], [[1, 0], [0, 1]]]
    cache.made("six", make)
    assert len(made) == 2
