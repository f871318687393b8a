"""Checks refuse what they cannot use by its name, before any work, in one line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import printprep as pp
from printprep.errors import ParameterError, PrintprepError
from printprep.targets.screen import write_check

PHOTO = pp.Photo.from_array(np.zeros((8, 8, 3), np.uint16), "sRGB")
ANY: Any = pp
"""The same functions, for calls that a type checker refuses."""


def pipe() -> pp.Pipeline:
    return pp.pipeline(paper="gloss")


CALLS: list[tuple[Callable[[], object], str]] = [
    (lambda: ANY.proof(PHOTO, pipe(), side=0), r"side = 0: must be a whole number, 16 to 16384 \(pixels\)"),
    (lambda: ANY.proof(PHOTO, pipe(), side=-5), "side = -5"),
    (lambda: ANY.proof(PHOTO, pipe(), side=99.5), "side = 99.5"),
    (lambda: ANY.proof(PHOTO, pipe(), side="9"), "side = '9'"),
    (lambda: ANY.proof("a.tif", pipe()), "photo = 'a.tif': must be a Photo; printprep.read opens one"),
    (lambda: ANY.proof(PHOTO, "gloss"), "pipe = 'gloss': must be a Pipeline; printprep.pipeline makes one"),
    (lambda: ANY.proof(PHOTO, pipe(), screen=5), "profile = 5"),
    (lambda: ANY.proof(PHOTO, pipe(), threads="all"), "threads = 'all'"),
    (lambda: ANY.loss(np.zeros((4, 4, 3), np.uint16), pipe()), "photo = .*: must be a Photo"),
    (lambda: ANY.loss(PHOTO, "gloss"), "pipe = 'gloss'"),
    (lambda: ANY.report("a.tif", pipe()), "photo = 'a.tif'"),
    (lambda: ANY.report(PHOTO, pp.paper("gloss")), "pipe = "),
    (lambda: ANY.rank("a.tif", pipe()), "pictures = 'a.tif': must be a list of paths or Photos; put a single one"),
    (lambda: ANY.rank(Path("a.tif"), pipe()), "pictures = "),
    (lambda: ANY.rank(PHOTO, pipe()), "pictures = "),
    (lambda: ANY.rank(None, pipe()), "pictures = None"),
    (lambda: ANY.rank([5], pipe()), "pictures = 5: must hold paths and Photos only"),
    (lambda: ANY.rank(["a.tif"], "gloss"), "pipe = 'gloss'"),
    (lambda: ANY.compare(PHOTO, []), r"papers = \[\]: must name one paper at least"),
    (lambda: ANY.compare(PHOTO, "gloss"), "papers = 'gloss': must be a list"),
    (lambda: ANY.compare(PHOTO, pipe()), "papers = "),
    (lambda: ANY.compare(PHOTO, [5]), "paper = 5"),
    (lambda: ANY.compare(PHOTO, ["gloss"], room=80), "room = 80: .*; write lux=80"),
    (lambda: ANY.compare(PHOTO, ["gloss"], side=1), "side = 1"),
    (lambda: ANY.compare("a.tif", ["gloss"]), "photo = 'a.tif'"),
    (lambda: ANY.target(None), "path = None: must be the path of a file"),
    (lambda: ANY.target("t.tif", sheet=4), "sheet = 4"),
    (lambda: ANY.target("t.tif", paper=5), "paper = 5"),
    (lambda: ANY.target("t.tif", ppi="fine"), "ppi = 'fine'"),
    (lambda: ANY.screen(5, "lux=50"), "paper = 5"),
    (lambda: ANY.screen("gloss", 50), "room = 50: .*; write lux=50"),
    (lambda: write_check(None), "path = None"),  # type: ignore[arg-type]
    (lambda: ANY.room(80), "room = 80: .*; write lux=80"),
    (lambda: pipe().apply(np.zeros((2, 2, 3), np.uint8), None), "profile = None"),  # type: ignore[call-overload]
    (lambda: pipe().plan(None), "profile = None"),  # type: ignore[arg-type]
    (lambda: pp.Pipeline([], paper=pp.Room()), "paper = "),  # type: ignore[arg-type]
    (lambda: pp.Pipeline([], paper=pp.paper("gloss"), room=pp.paper("gloss")), "room = "),  # type: ignore[arg-type]
    (lambda: pp.pipeline(paper=pp.Room()), "paper = "),  # type: ignore[arg-type]
    (lambda: pp.pipeline(paper="gloss", settings={"shadow-lift": 1}), "settings = 'shadow-lift': must have keys"),
    (lambda: pp.pipeline(paper="gloss", settings={"shadow-lift.strength": 9}), "shadow-lift.strength = 9: "),
]


@pytest.mark.parametrize("number", range(len(CALLS)))
def test_refused_by_name(number: int) -> None:
    call, words = CALLS[number]
    with pytest.raises(ParameterError, match=words) as caught:
        call()
    text = str(caught.value)
    assert "\n" not in text
    assert "--" not in text


def test_nothing_is_written_to_no_path() -> None:
    shown = pp.proof(PHOTO, pipe(), side=16)
    for write in (shown.write, pp.rank([PHOTO], pipe()).write):
        with pytest.raises(ParameterError, match="path = None"):
            write(None)  # type: ignore[arg-type]


def test_an_unknown_setting_is_named_without_an_option() -> None:
    with pytest.raises(PrintprepError, match=r"^shadow-lift: 'strenght': unknown key; did you mean strength\?$"):
        pp.pipeline(paper="gloss", settings={"shadow-lift.strenght": 0.5})


def test_a_broken_plug_in_is_no_attribute(monkeypatch: pytest.MonkeyPatch) -> None:
    from printprep.adjust import _registry

    def broken(name: str) -> type[pp.Adjustment]:
        raise PrintprepError("cannot be loaded", where="'broken'", do="update it")

    monkeypatch.setattr(_registry, "names", lambda: ["broken"])
    monkeypatch.setattr(_registry, "adjustment", broken)
    assert not hasattr(pp, "Broken")
    with pytest.raises(AttributeError, match="cannot be loaded"):
        ANY.Broken  # noqa: B018
