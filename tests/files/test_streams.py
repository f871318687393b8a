"""Files that are not on this disk keep the promises of those that are, or say which they cannot."""

from __future__ import annotations

import copy
import io
import os
import pickle
import sys
import tarfile
import zipfile
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import fsspec
import numpy as np
import pytest
import tifffile
from fsspec.implementations.memory import MemoryFileSystem
from PIL import Image

import printprep as pp
from printprep.colour.profile import Profile
from printprep.errors import InputError, OutputError, OutsideError, ParameterError, PrintprepError
from printprep.photo.metadata import Metadata
from printprep.photo.tiff.directory import Entry
from tests.support.tiffs import picture


@pytest.fixture(autouse=True)
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("TMPDIR", str(tmp_path / "spool"))
    monkeypatch.setattr("tempfile.tempdir", None)
    (tmp_path / "spool").mkdir()
    MemoryFileSystem.store.clear()
    MemoryFileSystem.pseudo_dirs[:] = [""]
    yield
    OPEN.close()
    assert not list((tmp_path / "spool").iterdir())  # nothing stays behind, whatever happened


@pytest.fixture
def edit(tmp_path: Path) -> Path:
    text = Entry(315, 2, 8, b"A. Name\0")
    photo = pp.Photo.from_array(picture(70, 50), "opRGB", ppi=240, metadata=Metadata(tags=(text,)))
    photo.write(tmp_path / "edit.tif", compress="deflate")
    return tmp_path / "edit.tif"


OPEN = ExitStack()


def ways(edit: Path) -> dict[str, Any]:
    data = edit.read_bytes()
    fsspec.filesystem("memory").pipe_file("/shop/edit.tif", data)
    with zipfile.ZipFile(edit.with_suffix(".zip"), "w", zipfile.ZIP_DEFLATED) as archive:
        archive.write(edit, "a/edit.tif")
    return {
        "BytesIO": io.BytesIO(data),
        "open": OPEN.enter_context(edit.open("rb")),
        "raw": OPEN.enter_context(edit.open("rb", buffering=0)),
        "place": "memory://shop/edit.tif",
        "chained": f"zip://a/edit.tif::{edit.with_suffix('.zip')}",
        "file://": f"file://{edit}",
        "OpenFile": fsspec.open("memory://shop/edit.tif", "rb"),
        "fsspec file": fsspec.filesystem("memory").open("/shop/edit.tif", "rb"),
        "zip member": OPEN.enter_context(zipfile.ZipFile(edit.with_suffix(".zip"))).open("a/edit.tif"),
    }


NAMES = ("BytesIO", "open", "raw", "place", "chained", "file://", "OpenFile", "fsspec file", "zip member")


@pytest.mark.parametrize("way", NAMES)
def test_the_same_picture_whatever_it_is_read_from(edit: Path, way: str) -> None:
    usual = pp.read(edit)
    source = ways(edit)[way]
    if hasattr(source, "seek"):
        source.seek(7)
    photo = pp.read(source)
    assert np.array_equal(photo, np.asarray(usual))
    assert (photo.profile, photo.metadata, photo.resolution) == (usual.profile, usual.metadata, usual.resolution)
    assert (photo.announcements, photo.compression) == (usual.announcements, usual.compression)
    if hasattr(source, "seek"):
        assert source.tell() == 7  # the caller's own position


@pytest.mark.parametrize("way", ["BytesIO", "open", "memory", "OpenFile", "file://"])
def test_the_same_bytes_whatever_it_is_written_to(edit: Path, tmp_path: Path, way: str) -> None:
    pipe = pp.pipeline(paper="gloss")
    pipe(pp.read(edit)).write(tmp_path / "usual.tif")
    usual = (tmp_path / "usual.tif").read_bytes()
    photo, out = pipe(pp.read(edit)), tmp_path / "out.tif"
    path: Path | str | None
    if way == "BytesIO":
        stream = io.BytesIO()
        done = photo.write(stream)
        written, path = stream.getvalue(), None
    elif way == "open":
        with out.open("wb") as file:
            done = photo.write(file)
        written, path = out.read_bytes(), out
    elif way == "file://":
        done, written, path = photo.write(f"file://{out}"), out.read_bytes(), f"file://{out}"
    else:
        name = "memory://shop/out.tif"
        done = photo.write(fsspec.open(name, "wb") if way == "OpenFile" else name)
        written = fsspec.filesystem("memory").cat_file("/shop/out.tif")
        path = "/shop/out.tif" if way == "OpenFile" else name
    assert written == usual
    assert (done.path, done.size) == (path, len(usual))
    assert pp.read_ticket(io.BytesIO(written)).paper["name"] == "gloss"
    assert np.array_equal(tifffile.imread(io.BytesIO(written)), tifffile.imread(tmp_path / "usual.tif"))


