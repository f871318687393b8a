"""Files changed at random: read right or refused in one line, never anything else."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from printprep.errors import PrintprepError
from printprep.photo import read, ticket_text
from tests.support.metadata import rich
from tests.support.tiffs import picture, profile_bytes

STORED: list[dict[str, Any]] = [
    {"compression": "lzw", "predictor": True, "rowsperstrip": 5},
    {"compression": "zlib", "rowsperstrip": 5},
    {"compression": "zstd", "tile": (16, 16)},
    {"compression": "jpeg2000"},
    {"compression": "jpegxl"},
    {"bigtiff": True, "rowsperstrip": 3},
]
WORDS = [b"\0", b"\xff", b"\x80", b"\1", b"\0\0\0\0", b"\xff\xff\xff\xff", b"\0\0\0\x80", b"\0\0\1\0"]


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> list[bytes]:
    path = tmp_path_factory.mktemp("sound") / "a.tif"
    found = [rich(path, order, big=big).read_bytes() for order in "<>" for big in (False, True)]
    for options in STORED:
        tifffile.imwrite(path, picture(), photometric="rgb", iccprofile=profile_bytes(), metadata=None, **options)
        found.append(path.read_bytes())
    return found


edits = st.lists(st.tuples(st.integers(0, 1500), st.sampled_from(WORDS)), min_size=1, max_size=3)


@settings(max_examples=400, deadline=2000, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    which=st.integers(0, 9), at_end=edits,
    at_start=st.lists(st.tuples(st.integers(2, 15), st.sampled_from(WORDS)), max_size=1),
)  # fmt: skip
def test_mutated(
    tmp_path: Path, sound: list[bytes], which: int, at_end: list[tuple[int, bytes]], at_start: list[tuple[int, bytes]]
) -> None:
    data = bytearray(sound[which])
    for back, word in at_end:  # directories stand at the end
        place = max(8, len(data) - 1 - back)
        data[place : place + len(word)] = word
    for place, word in at_start:
        data[place : place + len(word)] = word
    path, out = tmp_path / "a.tif", tmp_path / "b.tif"
    path.write_bytes(data)
    try:
        photo = read(path)
        pixels = np.asarray(photo)
        replace(photo, ticket=lambda: "{}").write(out, overwrite=True)
    except PrintprepError as error:
        message = str(error)
    else:
        message = ""
    if message:
        assert message.isprintable()
        assert "; " in message
        return
    again = read(out)  # whatever was accepted gives a file that is sound in every part
    assert again.announcements == ()
    np.testing.assert_array_equal(again, pixels)
    np.testing.assert_array_equal(tifffile.imread(out).reshape(pixels.shape), pixels)
    assert ticket_text(out) == "{}"
