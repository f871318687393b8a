import hashlib
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import skimage.data
import tifffile
from PIL import Image

from printprep.colour.profile import Profile
from tests.support.command import one_line_error, run
from tests.support.lutprofile import MatrixInk, output_profile
from tests.support.spaces import linear_profile

ROOM = ("--paper", "cotton-rag", "--room", "evening-sitting-room")


@pytest.fixture(scope="module", autouse=True)
def tables(tmp_path_factory: pytest.TempPathFactory) -> None:
    os.environ["PRINTPREP_CACHE"] = str(tmp_path_factory.mktemp("tables"))


def photograph() -> np.ndarray:
    """A real picture: scikit-image's bundled photograph of a rocket launch, public domain."""
    return np.asarray(skimage.data.rocket().astype(np.uint16) * np.uint16(257))


def save(path: Path, rgb: np.ndarray | None = None, profile: bytes | None = None, **more: object) -> Path:
    rgb = photograph() if rgb is None else rgb
    data = Profile.named("opRGB").data if profile is None else profile
    tifffile.imwrite(
        path, rgb, photometric=more.pop("photometric", "rgb"), iccprofile=data or None, resolution=(300, 300),
        resolutionunit=2, software=False, metadata=None, **more,
    )  # fmt: skip
    return path


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_a_picture_is_prepared(tmp_path: Path) -> None:
    edit = save(tmp_path / "rocket.tif", description="launch", extratags=[(315, 2, 0, "A. Photographer", True)])
    before = digest(edit)
    result = run("prepare", edit, *ROOM, cwd=tmp_path)
    assert result.returncode == 0, result.stderr
    output = tmp_path / "rocket.cotton-rag.evening-sitting-room.tif"
    lines = result.stdout.splitlines()
    assert lines[0] == str(output)
    assert lines[1].startswith("  changed: ")
    assert "L*" in lines[1]
    assert lines[2].startswith("  still loses: ")
    assert "relative colorimetric, black point compensation on" in result.stderr
    assert result.stderr.count("typical values") == 1
    assert digest(edit) == before
    with tifffile.TiffFile(output) as tif:
        page = tif.pages[0]
        assert isinstance(page, tifffile.TiffPage)
        assert page.dtype == np.uint16
        assert page.tags[34675].value == Profile.named("opRGB").data
        assert (page.tags[270].value, page.tags[315].value) == ("launch", "A. Photographer")
        assert page.tags[282].value == (300, 1)
        prepared = page.asarray()
    dark = photograph().mean(-1) < 12000
    assert prepared[dark].mean() > photograph()[dark].mean() + 500
    with Image.open(output) as second_reader:
        assert second_reader.size == (640, 427)


def test_same_bytes_again_and_for_any_thread_count(tmp_path: Path) -> None:
    edit = save(tmp_path / "a.tif")
    for name, threads in (("1.tif", "1"), ("2.tif", "2"), ("5.tif", "5")):
        assert run("prepare", edit, *ROOM, "-o", name, "--threads", threads, cwd=tmp_path).returncode == 0
    assert digest(tmp_path / "1.tif") == digest(tmp_path / "2.tif") == digest(tmp_path / "5.tif")


@pytest.mark.parametrize("space", ["sRGB", "ROMM RGB", "linear", "table"])
def test_any_profile(tmp_path: Path, space: str) -> None:
    if space == "table":
        ink = MatrixInk(0.0, saturation=1.0)
        profile = output_profile(ink.lab, ink.rgb)
    else:
        profile = linear_profile() if space == "linear" else Profile.named(space).data
    edit = save(tmp_path / "a.tif", profile=profile)
    assert run("prepare", edit, *ROOM, "-o", "b.tif", cwd=tmp_path).returncode == 0
    out = tifffile.imread(tmp_path / "b.tif")
    assert np.isfinite(out).all()
    assert out.mean() > photograph().mean()


