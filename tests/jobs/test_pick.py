"""A place picked from a strip: read from the strip alone, kept as a preset that repeats it exactly."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile

import printprep as pp
from printprep.errors import InputError, OutputError, ParameterError, UnknownName
from printprep.preset_files import shipped
from tests.jobs.test_strips import picture
from tests.support.lutprofile import MatrixInk, output_profile

INK = MatrixInk(12.0)


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of presets of one's own."""
    monkeypatch.setenv("PRINTPREP_PRESETS", str(tmp_path / "own"))
    return tmp_path / "own"


@pytest.fixture
def edit(tmp_path: Path) -> Path:
    pp.Photo.from_array(picture(300, 420), "opRGB").write(tmp_path / "edit.tif")
    return tmp_path / "edit.tif"


def papers(folder: Path) -> dict[str, str]:
    """Papers of three kinds, as a user names them."""
    (folder / "maker.icc").write_bytes(output_profile(INK.lab, INK.rgb, device_nodes=9, lab_nodes=17))
    chart = folder / "chart.txt"
    chart.write_bytes((Path(str(shipped())) / "measurements" / "FOGRA29L.txt").read_bytes())
    return {"patches": "cotton-rag", "profile": str(folder / "maker.icc"), "chart": str(chart)}


@pytest.mark.parametrize("kind", ["patches", "profile", "chart"])
def test_a_preset_repeats_it_exactly(edit: Path, tmp_path: Path, own: Path, kind: str) -> None:
    named = papers(tmp_path)[kind]
    pipe = pp.pipeline(paper=named, room="lux=60,glazing=clear")
    strip = pp.strip(edit, tmp_path / "strip.tif", pipe, ["strength=0..1.2/2", "gamut-fit.knee=0.7..0.9/2"], sheet="A3")
    picked = pp.pick(strip.path, "b2")
    assert picked.settings == strip.cells["B2"]
    file = picked.save("wall-by-the-stairs")
    assert file == own / "wall-by-the-stairs.toml"
    for gone in (tmp_path / "maker.icc", tmp_path / "chart.txt", strip.path):
        gone.unlink()  # the preset needs none of them
    kept = pp.pipeline(preset="wall-by-the-stairs")
    assert (kept.steps, kept.strength, kept.room) == (picked.pipe.steps, 1.2, pipe.room)
    assert kept.paper.fingerprint == pipe.paper.fingerprint
    pp.prepare(edit, tmp_path / "kept.tif", kept)
    pp.prepare(edit, tmp_path / "seen.tif", picked.pipe)
    one, other = (np.asarray(tifffile.imread(tmp_path / f"{name}.tif")) for name in ("kept", "seen"))
    assert np.array_equal(one, other)


def test_a_paper_that_has_changed_since_is_not_taken_for_the_old(edit: Path, tmp_path: Path) -> None:
    named = papers(tmp_path)["profile"]
    strip = pp.strip(edit, tmp_path / "strip.tif", pp.pipeline(paper=named), "strength=0..1/2")
    other = MatrixInk(16.0)
    Path(named).write_bytes(output_profile(other.lab, other.rgb, device_nodes=9, lab_nodes=17))
    with pytest.raises(InputError, match="profile of the job ticket has changed"):
        pp.pick(strip.path, "A1")
    Path(named).unlink()
    with pytest.raises(InputError, match=r"strip.tif.*not found"):
        pp.pick(strip.path, "A1")


def test_the_next_strip_is_narrower_and_of_the_same_parts(edit: Path, tmp_path: Path) -> None:
    pipe = replace(pp.pipeline(paper="gloss", room="office"), sheet=pp.Sheet(size="A4"))
    strip = pp.strip(edit, tmp_path / "strip.tif", pipe, "gamut-fit.strength=0..1/3", parts=2)
    following = pp.pick(strip.path, "B2").refine(tmp_path / "next.tif")
    assert [v["gamut-fit.strength"] for v in following.cells.values()] == [0, 0.5, 1] * 2
    assert following.crops == strip.crops
    last = pp.pick(strip.path, "A3").refine(tmp_path / "last.tif")
    assert [v["gamut-fit.strength"] for v in last.cells.values()][:3] == [0.5, 0.75, 1]
    edit.rename(tmp_path / "moved.tif")
    with pytest.raises(InputError, match="edit is not there; name it with edit=FILE"):
        pp.pick(strip.path, "B2").refine(tmp_path / "third.tif")
    pp.pick(strip.path, "B2").refine(tmp_path / "third.tif", edit=tmp_path / "moved.tif")


def test_what_cannot_be_picked_is_one_line(edit: Path, tmp_path: Path, own: Path) -> None:
    pipe = pp.pipeline(paper="gloss")
    strip = pp.strip(edit, tmp_path / "strip.tif", pipe, "strength=0..1/2", parts=1)
    with pytest.raises(UnknownName, match="B9"):
        pp.pick(strip.path, "B9")
    with pytest.raises(InputError, match="is no test strip"):
        pp.pick(edit, "A1")
    with pytest.raises(InputError, match="nowhere"):
        pp.pick(tmp_path / "nowhere.tif", "A1")
    picked = pp.pick(strip.path, "A2")
    for wrong in ("", "a/b", "gloss", "office"):
        with pytest.raises(ParameterError, match="name"):
            picked.save(wrong)
    assert not own.exists()
    picked.save("mine")
    with pytest.raises(OutputError, match="exists already"):
        picked.save("mine")
    picked.save("mine", overwrite=True)


@pytest.mark.parametrize("lost", ["cells", "job", "vary", "sheet", "schema"])
def test_a_damaged_ticket_is_one_line(edit: Path, tmp_path: Path, lost: str) -> None:
    strip = pp.strip(edit, tmp_path / "strip.tif", pp.pipeline(paper="gloss"), "strength=0..1/2", parts=1)
    photo = pp.read(strip.path)
    doc = json.loads(photo.metadata.ticket or "")
    for value in (None, 7):
        broken = replace(photo, metadata=photo.metadata.with_ticket(json.dumps({**doc, lost: value})))
        broken.write(tmp_path / "broken.tif", overwrite=True)
        with pytest.raises(pp.PrintprepError) as error:
            pp.pick(tmp_path / "broken.tif", "A1").refine(tmp_path / "next.tif")
        assert "\n" not in str(error.value)
        assert not (tmp_path / "next.tif").exists()
