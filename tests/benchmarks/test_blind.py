"""Sheets for judging blind: the order tells nothing, the key is elsewhere, and votes are counted by it."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np
import pytest

import printprep as pp
from benchmarks import blind


def test_every_case_is_there_once_and_sides_are_even() -> None:
    sheets = list(blind.shuffled(list(blind.PICTURES), 1))
    assert len(sheets) == 48 and [s.number for s in sheets] == list(range(1, 49))
    assert len({(s.picture, s.paper, s.room) for s in sheets}) == 48
    assert sum(s.prepared == "left" for s in sheets) == 24
    assert sheets == list(blind.shuffled(list(blind.PICTURES), 1)) != list(blind.shuffled(list(blind.PICTURES), 2))
    assert [pp.room(name).illuminance_lux for name in blind.ROOMS] == [500, 50]
    assert [pp.paper(name).surface for name in blind.PAPERS] == ["matte", "gloss"]


def test_sides_are_as_the_key_says() -> None:
    """Where the sides change places so do the pictures, and nothing else on the sheet changes."""
    picture = blind.edit("three heads", 60)
    assert picture is not None
    one, other = (
        blind.drawn(blind.Sheet(1, "three heads", "cotton-rag", "evening-sitting-room", side), picture).astype(int)
        for side in ("left", "right")
    )
    pipe = pp.pipeline(paper="cotton-rag", room="evening-sitting-room")
    left_alone = blind.on_the_wall(picture, pipe)
    rows, columns = np.nonzero(np.abs(one - other).sum(axis=-1))
    assert len(rows) > 1000
    half = one.shape[1] // 2
    assert columns.min() < half < columns.max()

    def holds(part: np.ndarray) -> bool:
        high, wide = left_alone.shape[:2]
        windows = np.lib.stride_tricks.sliding_window_view(part, (high, wide, 3))
        return any(np.array_equal(window[0], left_alone) for row in windows for window in row)

    assert holds(one[:, half:]) and not holds(one[:, :half])
    assert holds(other[:, :half]) and not holds(other[:, half:])


def test_the_key_stays_out_of_the_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(blind, "PICTURES", {"three heads": ""})
    monkeypatch.setattr(blind, "PAPERS", ("gloss",))
    monkeypatch.setattr(sys, "argv", ["blind", str(tmp_path / "sheets"), "--side", "60"])
    blind.main()
    assert sorted(path.name for path in (tmp_path / "sheets").iterdir()) == ["01.png", "02.png"]
    with (tmp_path / "sheets.key.csv").open(newline="") as file:
        key = list(csv.DictReader(file))
    assert {row["room"] for row in key} == set(blind.ROOMS)
    for path in (tmp_path / "sheets").iterdir():
        data = path.read_bytes()
        assert not any(word in data for word in (b"prepared", b"heads", b"gloss"))


def test_votes_are_counted_by_the_key(tmp_path: Path) -> None:
    key, votes = tmp_path / "key.csv", tmp_path / "votes.txt"
    key.write_text(
        "number,picture,paper,room,prepared\n1,a,gloss,x,left\n2,b,gloss,x,right\n3,c,gloss,x,left\n4,d,gloss,x,left\n"
    )
    votes.write_text("1, left\n2, left clearly\n3, equal\n")
    assert blind.count(votes, key).splitlines() == [
        "lost: 2, b, gloss, x: left clearly", "prepared 1, equal 1, left alone 1; not judged 1",
    ]  # fmt: skip
    votes.write_text("1, both\n")
    with pytest.raises(SystemExit, match="names no side"):
        blind.count(votes, key)
