"""What is of another kind than asked is refused by name, at the call, not deep below."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import printprep
from printprep.errors import ParameterError

COTTON: Any = "cotton-rag"


def a_pipe() -> printprep.Pipeline:
    return printprep.pipeline(paper="gloss")


@pytest.mark.parametrize(
    ("call", "names"),
    [
        (lambda: printprep.pipeline(preset=5), "preset"),  # type: ignore[arg-type]
        (lambda: printprep.pipeline(paper=COTTON, settings=[1]), "settings"),  # type: ignore[arg-type]
        (lambda: printprep.pipeline(paper=COTTON, settings={1: 2}), "settings"),  # type: ignore[dict-item]
        (lambda: printprep.Pipeline([1], paper=printprep.paper("gloss")), "steps"),  # type: ignore[list-item]
        (lambda: printprep.Pipeline([], paper=COTTON), "paper"),
        (lambda: printprep.pipeline(paper=COTTON)("edit.tif"), "photo"),  # type: ignore[arg-type]
        (lambda: printprep.pipeline(paper=COTTON, hand_over=np.zeros(3)), "hand_over"),  # type: ignore[arg-type]
        (lambda: list(printprep.prepare_many("edit.tif", paper=COTTON, out_dir=".")), "paths"),
        (lambda: printprep.prepare_many(["edit.tif"], ".", pipe="x"), "pipe"),  # type: ignore[arg-type]
        (lambda: printprep.prepare("edit.tif", "out.tif", COTTON), "pipe"),
        (lambda: printprep.prepare(BytesIO(b"II"), "out.tif", a_pipe()), r"path.*pipe\(printprep.read\(file\)\).write"),  # type: ignore[arg-type]
        (lambda: printprep.prepare("memory://edit.tif", "out.tif", a_pipe()), "path = .*on this disk"),
        (lambda: printprep.prepare("edit.tif", "memory://out.tif", a_pipe()), "output = .*on this disk"),
        (lambda: printprep.prepare("edit.tif", "out.tif", a_pipe(), progress=5), "progress"),  # type: ignore[arg-type]
        (lambda: printprep.prepare("edit.tif", "out.tif", a_pipe(), overwrite=np.zeros(3)), "overwrite"),  # type: ignore[arg-type]
        (lambda: list(printprep.prepare_many([BytesIO()], ".", pipe=a_pipe())), "paths.*on this disk"),  # type: ignore[list-item]
        (lambda: printprep.read("edit.tif", max_pixels=None), "max_pixels"),  # type: ignore[arg-type]
        (lambda: printprep.pipeline(paper=COTTON, strength=""), "strength"),  # type: ignore[arg-type]
        (lambda: printprep.pipeline(paper=COTTON, strength=10**400), "strength"),
        (lambda: printprep.Pipeline(None, paper=printprep.paper("gloss")), "steps"),  # type: ignore[arg-type]
        (lambda: a_pipe().apply(np.zeros((4, 4, 3)), "sRGB", at=None), "at"),  # type: ignore[call-overload]
        (lambda: a_pipe().with_strength(0.5, 5), "key"),  # type: ignore[arg-type]
        (lambda: printprep.rank(np.array(5), a_pipe()), "pictures"),
        (lambda: printprep.presets(np.zeros(3)), "kind"),  # type: ignore[arg-type]
        (lambda: printprep.Profile.named(None), "name"),  # type: ignore[arg-type]
        (lambda: printprep.Photo.from_array(np.zeros((4, 4, 3)), "sRGB", ppi=None), "ppi"),  # type: ignore[arg-type]
        (lambda: printprep.Room(surround="\ud800"), "surround"),  # type: ignore[arg-type]
        (lambda: printprep.read(5), "path"),  # type: ignore[arg-type]
        (lambda: printprep.Paper.from_measurement(3), "path"),  # type: ignore[arg-type]
    ],
)
def test_refused_by_name(call: Callable[[], object], names: str) -> None:
    with pytest.raises(ParameterError, match=names) as caught:
        call()
    assert "\n" not in str(caught.value)


def test_a_compression_of_another_kind(tmp_path: Path) -> None:
    photo = printprep.Photo.from_array(np.zeros((4, 4, 3), np.uint16), "sRGB")
    with pytest.raises(ParameterError, match="compress"):
        photo.write(tmp_path / "out.tif", compress=7)  # type: ignore[arg-type]
    assert not list(tmp_path.iterdir())
