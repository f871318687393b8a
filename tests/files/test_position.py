"""Where a system cannot read and write by position, seeking under a lock gives the same; switched on here."""

from __future__ import annotations

import io
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

import printprep as pp
from printprep.files import limits, position
from printprep.files.source import InputFile
from tests.support.tiffs import picture


@pytest.fixture
def by_seeking(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(position, "BY_POSITION", False)
    for name in ("pread", "preadv", "pwrite"):
        monkeypatch.delattr(f"os.{name}")


def test_many_threads_read_their_own_places(tmp_path: Path, by_seeking: None) -> None:
    data = np.random.default_rng(0).bytes(1 << 20)
    (tmp_path / "a").write_bytes(data)
    file = InputFile(tmp_path / "a")

    def same(place: int) -> bool:
        into = bytearray(5000)
        file.read_into(memoryview(into), place)
        return file.read(place, 5000) == data[place : place + 5000] == into

    with ThreadPoolExecutor(8) as pool:
        assert all(pool.map(same, range(0, 1_000_000, 997)))


@pytest.mark.parametrize("compress", ["none", "deflate"])
def test_prepared_files_have_the_same_bytes(
    tmp_path: Path, compress: str, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest
) -> None:
    monkeypatch.setattr(limits, "BAND_BYTES", 6 * 150 * 8)  # many bands, so that threads meet
    pipe = pp.pipeline(paper="gloss", room="hallway")
    pp.Photo.from_array(picture(300, 150), "opRGB").write(tmp_path / "edit.tif", compress="lzw")
    pipe(pp.read(tmp_path / "edit.tif")).write(tmp_path / "usual.tif", compress=compress, threads=4)
    request.getfixturevalue("by_seeking")
    pipe(pp.read(tmp_path / "edit.tif")).write(tmp_path / "out.tif", compress=compress, threads=4)
    stream = io.BytesIO()
    pipe(pp.read(tmp_path / "edit.tif")).write(stream, compress=compress, threads=4)
    assert (tmp_path / "out.tif").read_bytes() == (tmp_path / "usual.tif").read_bytes() == stream.getvalue()
