"""A whole, right file appears, or nothing changes: whatever stands there, whoever races, however it ends."""

from __future__ import annotations

import errno
import fcntl
import gc
import os
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from printprep.errors import InputError, OutputError, OutsideError
from printprep.files import limits
from printprep.files import sink as _sink
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.photo.write import write
from tests.support.tiffs import picture, tiff

COMPRESS = ["none", "zstd"]


@pytest.fixture
def photo(monkeypatch: pytest.MonkeyPatch) -> Photo:
    monkeypatch.setattr(limits, "STRIP_BYTES", 3000)  # ten rows: many strips in a small picture
    return Photo.from_array(picture(200, 50))


class Failing:
    """Pixels that fail on the way."""

    height, width = 200, 50

    def __init__(self, error: BaseException) -> None:
        self.error = error

    def read(self, top: int, out: NDArray[np.uint16]) -> None:
        out[:] = 0
        if top >= 100:
            raise self.error


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def test_an_existing_file_stays_without_consent(tmp_path: Path, photo: Photo) -> None:
    out = tmp_path / "out.tif"
    out.write_bytes(b"precious")
    with pytest.raises(OutputError, match=r"out\.tif': exists already; choose another name, or allow replacing it"):
        photo.write(out)
    assert out.read_bytes() == b"precious"
    photo.write(out, overwrite=True)
    np.testing.assert_array_equal(read(out), photo)
    assert names(tmp_path) == ["out.tif"]


@pytest.mark.parametrize("overwrite", [False, True])
def test_places_that_will_not_do(tmp_path: Path, photo: Photo, overwrite: bool) -> None:
    (tmp_path / "folder.tif").mkdir()
    os.mkfifo(tmp_path / "pipe.tif")
    (tmp_path / "to-pipe.tif").symlink_to("pipe.tif")
    (tmp_path / "to-folder.tif").symlink_to("folder.tif")
    (tmp_path / "file").write_bytes(b"")
    before = names(tmp_path)
    for name, what in {
        "folder.tif": "is a folder",
        "to-folder.tif": "is a folder",
        "pipe.tif": "is not a regular file",
        "to-pipe.tif": "is not a regular file",
        "none/out.tif": "its folder does not exist; make it first",
        "file/out.tif": "cannot be a file's name here",
        "out.png": "does not end in .tif or .tiff",
        "out": "does not end in .tif or .tiff",
        "x" * 300 + ".tif": "cannot be a file's name here",
        "a\0b.tif": "is no file name",
        "": "does not end in .tif or .tiff",
    }.items():
        with pytest.raises(OutputError, match=what) as caught:
            photo.write(str(tmp_path / name) if name else "", overwrite=overwrite)
        assert str(caught.value).isprintable()
    assert names(tmp_path) == before


def test_a_link_counts_as_existing_and_is_replaced_itself(tmp_path: Path, photo: Photo) -> None:
    (tmp_path / "target.tif").write_bytes(b"precious")
    for target in ("target.tif", "nowhere.tif"):
        link = tmp_path / "link.tif"
        link.unlink(missing_ok=True)
        link.symlink_to(target)
        with pytest.raises(OutputError, match="exists already"):
            photo.write(link)
        photo.write(link, overwrite=True)
        assert not link.is_symlink()
    assert (tmp_path / "target.tif").read_bytes() == b"precious"
    assert names(tmp_path) == ["link.tif", "target.tif"]


def test_never_the_input_by_whatever_name(tmp_path: Path) -> None:
    source = tiff(tmp_path / "a.tif")
    (tmp_path / "soft.tif").symlink_to("a.tif")
    (tmp_path / "hard.tif").hardlink_to(source)
    (tmp_path / "sub").symlink_to(".")
    before = source.read_bytes()
    for opened in (source, tmp_path / "soft.tif"):
        for name in ("a.tif", "soft.tif", "hard.tif", "sub/a.tif", "./a.tif"):
            with pytest.raises(OutputError, match="is the input itself"):
                read(opened).write(tmp_path / name, overwrite=True)
    assert source.read_bytes() == before
    assert names(tmp_path) == ["a.tif", "hard.tif", "soft.tif", "sub"]