def test_ticket_says_what_was_done(tmp_path: Path) -> None:
    edit = save(tmp_path / "a.tif")
    run("prepare", edit, *ROOM, "--set", "shadow-lift.strength=0.25", "-o", "b.tif", cwd=tmp_path)
    ticket = json.loads(run("ticket", "b.tif", "--json", cwd=tmp_path).stdout)
    steps = {s["step"]: s for s in ticket["steps"]}
    assert steps["shadow-lift"]["strength"] == 0.25
    assert list(steps) == ["shadow-lift", "room-brightness", "room-colour", "gamut-fit"]
    assert ticket["source_profile"]["sha256"] == hashlib.sha256(Profile.named("opRGB").data).hexdigest()
    assert len(ticket["edit"]["xxh3_128"]) == 32
    assert ticket["room"]["illuminance_lux"] == 50
    shown = run("ticket", "b.tif", cwd=tmp_path).stdout
    assert "1. shadow-lift: strength 0.25" in shown
    assert "has no job ticket" in one_line_error(run("ticket", edit, cwd=tmp_path))


def test_a_prepared_file_can_be_prepared_again(tmp_path: Path) -> None:
    edit = save(tmp_path / "a.tif")
    run("prepare", edit, *ROOM, "-o", "b.tif", cwd=tmp_path)
    again = ("prepare", "b.tif", "--paper", "gloss", "--room", "viewing-booth", "-o", "c.tif")
    line = one_line_error(run(*again, cwd=tmp_path))
    assert line == "printprep: 'b.tif': is prepared already; take the edit that it was made from, or add --again"
    assert not (tmp_path / "c.tif").exists()
    run(*again, "--again", cwd=tmp_path)
    ticket = json.loads(run("ticket", "c.tif", "--json", cwd=tmp_path).stdout)
    assert ticket["paper"]["name"] == "gloss"


def test_hand_over_in_the_papers_profile(tmp_path: Path) -> None:
    ink = MatrixInk(17)
    (tmp_path / "my.icc").write_bytes(output_profile(ink.lab, ink.rgb))
    edit = save(tmp_path / "a.tif")
    result = run(
        "prepare", edit, "--paper", "my.icc", "--room", "lux=80", "--hand-over", "paper", "-o", "b.tif", cwd=tmp_path
    )
    assert result.returncode == 0, result.stderr
    assert "colour management off" in result.stderr
    with tifffile.TiffFile(tmp_path / "b.tif") as tif:
        assert tif.pages[0].tags[34675].value == (tmp_path / "my.icc").read_bytes()
    refused = run("prepare", edit, *ROOM, "--hand-over", "paper", "-o", "c.tif", cwd=tmp_path)
    assert "no ICC profile" in one_line_error(refused)


def test_eight_bits_grey_and_untagged(tmp_path: Path) -> None:
    eight = save(tmp_path / "eight.tif", photograph().astype(np.uint16) >> 8)
    save(eight, (photograph() >> 8).astype(np.uint8))
    result = run("prepare", eight, *ROOM, "-o", "e.tif", cwd=tmp_path)
    assert result.returncode == 0
    assert "8 bit" in result.stderr
    assert tifffile.imread(tmp_path / "e.tif").dtype == np.uint16

    untagged = save(tmp_path / "untagged.tif", profile=b"")
    line = one_line_error(run("prepare", untagged, *ROOM, "-o", "u.tif", cwd=tmp_path))
    assert "no ICC profile" in line
    assert "--assume" in line
    result = run("prepare", untagged, *ROOM, "-o", "u.tif", "--assume", "sRGB", cwd=tmp_path)
    assert result.returncode == 0
    assert "sRGB" in result.stderr


def test_several_files_go_to_a_folder(tmp_path: Path) -> None:
    edits = [save(tmp_path / f"{n}.tif") for n in "abc"]
    (tmp_path / "bad.tif").write_bytes(b"no picture")
    (tmp_path / "out").mkdir()
    result = run("prepare", *edits, tmp_path / "bad.tif", *ROOM, "-o", "out", cwd=tmp_path)
    assert result.returncode == 2
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [
        f"{n}.cotton-rag.evening-sitting-room.tif" for n in "abc"
    ]
    assert "bad.tif" in result.stderr
    again = run("prepare", *edits, *ROOM, "-o", "out", "--skip-done", cwd=tmp_path)
    assert again.returncode == 0
    assert again.stderr.count("done already") == 3
    other = run("prepare", *edits, *ROOM, "-o", "out", "--skip-done", "--set", "shadow-lift.strength=0.1", cwd=tmp_path)
    assert other.returncode == 2
    assert other.stderr.count("exists already") == 3
    assert "existing folder" in one_line_error(run("prepare", *edits, *ROOM, "-o", "none", cwd=tmp_path))


