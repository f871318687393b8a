"""Pictures that hang together have one plan; what stands out on the wall is named, and never evened out."""

from __future__ import annotations

import re
import shutil
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest
import skimage.data

import printprep as pp
from printprep.check.place import APART, two_lights
from printprep.errors import InputError, ParameterError
from printprep.jobs.again import reprint
from printprep.jobs.prepare import prepare
from printprep.jobs.series import STANDS_OUT, as_series, hanging, series_of
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.ticket import read_ticket
from tests.support.command import run


def picture(path: Path, rgb: np.ndarray) -> Path:
    Photo.from_array((rgb / rgb.max() * 65535).astype(np.uint16), "opRGB").write(path)
    return path


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """scikit-image's photographs: an astronaut and a rocket (public domain), coffee (CC0); the rocket is dark."""
    folder = tmp_path_factory.mktemp("series")
    return [
        picture(folder / "astronaut.tif", skimage.data.astronaut()[::4, ::4].astype(float)),
        picture(folder / "rocket.tif", skimage.data.rocket()[::4, ::4].astype(float)),
        picture(folder / "coffee.tif", skimage.data.coffee()[::4, ::6].astype(float)),
    ]


@pytest.fixture(scope="module")
def pipe() -> pp.Pipeline:
    return pp.pipeline(paper="cotton-rag", room="evening-sitting-room")


def worth(pipe: pp.Pipeline) -> float | None:
    return next(step.worth for step in pipe.steps if isinstance(step, pp.ShadowLift))


def test_one_decision_for_all_whatever_the_order(files: list[Path], pipe: pp.Pipeline) -> None:
    photos = [read(file) for file in files]
    alone = {worth(pipe.suited(photo)) for photo in photos}
    assert len(alone) > 1  # each for itself would be lifted differently
    plans = {as_series(pipe, order) for order in permutations(photos)}
    assert len(plans) == 1
    (plan,) = plans
    assert [plan.suited(photo) for photo in photos] == [plan] * 3  # nothing is left to a picture
    assert plan.paper == pipe.paper
    assert worth(as_series(pipe, [])) is None


@pytest.mark.parametrize("which", [0, 1, 2])
def test_a_series_of_one_is_that_picture(files: list[Path], pipe: pp.Pipeline, which: int) -> None:
    photo = read(files[which])
    assert as_series(pipe, [photo]) == pipe.suited(photo)
    assert as_series(pipe, [photo, photo]) == pipe.suited(photo)


def test_each_picture_counts_alike_whatever_its_size(files: list[Path], pipe: pp.Pipeline) -> None:
    photos = [read(file) for file in files]
    photos.append(Photo.from_array(np.asarray(photos[1]).repeat(3, axis=0).repeat(3, axis=1), "opRGB"))
    alone = [worth(pipe.suited(photo)) for photo in photos]
    assert worth(as_series(pipe, photos)) == pytest.approx(np.mean(np.array(alone, float)), abs=1e-4)


def test_a_piece_of_a_series_is_repeated_alone(tmp_path: Path, files: list[Path], pipe: pp.Pipeline) -> None:
    plan = as_series(pipe, [read(file) for file in files])
    prepare(files[1], tmp_path / "1.tif", plan)
    assert reprint(tmp_path / "1.tif", files[1], tmp_path / "2.tif").same == "bytes"


def grey(lightness: float) -> Photo:
    """An even grey; code of sRGB (IEC 61966-2-1) from CIE L*."""
    y = ((lightness + 16) / 116) ** 3
    code = 1.055 * y ** (1 / 2.4) - 0.055
    return Photo.from_array(np.full((20, 30, 3), round(code * 65535), np.uint16), "sRGB")


def test_what_stands_out_is_named_by_how_much() -> None:
    idle = pp.Pipeline([], paper=pp.paper("gloss"))
    found = hanging(idle, [grey(L) for L in (60, 61, 46, 60, 59)])
    assert [hung.stands_out for hung in found] == [False, False, True, False, False]
    print_black = idle.paper.neutral_black  # black point compensation scales luminance, so that L* 60 stays near 60
    assert found[2].off == pytest.approx(-14, abs=print_black / 5)
    assert str(found[2]).startswith("3 is 1")
    assert str(found[2]).endswith("L* darker than its neighbours: meant?")
    assert not any(hung.stands_out for hung in hanging(idle, [grey(20), grey(90)]))  # of two, which?
    steady = hanging(idle, [grey(L) for L in (30, 38, 46, 54, 62)])
    assert max(abs(hung.off) for hung in steady) > STANDS_OUT  # an end of a ramp is far from both beside it
    assert [hung.stands_out for hung in steady] == [True, False, False, False, True]