@pytest.mark.parametrize("compress", COMPRESS)
@pytest.mark.parametrize("threads", [1, 3])
@pytest.mark.parametrize(
    ("error", "seen"),
    [
        (InputError("'x': the file ends before its picture data"), InputError),
        (KeyboardInterrupt(), KeyboardInterrupt),
        (SystemExit(143), SystemExit),
        (MemoryError(), OutsideError),
        (ZeroDivisionError(), ZeroDivisionError),
    ],
)
def test_an_error_on_the_way_leaves_nothing(
    tmp_path: Path, photo: Photo, compress: str, threads: int, error: BaseException, seen: type[BaseException]
) -> None:
    (tmp_path / "there.tif").write_bytes(b"precious")
    alive = threading.active_count()
    for name, overwrite in (("out.tif", False), ("there.tif", True)):
        with pytest.raises(seen):
            write(
                replace(photo, pixels=Failing(error)), tmp_path / name, overwrite=overwrite, compress=compress,
                threads=threads, band_bytes=1,
            )  # fmt: skip
    assert names(tmp_path) == ["there.tif"]
    assert (tmp_path / "there.tif").read_bytes() == b"precious"
    assert threading.active_count() == alive


def test_an_error_in_progress_or_ticket_leaves_nothing(tmp_path: Path, photo: Photo) -> None:
    def fail(*_: Any) -> str:
        raise RuntimeError("no")

    with pytest.raises(RuntimeError):
        photo.write(tmp_path / "out.tif", progress=fail)  # type: ignore[arg-type]
    with pytest.raises(RuntimeError):
        replace(photo, ticket=fail).write(tmp_path / "out.tif")
    assert names(tmp_path) == []


@pytest.mark.parametrize("compress", COMPRESS)
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_signals_stop_a_long_run_at_once(tmp_path: Path, number: signal.Signals, compress: str) -> None:
    code = f"""
import signal, sys, time
from dataclasses import replace
import numpy as np
from printprep.photo.photo import Photo
from printprep.photo.write import write
signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
class Slow:
    height, width = 100_000, 50
    def read(self, top, out):
        out[:] = 0
        time.sleep(0.02)
        print("reading", flush=True)
photo = replace(Photo.from_array(np.zeros((1, 1, 3), np.uint8)), pixels=Slow())
write(photo, {str(tmp_path / "out.tif")!r}, compress={compress!r}, threads=2, band_bytes=1)
"""
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as run:
        assert run.stdout is not None
        run.stdout.readline()
        assert any(n.startswith(_sink.PREFIX) for n in names(tmp_path))
        start = time.monotonic()
        run.send_signal(number)
        run.communicate(timeout=20)
    assert time.monotonic() - start < 5
    assert run.returncode != 0
    assert names(tmp_path) == []


def test_of_racing_writers_exactly_one_wins(tmp_path: Path) -> None:
    photos = [Photo.from_array(picture(50, 40, seed=i)) for i in range(8)]
    gate = threading.Barrier(len(photos))

    def race(photo: Photo) -> bool:
        gate.wait()
        try:
            photo.write(tmp_path / "out.tif")
        except OutputError:
            return False
        return True

    with ThreadPoolExecutor(len(photos)) as pool:
        won = list(pool.map(race, photos))
    assert sum(won) == 1
    np.testing.assert_array_equal(read(tmp_path / "out.tif"), photos[won.index(True)])
    assert names(tmp_path) == ["out.tif"]


@pytest.mark.parametrize("there", [False, True])
def test_where_there_are_no_hard_links(
    tmp_path: Path, photo: Photo, monkeypatch: pytest.MonkeyPatch, there: bool
) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        if there:  # another run was faster, after we looked
            (tmp_path / "out.tif").write_bytes(b"precious")
        raise OSError(errno.EPERM, "no links here")

    monkeypatch.setattr(os, "link", refuse)
    if there:
        with pytest.raises(OutputError, match="exists already"):
            photo.write(tmp_path / "out.tif")
        assert (tmp_path / "out.tif").read_bytes() == b"precious"
    else:
        photo.write(tmp_path / "out.tif")
        np.testing.assert_array_equal(read(tmp_path / "out.tif"), photo)
    assert names(tmp_path) == ["out.tif"]


