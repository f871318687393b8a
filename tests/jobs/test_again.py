"""A print repeated from its ticket: the same bytes where nothing changed, else what differs and how far it moves."""

from __future__ import annotations

import json
import pickle
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import skimage.color
import skimage.data
import tifffile

import printprep as pp
from printprep.adjust._base import Steps
from printprep.errors import InputError, OutputError, PrintprepError, UnknownName
from printprep.jobs.again import like, reprint
from printprep.jobs.prepare import prepare
from printprep.photo.read import read
from printprep.render.chain import Chain
from printprep.ticket import Ticket, read_ticket
from tests.support.lutprofile import MatrixInk, output_profile
from tests.support.tiffs import picture, profile_bytes, tiff

KEPT = Path(__file__).parent / "kept"
"""Tickets as versions before wrote them; that of schema 1 is put together from the one of schema 2."""

CHART = Path(__file__).parents[2] / "presets" / "measurements"


@pytest.fixture(autouse=True, scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PRINTPREP_CACHE", str(tmp_path_factory.mktemp("tables")))
        yield


@pytest.fixture
def edit(tmp_path: Path) -> Path:
    """scikit-image's photograph of a rocket launch (public domain), small: much of it is dark."""
    return tiff(tmp_path / "rocket.tif", pixels=skimage.data.rocket()[::8, ::8].astype(np.uint16) * 257)


def icc(path: Path, black: float = 17) -> Path:
    ink = MatrixInk(black)
    path.write_bytes(output_profile(ink.lab, ink.rgb))
    return path


def bundle(path: Path) -> Path:
    path.write_text('uses = ["canvas", "gallery"]\nstrength = 0.7\n[[adjust]]\nstep = "shadow-lift"\nworth = 1.0\n')
    return path


WAYS: dict[str, Callable[[Path], dict[str, Any]]] = {
    "names": lambda f: {"paper": "cotton-rag", "room": "evening-sitting-room"},
    "settings": lambda f: {
        "paper": "gloss", "room": "lux=85", "settings": {"shadow-lift.strength": 0.3}, "strength": 0.8
    },
    "bundle": lambda f: {"preset": bundle(f / "both.toml")},
    "profile": lambda f: {"paper": icc(f / "my.icc"), "room": "hallway"},
    "paper's profile": lambda f: {"paper": icc(f / "my.icc"), "room": "hallway", "hand_over": "paper"},
    "chart": lambda f: {"paper": CHART / "FOGRA29L.txt", "room": "hallway"},
    "objects": lambda f: {"paper": pp.paper("canvas"), "room": pp.Room(illuminance_lux=30.0, glazing="clear")},
    "sheet": lambda f: {"paper": "lustre", "sheet": pp.Sheet(ppi=120.0), "settings": {"shadow-lift.worth": 0.5}},
}  # fmt: skip


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("compress", [None, "zstd"])
def test_where_nothing_changed_the_bytes_are_the_same(
    tmp_path: Path, edit: Path, way: str, compress: str | None
) -> None:
    pipe = pp.pipeline(**WAYS[way](tmp_path))
    prepare(edit, tmp_path / "1.tif", pipe, compress=compress)
    done = reprint(tmp_path / "1.tif", edit, tmp_path / "2.tif")
    assert (tmp_path / "1.tif").read_bytes() == (tmp_path / "2.tif").read_bytes()
    assert (done.same, done.differs, str(done)) == ("bytes", (), "the same file, byte for byte")
    again = pp.Pipeline.from_ticket(read_ticket(tmp_path / "1.tif"))
    assert again == pipe
    assert (again.asked, again.paper_name, again.room_name) == (pipe.asked, pipe.paper_name, pipe.room_name)


def test_the_values_of_the_ticket_count_not_those_of_a_preset_that_changed(tmp_path: Path, edit: Path) -> None:
    paper = tmp_path / "mine.toml"
    text = 'uses = ["gloss"]\n[paper]\nblack = [{}, 0.0, 0.0]\n[[adjust]]\nstep = "shadow-lift"\nstrength = {}\n'
    paper.write_text(text.format(8.0, 0.5))
    prepare(edit, tmp_path / "1.tif", pp.pipeline(paper=paper, room="hallway"))
    paper.write_text(text.format(3.0, 0.9))
    assert reprint(tmp_path / "1.tif", edit, tmp_path / "2.tif").same == "bytes"
    paper.unlink()
    assert reprint(tmp_path / "1.tif", edit, tmp_path / "3.tif").same == "bytes"


# ---------------------------------------------------------------- what differs


def test_a_profile_that_changed(tmp_path: Path, edit: Path) -> None:
    mine = icc(tmp_path / "mine.icc")
    prepare(edit, tmp_path / "1.tif", pp.pipeline(paper=mine, room="hallway"))
    icc(mine, 25)
    with pytest.raises(InputError, match=r"the paper's profile of the job ticket has changed since; .*paper=PAPER"):
        pp.Pipeline.from_ticket(read_ticket(tmp_path / "1.tif"))
    done = reprint(tmp_path / "1.tif", edit, tmp_path / "2.tif")
    assert done.differs == ("the paper's profile",)
    assert done.moved
    assert str(done).startswith("not the same (the paper's profile): the print moves by ")
    assert pp.Pipeline.from_ticket(read_ticket(tmp_path / "1.tif"), paper=mine).paper == pp.paper(mine)


def test_a_profile_that_is_elsewhere_now(tmp_path: Path, edit: Path) -> None:
    mine = icc(tmp_path / "mine.icc")
    prepare(edit, tmp_path / "1.tif", pp.pipeline(paper=mine, room="hallway"))
    (tmp_path / "there").mkdir()
    mine.rename(there := tmp_path / "there" / "renamed.icc")
    with pytest.raises(InputError, match=r"the paper of the job ticket is not found: .*mine\.icc.*paper=PAPER"):
        reprint(tmp_path / "1.tif", edit, tmp_path / "2.tif")
    assert not (tmp_path / "2.tif").exists()
    done = reprint(tmp_path / "1.tif", edit, tmp_path / "2.tif", made_like=like(tmp_path / "1.tif", paper=there))
    assert (done.same, done.differs) == ("pixels", ("how paper and room are named",))


def test_another_paper_is_said(tmp_path: Path, edit: Path) -> None:
    prepare(edit, tmp_path / "1.tif", pp.pipeline(paper="gloss", room="hallway"))
    assert like(tmp_path / "1.tif", paper="gloss").differs == ()
    other = like(tmp_path / "1.tif", paper="canvas")
    assert (other.differs, other.pipe.paper_name) == (("another paper",), "canvas")


def test_another_edit_and_how_far_the_print_moves(tmp_path: Path, edit: Path) -> None:
    """The figures against scikit-image's CIEDE2000; the sample is the whole picture, as that is small."""
    pipe = pp.pipeline(paper="cotton-rag", room="hallway")
    prepare(edit, tmp_path / "1.tif", pipe)
    lighter = tiff(tmp_path / "lighter.tif", pixels=tifffile.imread(edit) // 10 * 9 + 6000)
    done = reprint(tmp_path / "1.tif", lighter, tmp_path / "2.tif")
    assert done.differs == ("another edit",)
    labs = [
        Chain(profile_bytes(), pipe.conditions(profile_bytes()), Steps()).to_print(np.asarray(read(path)) / 65535)
        for path in (tmp_path / "1.tif", tmp_path / "2.tif")
    ]
    apart = skimage.color.deltaE_ciede2000(*map(np.float64, labs))
    assert done.moved == pytest.approx((apart.mean(), np.percentile(apart, 95)), abs=0.01)
    assert apart.mean() > 2
    cut = tiff(tmp_path / "cut.tif", pixels=tifffile.imread(edit)[:20])
    done = reprint(tmp_path / "1.tif", cut, tmp_path / "3.tif")
    assert str(done) == "another picture, of another size (another edit)"


def test_what_only_the_file_says_of_itself(tmp_path: Path, edit: Path) -> None:
    prepare(edit, tmp_path / "1.tif", pp.pipeline(paper="gloss", room="hallway"))
    shutil.copyfile(edit, tmp_path / "renamed.tif")
    done = reprint(tmp_path / "1.tif", tmp_path / "renamed.tif", tmp_path / "2.tif")
    assert (done.same, done.differs) == ("pixels", ("the edit's name",))
    done = reprint(tmp_path / "1.tif", edit, tmp_path / "3.tif", dated=True)
    assert (done.same, done.differs) == ("pixels", ("the date",))
    told = tiff(tmp_path / "rocket.tif", {270: (2, b"launch\0")}, pixels=tifffile.imread(edit))
    done = reprint(tmp_path / "1.tif", told, tmp_path / "4.tif")
    assert (done.same, done.differs) == ("pixels", ("the edit's metadata",))


def test_another_version(tmp_path: Path, edit: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr("printprep.stored.__version__", "0.0.9")
        prepare(edit, tmp_path / "1.tif", pp.pipeline(paper="gloss", room="hallway"))
    done = reprint(tmp_path / "1.tif", edit, tmp_path / "2.tif")
    assert (done.same, done.differs) == ("pixels", (f"printprep 0.0.9 made it, this is {pp.__version__}",))


def test_an_old_file_that_was_worked_on(tmp_path: Path, edit: Path) -> None:
    """By a program that copies metadata: pixels, compression and the packet's form are its own."""
    prepare(edit, tmp_path / "1.tif", pp.pipeline(paper="gloss", room="hallway"))
    with tifffile.TiffFile(tmp_path / "1.tif") as tif:
        pixels, xmp = tif.pages[0].asarray(), tif.pages[0].tags[700].value
    pixels[:9] = 0
    tifffile.imwrite(
        tmp_path / "copy.tif", pixels, photometric="rgb", compression="zlib", iccprofile=profile_bytes(),
        extratags=[(700, 1, len(xmp), xmp, True)],
    )  # fmt: skip
    done = reprint(tmp_path / "copy.tif", edit, tmp_path / "2.tif")
    assert done.differs == ("the old file was worked on since it was prepared",)
    np.testing.assert_array_equal(read(tmp_path / "2.tif"), read(tmp_path / "1.tif"))


def test_the_print_itself_is_never_replaced(tmp_path: Path, edit: Path) -> None:
    prepare(edit, tmp_path / "1.tif", pp.pipeline(paper="gloss"))
    before = (tmp_path / "1.tif").read_bytes()
    with pytest.raises(OutputError, match="is the print that is to be repeated"):
        reprint(tmp_path / "1.tif", edit, tmp_path / "1.tif", overwrite=True)
    assert (tmp_path / "1.tif").read_bytes() == before


# ---------------------------------------------------------------- another picture, another value


def test_a_new_edit_decides_for_itself(tmp_path: Path, edit: Path) -> None:
    prepare(edit, tmp_path / "1.tif", pp.pipeline(paper="cotton-rag", room="hallway"))
    bright = tiff(tmp_path / "bright.tif", pixels=picture(60, 40) // 4 + 40000)
    prepare(bright, tmp_path / "2.tif", like(tmp_path / "1.tif").pipe)
    prepare(bright, tmp_path / "3.tif", pp.pipeline(paper="cotton-rag", room="hallway"))
    assert (tmp_path / "2.tif").read_bytes() == (tmp_path / "3.tif").read_bytes()
    worths = [next(s["worth"] for s in read_ticket(tmp_path / n).steps if "worth" in s) for n in ("1.tif", "2.tif")]
    assert worths[0] > worths[1] == 0


def test_some_values_are_set_otherwise(tmp_path: Path, edit: Path) -> None:
    asked = {"paper": "gloss", "room": "hallway"}
    prepare(edit, tmp_path / "1.tif", pp.pipeline(**asked, settings={"shadow-lift.strength": 0.3}))  # type: ignore[arg-type]
    settings = {"shadow-lift.strength": "0.5", "highlight-hold.strength": 0.4}
    other = like(tmp_path / "1.tif", settings=settings, strength=0.9)
    assert other.pipe == pp.pipeline(**asked, settings=settings, strength=0.9)  # type: ignore[arg-type]
    assert other.differs == ("shadow-lift.strength=0.5, highlight-hold.strength=0.4", "strength 0.9")
    with pytest.raises(PrintprepError, match="strength = 7"):
        like(tmp_path / "1.tif", settings={"shadow-lift.strength": 7})


def test_how_far_what_is_set_otherwise_moves_a_print(tmp_path: Path, edit: Path) -> None:
    pp.prepare(edit, tmp_path / "old.tif", pp.pipeline(paper="cotton-rag", room="museum"))
    moved = [pp.like(tmp_path / "old.tif", strength=s).moves(pp.read(edit)) for s in (1.0, 0.9, 0.3)]
    assert moved[0] == (0.0, 0.0)
    assert all(m is not None for m in moved)
    assert 0 < moved[1][0] < moved[2][0] < moved[2][1] < 30  # type: ignore[index]


def test_the_command_in_a_ticket_is_of_this_very_pipeline(tmp_path: Path, edit: Path) -> None:
    pipe = pp.pipeline(paper="gloss", room="hallway", settings={"shadow-lift.strength": 0.3})
    asked = "printprep prepare rocket.tif --paper gloss --room hallway --set shadow-lift.strength=0.3"
    sheet = pp.Sheet(size="A4")
    for number, (made, command) in enumerate((
        (pipe, asked),
        (replace(pipe, sheet=sheet), f"{asked} --size A4"),
        (replace(pipe, strength=0.5), ""),
        (replace(pipe, room=pp.Room(illuminance_lux=90.0)), ""),
        (replace(pipe, paper=pp.paper("canvas")), ""),
        (pipe.with_step(pp.ShadowLift(strength=0.4)), ""),
        (pipe.with_strength(0.3, "shadow-lift"), asked),
        (pickle.loads(pickle.dumps(pipe)), asked),
    )):  # fmt: skip
        done = prepare(edit, tmp_path / f"{number}.tif", made)
        assert read_ticket(done.output).command == command  # type: ignore[arg-type]
    said = str(read_ticket(tmp_path / "2.tif"))
    assert "again      printprep reprint THIS.tif --input rocket.tif -o NEW.tif" in said
    assert like(tmp_path / "0.tif", strength=0.9).pipe.asked == {**pipe.asked, "strength": 0.9}


# ---------------------------------------------------------------- tickets of all kinds


@pytest.mark.parametrize("schema", [1, 2, 3])
def test_tickets_of_every_kind_make_their_pipeline(schema: int) -> None:
    ticket = Ticket.from_json((KEPT / f"ticket-schema-{schema}.json").read_text())
    pipe = pp.Pipeline.from_ticket(ticket)
    settings = {"shadow-lift.strength": 0.25}
    wanted = pp.pipeline(paper="cotton-rag", room="evening-sitting-room", settings=settings, strength=0.8)
    assert (pipe.paper.fingerprint, pipe.room, pipe.sheet) == (wanted.paper.fingerprint, wanted.room, wanted.sheet)
    on = wanted.conditions("opRGB")
    assert pipe.steps.live(on, pipe.strength) == wanted.steps.live(on, wanted.strength)
    assert (pipe.strength, pipe.asked["paper"]) == (0.8 if schema > 2 else 1.0, "cotton-rag")


def test_a_newer_ticket_is_refused(tmp_path: Path) -> None:
    doc = json.loads((KEPT / "ticket-schema-3.json").read_text())
    with pytest.raises(InputError, match="is of a newer kind; use a newer printprep"):
        Ticket.from_json(json.dumps({**doc, "schema": 4, "more": 1}))


def test_tickets_that_cannot_be_followed() -> None:
    doc = json.loads((KEPT / "ticket-schema-3.json").read_text())
    ticket = Ticket.from_json(json.dumps(doc))
    recipe = doc["recipe"]
    for change, error in (
        ({"steps": [{"step": "warmer"}]}, UnknownName),
        ({"steps": [{"step": "shadow-lift", "strength": 9}]}, PrintprepError),
        ({"steps": [{"strength": 1}]}, InputError),
        ({"steps": 5}, InputError),
        ({"paper": {"what": 1}}, InputError),
        ({"paper": {"profile_sha256": "0" * 64}, "asked": {}}, InputError),
        ({"paper": {"profile_sha256": "0" * 64}, "asked": {"paper": "none-such"}}, InputError),
        ({"paper": {"profile_sha256": "0" * 64}, "asked": {"paper": "gloss"}}, InputError),
    ):
        with pytest.raises(error):
            pp.Pipeline.from_ticket(replace(ticket, recipe={**recipe, **change}))
    with pytest.raises(PrintprepError):
        pp.Pipeline.from_ticket(replace(ticket, room={**ticket.room, "illuminance_lux": -1}))
    with pytest.raises(PrintprepError, match="ticket = "):
        pp.Pipeline.from_ticket("b.tif")  # type: ignore[arg-type]