def test_what_is_no_series_of_photos(pipe: pp.Pipeline, files: list[Path]) -> None:
    with pytest.raises(ParameterError, match="photos = "):
        as_series(pipe, read(files[0]))  # type: ignore[arg-type]
    with pytest.raises(ParameterError, match="photos = "):
        hanging(pipe, files)  # type: ignore[arg-type]
    with pytest.raises(ParameterError, match="pipe = "):
        as_series(None, [])  # type: ignore[arg-type]


def test_from_the_command_line(tmp_path: Path, files: list[Path]) -> None:
    (tmp_path / "bad.tif").write_bytes(b"no picture")
    words = ("-p", "cotton-rag", "-r", "evening-sitting-room", "--as-series", "-o", "out/")
    done = run("prepare", *files, tmp_path / "bad.tif", *words, cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr.count("is not a TIFF") == 1
    made = sorted((tmp_path / "out").iterdir())
    assert len(made) == 3
    steps = [read_ticket(file).steps for file in made]
    assert steps[0] == steps[1] == steps[2]
    again = run("prepare", *files, *words, "--skip-done", cwd=tmp_path)
    assert again.stderr.count("done already") == 3
    assert series_of([*made, tmp_path / "bad.tif", tmp_path / "none.tif"]) == []


def test_the_wall_as_a_page(tmp_path: Path, files: list[Path]) -> None:
    """In hanging order, not the easiest first, one plan in every report; what stands out is named above."""
    bright = picture(tmp_path / "page & moon.tif", 40000.0 + skimage.data.page()[::4, ::4, None].repeat(3, axis=2))
    order = [files[1], bright, files[0], files[2]]
    words = ("-p", "cotton-rag", "-r", "evening-sitting-room", "--as-series", "-o", tmp_path)
    done = run("report", *order, *words, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    html = (tmp_path / "index.html").read_text()
    assert re.findall(r'<li(?: class="said")?.*?\d\. <a href="(.*?)">', html, re.DOTALL) == [
        "rocket.html", "page%20%26%20moon.html", "astronaut.html", "coffee.html"
    ]  # fmt: skip
    said = re.search(r"page & moon\.tif is \d+ L\* lighter than its neighbours: meant\?", done.stderr)
    assert said
    assert said[0].replace("&", "&amp;") in html
    plan = as_series(pp.pipeline(paper="cotton-rag", room="evening-sitting-room"), map(read, order))
    lightness = [f"L*&nbsp;{each.lightness:.0f}<" in html for each in hanging(plan, map(read, order))]
    assert all(lightness)


# ---------------------------------------------------------------- panels of one picture


@pytest.fixture(scope="module")
def triptych(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """A photograph with strong reds and dark corners (scikit-image's coffee, CC0), and three panels cut from it."""
    folder = tmp_path_factory.mktemp("triptych")
    whole = (skimage.data.coffee().astype(np.uint16) * 257)[:, :590]
    whole = whole.repeat(2, axis=0).repeat(2, axis=1)
    cuts = {"whole": slice(None), "l": slice(0, 371), "m": slice(371, 803), "r": slice(803, None)}
    for name, columns in cuts.items():
        Photo.from_array(np.ascontiguousarray(whole[:, columns]), "sRGB").write(folder / f"{name}.tif")
    return [folder / f"{name}.tif" for name in cuts]


def test_panels_have_the_pixels_of_the_whole(tmp_path: Path, triptych: list[Path], pipe: pp.Pipeline) -> None:
    whole, *panels = (read(path) for path in triptych)
    wanted = np.asarray(pipe(whole))
    assert pipe.plan(whole.profile).field(whole.small, *whole.shape[:2]).maps.any()  # places are exposed each their way
    joined = np.concatenate([np.asarray(pipe(panel)) for panel in pp.as_panels(panels)], axis=1)
    np.testing.assert_array_equal(joined, wanted)
    alone = np.concatenate([np.asarray(pipe(panel)) for panel in panels], axis=1)
    seams = [np.abs(each[:, [370, 802]].astype(int) - each[:, [371, 803]]).mean() for each in (alone, wanted)]
    assert seams[0] > seams[1]  # each for itself shows where it was cut
    assert (alone != wanted).any()
    tile = pipe.apply(panels[1].rows(0, 64), whole.profile, field=pipe.field(pp.as_panels(panels)[1]), at=(0, 371))
    np.testing.assert_array_equal(tile, wanted[:64, 371:803])


def test_panels_from_the_command_line(tmp_path: Path, triptych: list[Path], pipe: pp.Pipeline) -> None:
    words = ("-p", "cotton-rag", "-r", "evening-sitting-room", "--panels", "-o", "out/")
    done = run("prepare", *triptych[1:], *words, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    made = [tmp_path / "out" / f"{name}.cotton-rag.evening-sitting-room.tif" for name in "lmr"]
    np.testing.assert_array_equal(np.concatenate([read(m) for m in made], axis=1), np.asarray(pipe(read(triptych[0]))))
    assert "done already" in run("prepare", *triptych[1:], *words, "--skip-done", cwd=tmp_path).stderr
    assert read_ticket(made[1]).command == (
        "printprep prepare l.tif m.tif r.tif --panels --paper cotton-rag --room evening-sitting-room"
    )
    assert reprint(made[1], triptych[2], tmp_path / "again.tif").same == "bytes"
    alone = run("prepare", triptych[1], "--like", made[1], "-o", "alone.tif", cwd=tmp_path)
    assert "is one panel of a picture (l.tif, m.tif, r.tif); add --panels" in alone.stderr
    shutil.copy(triptych[2], tmp_path / "m.tif")
    with pytest.raises(InputError, match=r"m\.tif.*the others are not beside it; put the edits there.*l\.tif, m\.tif"):
        reprint(made[1], tmp_path / "m.tif", tmp_path / "no.tif")
    for other in ("l.tif", "r.tif"):
        shutil.copy(triptych[1], tmp_path / other)
    told = reprint(made[1], tmp_path / "m.tif", tmp_path / "other.tif")
    assert "another panel beside it" in told.differs


def test_what_are_no_panels_is_one_line(tmp_path: Path, triptych: list[Path], files: list[Path]) -> None:
    panel = read(triptych[1])
    with pytest.raises(ParameterError, match="two panels or more"):
        pp.as_panels([panel])
    with pytest.raises(InputError, match=r"pixels high, and l\.tif 800: no panels of one picture; cut both"):
        pp.as_panels([panel, read(files[0])])
    other = Photo.from_array(np.asarray(panel), "opRGB")
    with pytest.raises(InputError, match=r"'2': has another profile than l\.tif"):
        pp.as_panels([panel, other])
    done = run("prepare", triptych[1], files[0], "-p", "gloss", "--panels", "-o", "out/", cwd=tmp_path)
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert not (tmp_path / "out").exists()


# ---------------------------------------------------------------- two lights


def test_two_lights_and_when_two_prints_are_advised(tmp_path: Path) -> None:
    def of(day: float, evening: float | None) -> object:
        room = pp.Room(illuminance_lux=day, evening_illuminance_lux=evening)
        return two_lights(pp.pipeline(paper="cotton-rag", room=room))

    assert of(300, None) is None
    near, far = of(500, 50), of(2000, 50)
    assert near is not None
    assert far is not None
    assert near.day == pytest.approx(0, abs=0.02)  # type: ignore[attr-defined]  # the light the edit was made for
    assert near.day < near.printed < near.evening  # type: ignore[attr-defined]
    assert near.apart < APART < far.apart  # type: ignore[attr-defined]
    assert "two prints" not in str(near)
    assert "make one for each light" in str(far)
    Photo.from_array(np.full((20, 30, 3), 20000, np.uint16)).write(tmp_path / "a.tif")
    (tmp_path / "r.toml").write_text("[room]\nilluminance_lux = 2000\nevening_illuminance_lux = 50\n")
    told = run("prepare", "a.tif", "-p", "gloss", "-r", "r.toml", "-o", "b.tif", cwd=tmp_path).stderr
    assert "two lights: 2000 lx asks for a mid grey " in told and "darker" in told