def test_a_picture_is_written_from_the_position_on(edit: Path, tmp_path: Path) -> None:
    stream = io.BytesIO(b"head")
    stream.seek(4)
    pp.read(edit).write(stream)
    assert stream.getvalue() == b"head" + edit.read_bytes()
    with tarfile.open(tmp_path / "a.tar", "w") as archive:
        archive.add(edit, "edit.tif")
    with tarfile.open(tmp_path / "a.tar") as archive:
        member = archive.extractfile("edit.tif")
        assert member and np.array_equal(pp.read(member), pp.read(edit))


class Breaks(io.BytesIO):
    """Takes so many bytes, then fails as a full store would."""

    left = 5000

    def write(self, data: Any, /) -> int:
        self.left -= len(data)
        if self.left < 0:
            super().write(bytes(data)[:100])
            raise OSError(28, "No space left on device")
        return super().write(data)


def test_an_open_file_is_cut_where_handing_over_fails(edit: Path) -> None:
    stream = Breaks(b"before")
    stream.seek(0, 2)
    with pytest.raises(OutsideError, match="open file: cannot be written"):
        pp.read(edit).write(stream)
    assert stream.getvalue() == b"before"


def test_nothing_is_written_where_the_picture_fails(edit: Path) -> None:
    data = bytearray(edit.read_bytes())
    data[60:400] = bytes(340)  # within the first strip
    stream = io.BytesIO(b"")
    with pytest.raises(InputError, match="damaged"):
        pp.read(io.BytesIO(bytes(data))).write(stream)
    with pytest.raises(InputError, match="damaged"):
        pp.read(io.BytesIO(bytes(data))).write("memory://shop/out.tif")
    assert stream.getvalue() == b""
    assert not fsspec.filesystem("memory").exists("/shop/out.tif")


def test_the_input_is_never_replaced(edit: Path) -> None:
    before = edit.read_bytes()
    given = ways(edit)
    stream = given["BytesIO"]
    with pytest.raises(OutputError, match="is the input itself"):
        pp.read(stream).write(stream)
    for source in (given["place"], given["OpenFile"]):
        with pytest.raises(OutputError, match="is the input itself"):
            pp.read(source).write("memory://shop/edit.tif", overwrite=True)
    for source in (given["open"], given["file://"]):
        with pytest.raises(OutputError, match="is the input itself"):
            pp.read(source).write(edit, overwrite=True)
    with edit.open("r+b") as file, pytest.raises(OutputError, match="is the input itself"):
        pp.read(edit).write(file)
    assert edit.read_bytes() == stream.getvalue() == before
    assert fsspec.filesystem("memory").cat_file("/shop/edit.tif") == before


def test_a_place_is_replaced_only_where_that_is_allowed(edit: Path) -> None:
    photo = pp.read(edit)
    fsspec.filesystem("memory").pipe_file("/shop/out.tif", b"precious")
    with pytest.raises(OutputError, match=r"'memory:///?shop/out.tif': exists already.*overwrite=True"):
        photo.write("memory://shop/out.tif")
    assert fsspec.filesystem("memory").cat_file("/shop/out.tif") == b"precious"
    photo.write("memory://shop/out.tif", overwrite=True)
    assert fsspec.filesystem("memory").cat_file("/shop/out.tif") == edit.read_bytes()
    with pytest.raises(OutputError, match="does not end in"):
        photo.write("memory://shop/out.png")


