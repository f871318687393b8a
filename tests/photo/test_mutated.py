"""Files changed at random: read right or refused in one line, never anything else."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from printprep.errors import PrintprepError
from printprep.photo.metadata import ticket_text
from printprep.photo.read import read
from tests.support.damage import SOUND, WORDS, sound_files
from tests.support.effort import cases


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> list[bytes]:
    return sound_files(tmp_path_factory.mktemp("sound"))


edits = st.lists(st.tuples(st.integers(0, 1500), st.sampled_from(WORDS)), min_size=1, max_size=3)


@settings(max_examples=cases(400), deadline=2000, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    which=st.integers(0, SOUND - 1), at_end=edits,
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
