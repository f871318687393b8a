"""Papers and rooms by what people type for them."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import printprep as pp
from printprep.errors import ParameterError, UnknownName


@pytest.mark.parametrize(
    ("room", "says"),
    [
        ("85", "lux=85"),
        ("85lx", "lux=85"),
        (" 85.5 Lux ", "lux=85.5"),
        ("85,5", "lux=85.5"),
        (80, "lux=80"),
        (80.5, "lux=80.5"),
    ],
)
def test_a_bare_light_is_told_how_it_is_written(room: Any, says: str) -> None:
    with pytest.raises(ParameterError, match=rf"room = .*; write {re.escape(says)}$"):
        pp.room(room)
    assert pp.room(says).illuminance_lux == float(says[4:])


@pytest.mark.parametrize("name", ["Cotton-Rag", "COTTON-RAG", "cotton-rag"])
def test_names_are_found_in_any_case(name: str) -> None:
    pipe = pp.pipeline(paper=name, room="Viewing-Booth")
    assert pipe == pp.pipeline(paper="cotton-rag", room="viewing-booth")
    assert (pipe.paper_name, pipe.room_name) == ("cotton-rag", "viewing-booth")


def test_the_exact_spelling_comes_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRINTPREP_PRESETS", str(tmp_path))
    (tmp_path / "rooms").mkdir()
    for name, lux in (("HALL", 20), ("Hall", 30), ("85", 85)):
        (tmp_path / "rooms" / f"{name}.toml").write_text(f"[room]\nilluminance_lux = {lux}.0\n")
    assert [pp.room(n).illuminance_lux for n in ("HALL", "Hall", "hall", "85")] == [20, 30, 20, 85]
    with pytest.raises(UnknownName, match=r"did you mean Hall\?|did you mean HALL\?"):
        pp.room("hal")


@pytest.mark.parametrize("wrong", [None, 5, b"gloss", ["gloss"], np.zeros(3)])
def test_what_names_no_paper_or_room_is_refused_by_name(wrong: Any) -> None:
    with pytest.raises(ParameterError, match=r"^paper = "):
        pp.paper(wrong)
    with pytest.raises(ParameterError, match=r"^room = "):
        pp.room(wrong)