@pytest.mark.parametrize("step", ["pwrite", "fsync", "link", "open"])
def test_a_full_disk(tmp_path: Path, photo: Photo, monkeypatch: pytest.MonkeyPatch, step: str) -> None:
    real = getattr(os, step)

    def fail(*args: Any, **options: Any) -> Any:
        if step == "open" and _sink.PREFIX not in str(args[0]):
            return real(*args, **options)
        raise OSError(errno.ENOSPC, "full")

    monkeypatch.setattr(os, step, fail)
    with pytest.raises(OutsideError, match=r"cannot be written \(no space left on device\); free some space"):
        photo.write(tmp_path / "out.tif")
    assert names(tmp_path) == []


def test_what_the_disk_says_on_the_way_is_not_lost(
    tmp_path: Path, photo: Photo, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: int) -> None:
        raise OSError(errno.EIO, "the disk lost it")

    monkeypatch.setattr(limits, "FLUSH_BYTES", 1)
    monkeypatch.setattr(os, "fdatasync", fail)  # the system tells of a failure once; fsync then succeeds
    with pytest.raises(OutsideError, match="input/output error"):
        write(photo, tmp_path / "out.tif", band_bytes=1, progress=lambda _: time.sleep(0.01))
    assert names(tmp_path) == []


@pytest.mark.parametrize("threads", [1, 3])
def test_data_is_handed_to_the_disk_on_the_way(
    tmp_path: Path, photo: Photo, monkeypatch: pytest.MonkeyPatch, threads: int
) -> None:
    calls, real, alive = list[int](), os.fdatasync, threading.active_count()

    def counted(descriptor: int) -> None:
        calls.append(descriptor)
        real(descriptor)

    monkeypatch.setattr(limits, "FLUSH_BYTES", 1)
    monkeypatch.setattr(os, "fdatasync", counted)
    write(photo, tmp_path / "out.tif", threads=threads, band_bytes=1, progress=lambda _: time.sleep(0.01))
    assert calls
    assert threading.active_count() == alive
    np.testing.assert_array_equal(read(tmp_path / "out.tif"), photo)


