"""Ranking pictures and comparing papers: order, figures, pages."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from skimage import data

import printprep as pp
from printprep.check.compare import Comparison, compare
from printprep.check.loss import loss
from printprep.check.rank import Ranking, rank
from printprep.errors import OutputError
from tests.support.browser import Browser


def mild() -> pp.Photo:
    """Quiet mid-tones."""
    y, x = np.mgrid[0:60, 0:90] / 90
    return pp.Photo.from_array(np.stack([0.45 + 0.2 * x, 0.45 + 0.15 * y, 0.5 + 0.1 * x], -1))


def strong() -> pp.Photo:
    """Hard colours on black."""
    picture = np.zeros((60, 90, 3))
    picture[5:55, 5:40] = (0.0, 0.1, 1.0)
    picture[5:55, 50:85] = (0.1, 1.0, 0.0)
    return pp.Photo.from_array(picture)


def cup() -> pp.Photo:
    return pp.Photo.from_array(data.coffee()[::3, ::3])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("edits")
    for name, photo in (("strong", strong()), ("mild", mild()), ("cup", cup())):
        photo.write(place / f"{name}.tif")
    (place / "broken.tif").write_bytes(b"no picture")
    return place


@pytest.fixture(scope="module")
def ranking(folder: Path) -> Ranking:
    names = ["strong", "broken", "cup", "mild"]
    return rank([folder / f"{n}.tif" for n in names], pp.pipeline(paper="cotton-rag", room="hallway"))


@pytest.fixture(scope="module")
def comparison() -> Comparison:
    return compare(cup(), ["gloss", "cotton-rag", pp.paper("plain-uncoated")], room="hallway", side=300)


def test_mild_pictures_come_first_and_unreadable_ones_last(ranking: Ranking) -> None:
    """Beginners start with mild tones; strong colours and dark backgrounds are hard: common practice, no source."""
    assert [each.name for each in ranking.pictures] == ["mild.tif", "cup.tif", "strong.tif", "broken.tif"]
    assert ranking.pictures[-1].loss is None and ranking.pictures[-1].error is not None
    scores = [each.loss.score for each in ranking.pictures if each.loss]
    assert scores == sorted(scores)
    assert scores[0] < 0.01 and scores[-1] > 0.3


def test_the_score_is_the_share_that_loses_visibly(ranking: Ranking) -> None:
    exact = loss(strong(), ranking.pipe)
    hard = ranking.pictures[2].loss
    assert hard is not None
    assert hard.score == pytest.approx(exact.score, abs=0.01)
    assert hard.score == hard.prepared.visible


def test_the_table_fits_80_columns_and_says_why(ranking: Ranking) -> None:
    lines = str(ranking).splitlines()
    assert max(map(len, lines)) <= 80
    named = [line for line in lines if re.search(r"\w+\.tif$", line)]
    assert [line.split()[-1] for line in named] == ["mild.tif", "cup.tif", "strong.tif", "broken.tif"]
    under = lines[lines.index(named[2]) + 1]
    assert any(word in under for word in ("blues", "greens", "blacks"))
    assert "…" not in str(ranking)
    assert "cannot be judged" in lines[lines.index(named[3]) + 1]
    assert sum("Black: the darkest" in line for line in lines) == 1


def test_json_has_every_figure(ranking: Ranking) -> None:
    rows = json.loads(ranking.to_json())["pictures"]
    assert len(rows) == 4
    assert rows[0]["score"] == ranking.pictures[0].loss.score  # type: ignore[union-attr]
    assert {"colour", "shadows", "highlights", "difference"} <= set(rows[0]["prepared"]) == set(rows[0]["left_alone"])
    assert "error" in rows[3]


def test_photographs_can_be_ranked_without_files() -> None:
    made = rank([strong(), mild()], pp.pipeline(paper="gloss"), threads=1)
    first, second = (each.loss for each in made.pictures)
    assert first is not None and second is not None and first.score < second.score


def test_an_interrupt_ends_the_ranking(folder: Path) -> None:
    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        rank([folder / "cup.tif", folder / "mild.tif"], pp.pipeline(paper="gloss"), progress=stop)


def test_the_contact_sheet_in_a_browser(browser: Browser, ranking: Ranking, tmp_path: Path) -> None:
    page = tmp_path / "contact.html"
    ranking.write(page)
    browser.open(page)
    names = browser.run("return [...document.querySelectorAll('.cards h2')].map(e => e.innerText)")
    assert names == ["1. mild.tif", "2. cup.tif", "3. strong.tif"]
    assert "broken.tif" in browser.run("return document.body.innerText")
    with pytest.raises(OutputError):
        ranking.write(page)


def test_each_paper_loses_its_own(comparison: Comparison) -> None:
    gloss, rag, plain = comparison.papers
    assert gloss.loss.left_alone.steps > rag.loss.left_alone.steps > plain.loss.left_alone.steps
    assert plain.loss.outside > gloss.loss.outside
    alone = loss(cup(), rag.pipe)
    assert rag.loss == alone
    text = str(comparison)
    assert max(map(len, text.splitlines())) <= 80
    assert "cotton-rag" in text
    rows = json.loads(comparison.to_json())["papers"]
    assert [row["paper"] for row in rows][:2] == ["gloss", "cotton-rag"]
    assert rows[2]["score"] == plain.loss.score


def test_papers_stand_in_order_of_how_near_they_come(comparison: Comparison) -> None:
    apart = [round(p.loss.prepared.from_edit, 1) for p in comparison.papers]
    assert apart == sorted(apart)
    assert comparison.papers[0].pipe.paper_name == "gloss"  # black L* 5, 18 and 29
    assert comparison.verdict in comparison.html
    assert comparison.papers[0].title in comparison.verdict
    for p in comparison.papers:
        assert p.alone.shape == p.print_.shape == comparison.edit.shape
        assert np.abs(p.alone.astype(int) - comparison.edit.astype(int)).max() > 8


def test_papers_stand_side_by_side(comparison: Comparison, tmp_path: Path) -> None:
    comparison.write(tmp_path / "papers.png")
    with Image.open(tmp_path / "papers.png") as opened:
        assert opened.width > 3 * comparison.papers[0].print_.shape[1]
    with Image.open(io.BytesIO(comparison._repr_png_())) as opened:
        assert np.array_equal(np.asarray(opened), comparison.picture)
    with pytest.raises(OutputError, match=r"\.png or \.html"):
        comparison.write(tmp_path / "papers.gif")