def test_own_outputs_are_no_edits(tmp_path: Path) -> None:
    """The same command twice in the edits' own folder, with a pattern, as every day."""
    for name in "ab":
        save(tmp_path / f"{name}.tif", photograph()[:60, :60])
    assert run("prepare", *sorted(tmp_path.glob("*.tif")), *ROOM, cwd=tmp_path).returncode == 0
    before = {p.name: digest(p) for p in tmp_path.glob("*.tif")}
    assert len(before) == 4
    for more, status in (([], 2), (["--skip-done"], 0), (["--overwrite"], 0)):  # without, the outputs exist already
        again = run("prepare", *sorted(tmp_path.glob("*.tif")), *ROOM, *more, cwd=tmp_path)
        assert again.returncode == status, again.stderr
        assert {p.name: digest(p) for p in tmp_path.glob("*.tif")} == before
        counted = "of 4 files 2 are prepared already and were left out; add --again to prepare such files once more"
        assert again.stderr.splitlines().count(f"printprep: {counted}") == 1
        assert again.stderr.count("prepared already") == 1
    outputs = sorted(tmp_path.glob("*.cotton-rag.*.tif"))
    only = run("prepare", *outputs, *ROOM, cwd=tmp_path)
    assert (only.returncode, only.stdout, len(only.stderr.splitlines())) == (0, "", 1)
    insisted = run("prepare", *outputs, *ROOM, "--again", cwd=tmp_path)
    assert insisted.returncode == 0
    assert len(list(tmp_path.glob("*.tif"))) == 6