def test_short_writes_are_completed(tmp_path: Path, photo: Photo, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.pwrite
    monkeypatch.setattr(os, "pwrite", lambda fd, data, at: real(fd, data[: max(1, len(data) // 2)], at))
    photo.write(tmp_path / "out.tif")
    np.testing.assert_array_equal(read(tmp_path / "out.tif"), photo)


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_may_not_be_written(tmp_path: Path, photo: Photo) -> None:
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(OutsideError, match="permission denied"):
            photo.write(tmp_path / "out.tif")
    finally:
        tmp_path.chmod(0o700)


def test_the_mode_follows_the_umask(tmp_path: Path, photo: Photo) -> None:
    before = os.umask(0o027)
    try:
        photo.write(tmp_path / "out.tif")
    finally:
        os.umask(before)
    assert (tmp_path / "out.tif").stat().st_mode & 0o777 == 0o640


def test_what_a_killed_run_left_disturbs_nobody(tmp_path: Path, photo: Photo) -> None:
    (tmp_path / f"{_sink.PREFIX}0123456789ab.tmp").write_bytes(b"left behind")
    photo.write(tmp_path / "out.tif")
    assert len(names(tmp_path)) == 2


@pytest.mark.parametrize("overwrite", [False, True])
@pytest.mark.parametrize(
    "step",
    ["open", "flock", "fstat", "ftruncate", "lstat", "pwrite", "fsync", "link", "replace", "unlink", "close", "stat"],
)
def test_an_interrupt_at_any_moment_leaves_nothing_torn(
    tmp_path: Path, photo: Photo, monkeypatch: pytest.MonkeyPatch, step: str, overwrite: bool
) -> None:
    """A signal's exception comes as soon as the system's answer does, before it can be kept."""
    expected = tmp_path / "expected.tif"
    photo.write(expected)
    whole = expected.read_bytes()
    expected.unlink()
    module = fcntl if step == "flock" else os
    real = getattr(module, step)
    for number in range(8):  # which call of this kind
        calls = 0

        def interrupted(*args: Any, number: int = number, **options: Any) -> Any:
            nonlocal calls
            answer = real(*args, **options)
            calls += 1
            if calls == number + 1:
                raise KeyboardInterrupt
            return answer

        with monkeypatch.context() as patch:
            patch.setattr(module, step, interrupted)
            with suppress(KeyboardInterrupt):
                photo.write(tmp_path / "out.tif", overwrite=overwrite)
        gc.collect()  # what the traceback held
        assert names(tmp_path) in ([], ["out.tif"]), (step, number)
        if names(tmp_path):
            assert (tmp_path / "out.tif").read_bytes() == whole
            (tmp_path / "out.tif").unlink()


def test_an_interrupt_where_there_are_no_hard_links_leaves_no_empty_name(
    tmp_path: Path, photo: Photo, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.open

    def no_links(*_: Any, **__: Any) -> None:
        raise OSError(errno.EPERM, "no links here")

    def interrupted(path: Any, *args: Any, **options: Any) -> int:
        answer = real(path, *args, **options)
        if str(path).endswith("out.tif"):
            raise KeyboardInterrupt
        return answer

    monkeypatch.setattr(os, "link", no_links)
    monkeypatch.setattr(os, "open", interrupted)
    with pytest.raises(KeyboardInterrupt):
        photo.write(tmp_path / "out.tif")
    gc.collect()
    assert names(tmp_path) == []


def temporary(folder: Path) -> Path:
    """The temporary file of a run for out.tif that is at work."""
    with _sink.Sink(folder / "out.tif"):
        (found,) = folder.iterdir()
    return found


def test_what_a_killed_run_left_is_taken_over_by_the_next(tmp_path: Path, photo: Photo) -> None:
    temporary(tmp_path).write_bytes(b"left behind" * 100_000)
    photo.write(tmp_path / "out.tif")
    assert names(tmp_path) == ["out.tif"]
    np.testing.assert_array_equal(read(tmp_path / "out.tif"), photo)


def test_what_a_run_is_at_work_with_is_left_to_it(tmp_path: Path, photo: Photo) -> None:
    with _sink.Sink(tmp_path / "out.tif") as other:
        other.write(b"at work", 0)
        photo.write(tmp_path / "out.tif")
        assert len(names(tmp_path)) == 2
        with pytest.raises(OutputError, match="exists already"):
            other.publish()
    assert names(tmp_path) == ["out.tif"]


@pytest.mark.parametrize("kind", ["link", "second name", "folder"])
def test_a_strange_temporary_file_is_left_alone(tmp_path: Path, photo: Photo, kind: str) -> None:
    (folder := tmp_path / "out").mkdir()
    trap, precious = temporary(folder), tmp_path / "precious"
    precious.write_bytes(b"precious")
    if kind == "link":
        trap.symlink_to(precious)
    elif kind == "second name":
        trap.hardlink_to(precious)
    else:
        trap.mkdir()
    photo.write(folder / "out.tif")
    assert precious.read_bytes() == b"precious"
    assert names(folder) == sorted([trap.name, "out.tif"])


def test_names_of_bytes_that_are_no_text(tmp_path: Path, photo: Photo) -> None:
    name = os.fsencode(tmp_path) + b"/w\xff\n.tif"
    done = photo.write(name)
    assert isinstance(done.path, Path) and done.path.samefile(os.fsdecode(name))
    np.testing.assert_array_equal(read(name), photo)
    with pytest.raises(OutputError, match="exists already") as caught:
        photo.write(name)
    assert str(caught.value).isprintable()


def test_relative_names(tmp_path: Path, photo: Photo, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    photo.write("out.tif")
    assert names(tmp_path) == ["out.tif"]
