"""proof, report, rank and compare, as commands on real files."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from skimage import data

import printprep as pp
from tests.support.command import one_line_error, run

CONDITIONS = ("--paper", "cotton-rag", "--room", "hallway")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("check")
    pp.Photo.from_array(data.coffee()[::3, ::3], "opRGB").write(place / "cup.tif")
    pp.Photo.from_array(data.chelsea()[::3, ::3]).write(place / "cat.tif")
    return place


def test_proof_writes_a_pair(folder: Path) -> None:
    done = run("proof", "cup.tif", *CONDITIONS, "--pair", "--light", "--glazing", "-o", "pair.png", cwd=folder)
    assert (done.returncode, done.stdout) == (0, "pair.png\n")
    assert (folder / "pair.png").read_bytes()[:4] == b"\x89PNG"
    again = run("proof", "cup.tif", *CONDITIONS, "-o", "pair.png", cwd=folder)
    assert "exists already" in one_line_error(again)
    onto_itself = run("proof", "cup.tif", *CONDITIONS, "-o", "cup.tif", "--overwrite", cwd=folder)
    assert "is the input itself" in one_line_error(onto_itself)


def test_report_writes_a_page_and_says_the_verdict(folder: Path) -> None:
    done = run("report", "cup.tif", *CONDITIONS, "-o", "cup.html", cwd=folder)
    assert done.returncode == 0
    assert done.stdout.startswith("cup.html\n")
    assert "visible steps" in " ".join(done.stdout.split())
    assert [line for line in done.stderr.splitlines() if "picture" in line or "sample" in line] == [
        "printprep: reading the picture", "printprep: judging a sample of it", "printprep: drawing pictures and charts",
    ]  # fmt: skip
    assert (folder / "cup.html").read_text("utf-8").startswith("<!DOCTYPE html>")
    assert not [p for p in folder.iterdir() if p.name.startswith(".printprep-")]


def test_rank_orders_files_and_goes_on_past_a_bad_one(folder: Path) -> None:
    (folder / "bad.tif").write_bytes(b"II*\0")
    done = run("rank", "cup.tif", "bad.tif", "cat.tif", "--paper", "cotton-rag", "-o", "contact.html", cwd=folder)
    assert done.returncode == 2
    assert "bad.tif" in done.stderr
    lines = done.stdout.splitlines()
    assert [line.split()[-1] for line in lines if line.endswith(".tif")] == ["cat.tif", "cup.tif", "bad.tif"]
    assert lines[-1] == "contact.html"
    assert done.stderr.count("typical values") == 1
    assert max(map(len, lines)) <= 80
    as_json = run("rank", "cup.tif", "cat.tif", "--paper", "cotton-rag", "--json", cwd=folder)
    assert [row["file"] for row in json.loads(as_json.stdout)["pictures"]] == ["cat.tif", "cup.tif"]


def test_compare_says_what_each_paper_loses(folder: Path) -> None:
    done = run("compare", "cup.tif", "--papers", "gloss, cotton-rag", "--room", "lux=80", "-o", "c.png", cwd=folder)
    assert done.returncode == 0, done.stderr
    assert "gloss" in done.stdout and "cotton-rag" in done.stdout
    assert done.stderr.count("warning") == 1
    assert (folder / "c.png").exists()
    unknown = run("compare", "cup.tif", "--papers", "glos", cwd=folder)
    assert "did you mean gloss?" in one_line_error(unknown)


@pytest.mark.parametrize("name", ["proof", "report", "rank", "compare"])
def test_missing_files_are_refused_in_one_line(folder: Path, name: str) -> None:
    where = {"proof": ("-o", "x.png"), "report": ("-o", "x.html"), "rank": (), "compare": ()}[name]
    paper = ("--papers", "gloss") if name == "compare" else ("--paper", "gloss")
    done = run(name, "nosuch.tif", *paper, *where, cwd=folder)
    assert "'nosuch.tif'" in one_line_error(done)
    assert not (folder / "x.png").exists() and not (folder / "x.html").exists()


@pytest.mark.parametrize("name", ["proof", "report", "rank", "compare"])
def test_names_that_cannot_be_written_are_refused_before_the_work(folder: Path, name: str) -> None:
    paper = ("--papers", "gloss") if name == "compare" else ("--paper", "gloss")
    (folder / "huge.tif").write_bytes(b"never read")
    done = run(name, "huge.tif", *paper, "-o", "x.jpg", cwd=folder)
    assert "choose such a name" in one_line_error(done)


def test_reports_of_several_pictures_share_an_index_that_links_them(folder: Path) -> None:
    (folder / "reports").mkdir()
    (folder / "torn.tif").write_bytes(b"II*\0")
    done = run("report", "cup.tif", "cat.tif", "torn.tif", *CONDITIONS, "-o", "reports/", cwd=folder)
    assert done.returncode != 0 and "torn.tif" in done.stderr
    index = (folder / "reports" / "index.html").read_text("utf-8")
    for name in ("cup", "cat"):
        assert f'<a href="{name}.html">{name}.tif</a>' in index
        page = (folder / "reports" / f"{name}.html").read_text("utf-8")
        again = "printprep report cup.tif cat.tif torn.tif --paper cotton-rag --room hallway --output reports/"
        assert again in page
    assert not (folder / "reports" / "torn.html").exists()
    once_more = run("report", "cup.tif", "cat.tif", *CONDITIONS, "-o", "reports", cwd=folder)
    assert "exists already" in one_line_error(once_more)
    nowhere = run("report", "cup.tif", "cat.tif", *CONDITIONS, "-o", "none", cwd=folder)
    assert "no such folder" in one_line_error(nowhere)
    made = run("report", "cup.tif", *CONDITIONS, "-o", "made/", cwd=folder)  # as prepare makes it
    assert made.returncode == 0
    assert sorted(path.name for path in (folder / "made").iterdir()) == ["cup.html", "index.html"]
    refused = run("report", "torn.tif", *CONDITIONS, "-o", "gone/", cwd=folder)
    assert refused.returncode != 0 and not (folder / "gone").exists()


def test_a_report_is_of_the_very_sheet_that_prepare_makes(folder: Path) -> None:
    sheet = ("--size", "A4", "--fill", "--margin", "20mm")
    done = run("prepare", "cup.tif", *CONDITIONS, *sheet, "-o", "sheet.tif", cwd=folder)
    said = dict(line.strip().split(": ", 1) for line in done.stdout.splitlines()[1:])
    size, lost = said["sheet"], said["still loses"]
    told = run("report", "cup.tif", *CONDITIONS, *sheet, "-o", "sheet.html", cwd=folder)
    assert told.returncode == 0, told.stderr
    page = (folder / "sheet.html").read_text("utf-8")
    for text in (page, " ".join(told.stdout.split())):
        assert size in text
    assert lost.split(";")[0].lower() in page.lower()
    assert "too few" in page and "too few" in told.stderr  # 200 pixels are
    assert "printprep report cup.tif --paper cotton-rag --room hallway --size A4 --margin 20mm --fill" in page


@pytest.fixture(scope="module")
def prepared(folder: Path) -> str:
    run("prepare", "cup.tif", *CONDITIONS, "-o", "done.tif", cwd=folder)
    return "done.tif"


@pytest.mark.parametrize("name", ["proof", "report", "rank", "compare"])
def test_a_prepared_file_is_judged_with_a_word(folder: Path, prepared: str, name: str) -> None:
    where = {"proof": ("-o", "a.png", "--pair"), "report": ("-o", "a.html")}.get(name, ("-o", f"{name}.html", "--json"))
    paper = ("--papers", "gloss") if name == "compare" else ("--paper", "gloss")
    done = run(name, prepared, *paper, *where, cwd=folder)
    assert done.returncode == 0
    assert sum("is prepared already" in line for line in done.stderr.splitlines()) == 1
    if name in ("rank", "compare"):
        found = json.loads(done.stdout)
        notes = found["notes"] if name == "compare" else found["pictures"][0]["notes"]
        assert "is prepared already" in notes[0]
        assert found["papers"][0]["place"] if name == "compare" else found["place"]
    if name != "proof":
        assert "is prepared already" in (folder / where[1]).read_text("utf-8").lower()
    edit = run(name, "cup.tif", *paper, *where, "--overwrite", cwd=folder)
    assert "prepared already" not in edit.stderr + edit.stdout


def test_compare_says_what_paper_and_room_show_in_80_columns(folder: Path) -> None:
    papers = "gloss,plain-uncoated"
    done = run("compare", "cat.tif", "--papers", papers, "--room", "museum", cwd=folder)
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    head, gloss = lines[0].split(), lines[1].split("  ")
    assert head[4:] == ["steps", "alone", "black", "apart", "paper"]
    assert "L* 5" in [part.strip() for part in gloss]  # the paper's darkest grey, see its preset
    assert sum(line.startswith("Light: 50 lx") for line in lines) == 1
