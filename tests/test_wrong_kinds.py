"""What is of another kind than asked is refused by name, at the call, not deep below."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import printprep
from printprep.errors import ParameterError

COTTON: Any = "cotton-rag"


@pytest.mark.parametrize(
    ("call", "names"),
    [
        (lambda: printprep.pipeline(preset=5), "preset"),  # type: ignore[arg-type]
        (lambda: printprep.pipeline(paper=COTTON, settings=[1]), "settings"),  # type: ignore[arg-type]
        (lambda: printprep.pipeline(paper=COTTON, settings={1: 2}), "settings"),  # type: ignore[dict-item]
        (lambda: printprep.Pipeline([1], paper=COTTON), "steps"),  # type: ignore[list-item]
        (lambda: printprep.Pipeline([], paper=COTTON), "paper"),
        (lambda: printprep.pipeline(paper=COTTON)("edit.tif"), "photo"),  # type: ignore[arg-type]
        (lambda: printprep.pipeline(paper=COTTON, hand_over=np.zeros(3)), "hand_over"),  # type: ignore[arg-type]
        (lambda: list(printprep.prepare_many("edit.tif", paper=COTTON, out_dir=".")), "paths"),
        (lambda: printprep.prepare_many(["edit.tif"], ".", pipe="x"), "pipe"),  # type: ignore[arg-type]
        (lambda: printprep.prepare("edit.tif", "out.tif", COTTON), "pipe"),
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