def test_an_edit_that_changed_is_done_again(tmp_path: Path) -> None:
    edit = save(tmp_path / "a.tif", photograph()[:60, :60])
    state = edit.stat()
    assert run("prepare", edit, *ROOM, cwd=tmp_path).returncode == 0
    output = tmp_path / "a.cotton-rag.evening-sitting-room.tif"
    first = digest(output)
    save(edit, photograph()[:60, :60] // 2)  # every pixel halved: the same size, and given the same time
    os.utime(edit, ns=(state.st_atime_ns, state.st_mtime_ns))
    assert edit.stat().st_size == state.st_size
    again = run("prepare", edit, *ROOM, "--skip-done", cwd=tmp_path)
    assert again.returncode == 0, again.stderr
    assert "is another edit than" in again.stderr
    assert "done already" not in again.stderr
    assert digest(output) != first
    assert run("prepare", edit, *ROOM, "-o", "fresh.tif", cwd=tmp_path).returncode == 0
    assert digest(output) == digest(tmp_path / "fresh.tif")
    third = run("prepare", edit, *ROOM, "--skip-done", cwd=tmp_path)
    assert third.stderr.count("done already") == 1


def test_a_file_that_was_written_is_done_whatever_becomes_of_its_judgement(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from printprep.check import verdict
    from printprep.cli.prepare import command

    def fails(*_: object) -> None:
        raise ZeroDivisionError("never seen")

    monkeypatch.setattr(verdict, "verdict", fails)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    edits = [save(tmp_path / f"{n}.tif", photograph()[:60, :60]) for n in "ab"]
    for files in (edits[:1], edits):
        arguments = [*map(str, files), *ROOM, "--overwrite"]
        assert command.main(arguments, standalone_mode=False) == 0
        shown = capsys.readouterr()
        assert shown.out.count(".cotton-rag.evening-sitting-room.tif") == len(files)
        assert shown.err.count("could not be told (ZeroDivisionError: never seen)") == len(files)
    assert len(list(tmp_path.glob("?.cotton-rag.*.tif"))) == 2


def test_done_is_found_where_the_profile_is_assumed(tmp_path: Path) -> None:
    edit = save(tmp_path / "a.tif", photograph()[:60, :60], profile=b"")
    for _ in range(2):
        result = run("prepare", edit, *ROOM, "--assume", "sRGB", "--skip-done", cwd=tmp_path)
        assert result.returncode == 0, result.stderr
    assert "done already" in result.stderr


def test_a_folder_is_made_where_its_name_says_so(tmp_path: Path) -> None:
    edits = [save(tmp_path / f"{n}.tif", photograph()[:60, :60]) for n in "ab"]
    names = [f"{n}.cotton-rag.evening-sitting-room.tif" for n in "ab"]
    assert run("prepare", *edits, *ROOM, "-o", "prepared/", cwd=tmp_path).returncode == 0
    assert sorted(p.name for p in (tmp_path / "prepared").iterdir()) == names
    assert run("prepare", edits[0], *ROOM, "-o", "one/", cwd=tmp_path).returncode == 0
    assert [p.name for p in (tmp_path / "one").iterdir()] == names[:1]
    assert run("prepare", edits[0], *ROOM, "-o", "one/", "--overwrite", cwd=tmp_path).returncode == 0  # there already


@pytest.mark.parametrize(
    ("output", "message"),
    [
        ("", "-o '': names nothing; give a file's name, or a folder's"),
        ("none/below/", "'none/below/': cannot be made where no folder is; make the one above it first"),
        ("a.tif/", "'a.tif/': is no folder; choose another name"),
        ("a.tif/below/", "'a.tif/below/': cannot be made where no folder is; make the one above it first"),
        ("none", "'none': is no folder, and no name ending in .tif or .tiff; end it in / to make a folder"),
    ],
)
def test_names_of_folders_that_will_not_do(tmp_path: Path, output: str, message: str) -> None:
    edit = save(tmp_path / "a.tif", photograph()[:40, :40])
    line = one_line_error(run("prepare", edit, *ROOM, "-o", output, cwd=tmp_path))
    assert line.removeprefix("printprep: ").startswith(message)
    assert [p.name for p in tmp_path.iterdir() if p.name[0] != "."] == ["a.tif"]


def test_a_folder_that_nothing_was_written_to_is_not_left(tmp_path: Path) -> None:
    (tmp_path / "bad.tif").write_bytes(b"no picture")
    one_line_error(run("prepare", tmp_path / "bad.tif", *ROOM, "-o", "prepared/", cwd=tmp_path))
    assert not (tmp_path / "prepared").exists()


REFUSED = [
    (["a.tif", "--paper", "cotton-rat", "-o", "b.tif"], "unknown paper; did you mean cotton-rag?"),
    (["a.tif", "--paper", "gloss", "--room", "atic", "-o", "b.tif"], "unknown room"),
    (["a.tif", "--paper", "../gloss", "-o", "b.tif"], "unknown paper"),
    (["a.tif", "--paper", "none.icc", "-o", "b.tif"], "does not exist"),
    (["a.tif", "--paper", "gloss", "--room", "lux=-3", "-o", "b.tif"], "lux"),
    (["a.tif", "--paper", "gloss", "--metered", "bright", "-o", "b.tif"], "bright"),
    (["a.tif", "-o", "b.tif"], "no paper is named"),
    (["none.tif", "--paper", "gloss", "-o", "b.tif"], "none.tif"),
    ([".", "--paper", "gloss", "-o", "b.tif"], "'.'"),
    ([".", "--paper", "gloss"], "'.': is a folder"),
    (["a.tif", "--paper", "gloss", "-o", "b.jpg"], "b.jpg"),
    (["a.tif", "--paper", "gloss", "-o", "none/b.tif"], "none"),
    (["a.tif", "--paper", "gloss", "-o", "a.tif", "--overwrite"], "a.tif"),
    (["a.tif", "--paper", "gloss", "-o", "taken.tif"], "exists already"),
    (["a.tif", "--paper", "gloss", "--set", "gamut-fit.knee=7", "-o", "b.tif"], "knee"),
    (["a.tif", "--paper", "gloss", "--set", "gamut-fit", "-o", "b.tif"], "STEP.PARAM=VALUE"),
    (["a.tif", "--paper", "gloss", "--hand-over", "screen", "-o", "b.tif"], "screen"),
    (["a.tif", "--paper", "gloss", "--threads", "0", "-o", "b.tif"], "threads"),
    (["text.tif", "--paper", "gloss", "-o", "b.tif"], "text.tif"),
    (["a.tif", "--paper", "text.tif", "-o", "b.tif"], "text"),
]


@pytest.mark.parametrize(("arguments", "message"), REFUSED)
def test_refused_in_one_line_and_nothing_left(tmp_path: Path, arguments: list[str], message: str) -> None:
    save(tmp_path / "a.tif", photograph()[:40, :40])
    (tmp_path / "taken.tif").write_bytes(b"keep me")
    (tmp_path / "text.tif").write_text("no picture at all\n" * 50)
    before = {p.name: digest(p) for p in tmp_path.iterdir()}
    line = one_line_error(run("prepare", *arguments, cwd=tmp_path))
    assert message in line
    assert {p.name: digest(p) for p in tmp_path.iterdir() if p.is_file()} == before


def test_names_from_outside_do_not_reach_the_terminal_raw(tmp_path: Path) -> None:
    line = one_line_error(run("prepare", "evil\x1b[31m\nname.tif", "--paper", "gloss", cwd=tmp_path))
    assert "\x1b" not in line
    line = one_line_error(
        run("prepare", b"caf\xe9.tif".decode(errors="surrogateescape"), "--paper", "gloss", cwd=tmp_path)
    )
    assert "caf" in line


@pytest.mark.skipif(os.geteuid() == 0 and not Path("/proc/self").exists(), reason="needs a folder that refuses")
def test_a_full_disk_is_an_outside_reason(tmp_path: Path) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    save(tmp_path / "a.tif", photograph()[:40, :40])
    result = run("prepare", "a.tif", *ROOM, "-o", "b.tif", cwd=tmp_path)
    assert result.returncode == 0
    with Path("/dev/full").open("w") as full:
        closed = subprocess.run(
            [sys.executable, "-m", "printprep.cli.main", "prepare", "a.tif", *ROOM, "-o", "c.tif"],
            cwd=tmp_path, stdout=full, stderr=full, check=False,
        )  # fmt: skip
    assert closed.returncode in (0, 1)
    assert digest(tmp_path / "b.tif") == digest(tmp_path / "c.tif")


@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_a_signal_leaves_no_litter(tmp_path: Path, number: int, status: int) -> None:
    save(tmp_path / "a.tif", np.tile(photograph(), (10, 10, 1)), compression="zlib", predictor=True)
    (tmp_path / "out").mkdir()
    process = subprocess.Popen(
        [sys.executable, "-m", "printprep.cli.main", "prepare", "a.tif", *ROOM, "-o", "out/b.tif"],
        cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    deadline = time.monotonic() + 60
    while not any((tmp_path / "out").iterdir()) and process.poll() is None and time.monotonic() < deadline:
        time.sleep(0.01)
    process.send_signal(number)
    _, errors = process.communicate(timeout=60)
    assert process.returncode == status, errors
    left = [p.name for p in (tmp_path / "out").iterdir()]
    if left == ["b.tif"]:  # it was quicker than the signal; what is finished is kept, and whole
        assert tifffile.imread(tmp_path / "out" / "b.tif").shape == (4270, 6400, 3)
    else:
        assert left == []
    assert "Traceback" not in errors


def test_help_is_there_for_every_command(tmp_path: Path) -> None:
    from printprep.cli.main import commands

    listed = run("--help", cwd=tmp_path).stdout
    for name in commands.list_commands(None):  # type: ignore[arg-type]
        assert name in listed
        shown = run(name, "--help", cwd=tmp_path)
        assert shown.returncode == 0
        assert len(shown.stdout.splitlines()) > 5
        assert max(map(len, shown.stdout.splitlines())) <= 80
    assert "did you mean prepare?" in one_line_error(run("prepar", cwd=tmp_path))
    assert run("--version", cwd=tmp_path).stdout.startswith("printprep ")


def test_a_full_stdout_does_not_stop_a_batch(tmp_path: Path) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    edits = [save(tmp_path / f"{n}.tif", photograph()[:40, :40]) for n in "abc"]
    (tmp_path / "out").mkdir()
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "printprep.cli.main", "prepare", *edits, *ROOM, "-o", "out"],
            cwd=tmp_path, stdout=full, stderr=full, check=False,
        )  # fmt: skip
    assert done.returncode == 0
    assert len(list((tmp_path / "out").iterdir())) == 3