def test_copies(edit: Path) -> None:
    ways(edit)
    there = pickle.loads(pickle.dumps(pp.read("memory://shop/edit.tif")))
    assert np.array_equal(there, pp.read(edit))
    kept = pickle.dumps(pp.read("memory://shop/edit.tif"))
    fsspec.filesystem("memory").pipe_file("/shop/edit.tif", edit.read_bytes() + b" ")
    with pytest.raises(InputError, match="has changed since it was opened"):
        pickle.loads(kept)
    photo = pp.read(io.BytesIO(edit.read_bytes()))
    assert np.array_equal(copy.deepcopy(photo), pp.read(edit))
    with pytest.raises(InputError, match="cannot be sent elsewhere; read it by its name there"):
        pickle.dumps(photo)


def closed(edit: Path) -> io.BytesIO:
    stream = io.BytesIO(edit.read_bytes())
    stream.close()
    return stream


def test_what_cannot_be_read_is_refused_in_a_line(edit: Path, tmp_path: Path) -> None:
    end, other = os.pipe()
    os.close(other)
    cases: list[tuple[Any, type[PrintprepError], str]] = [
        (3, ParameterError, "must be the path of a file, or an open file"),
        (io.StringIO("text"), ParameterError, "must be open in binary mode"),
        (os.fdopen(end, "rb"), InputError, "cannot be read at any place; read it into io.BytesIO"),
        (closed(edit), InputError, "the file is closed; keep it open"),
        (io.BytesIO(b""), InputError, "open file"),
        (io.BytesIO(edit.read_bytes()[:-500]), InputError, "open file: "),
        ("memory://shop/none.tif", InputError, "'memory://.*shop/none.tif': does not exist; check the name"),
        ("nosuch://shop/none.tif", PrintprepError, "'nosuch://shop/none.tif': cannot be opened"),
    ]
    for source, kind, said in cases:
        with pytest.raises(kind, match=said) as caught:
            pp.read(source)
        assert "\n" not in str(caught.value)
    with (tmp_path / "w").open("wb") as file, pytest.raises(PrintprepError, match="cannot be read"):
        pp.read(file)
    cases[2][0].close()
    stream = io.BytesIO(edit.read_bytes())
    photo = pp.read(stream)
    stream.close()
    with pytest.raises(InputError, match="the file is closed"):
        np.asarray(photo)


def test_what_cannot_be_written_to_is_refused_in_a_line(edit: Path) -> None:
    photo = pp.read(edit)
    cases: list[tuple[Any, type[PrintprepError], str]] = [
        (3, ParameterError, "must be the path of a file, or an open file"),
        (io.StringIO(), ParameterError, "must be open in binary mode"),
        (closed(edit), PrintprepError, "the file is closed"),
        ("http://localhost:9/x.tif", PrintprepError, "cannot be"),
        (fsspec.open("memory://shop/x.tif", "rb"), ParameterError, "must be open for writing"),
        (fsspec.open("memory://shop/x.tif", "wb", compression="gzip"), ParameterError, "without compression"),
    ]
    for target, kind, said in cases:
        with pytest.raises(kind, match=said) as caught:
            photo.write(target)
        assert "\n" not in str(caught.value)


def test_without_fsspec_it_says_what_to_install(edit: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "fsspec.core", None)
    with pytest.raises(InputError, match=r"needs the package fsspec; install it: pip install 'printprep\[fsspec\]'"):
        pp.read("s3://shop/edit.tif")
    with pytest.raises(OutputError, match="needs the package fsspec"):
        pp.read(edit).write("s3://shop/edit.tif")


def test_from_array_takes_the_profile_of_a_pillow_image() -> None:
    image: Any = Image.fromarray((picture() >> 8).astype(np.uint8))
    assert pp.Photo.from_array(image).profile == Profile.named("sRGB")
    image.info["icc_profile"] = Profile.named("opRGB").data
    assert pp.Photo.from_array(image).profile.data == Profile.named("opRGB").data
    assert pp.Photo.from_array(image, "ROMM RGB").profile == Profile.named("ROMM RGB")
    image.info["icc_profile"] = b"no profile"
    with pytest.raises(InputError, match="no ICC profile"):
        pp.Photo.from_array(image)
