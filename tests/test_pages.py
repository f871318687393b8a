"""Every page that we make, as readers get it: phone and desk, light and dark, zoomed, without scripts, in print."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from skimage import data

import printprep as pp
from printprep.check.rank import Ranked, Ranking, wall_page
from tests.support.browser import Browser

if TYPE_CHECKING:
    from printprep.targets.target import Target

_MARGIN = 34.0
"""Points of white at the foot of a printed sheet: 12 mm."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """The page of a name; of reports in a folder, the index."""
    folder = tmp_path_factory.mktemp("pages")
    cup, cat = (pp.Photo.from_array(each(), "opRGB") for each in (data.coffee, data.chelsea))
    upright = pp.Photo.from_array(data.coffee()[:, 150:400].copy(), "opRGB")
    for name, photo in (("cup", cup), ("cat with a name that goes on and on and on", cat)):
        photo.write(folder / f"{name}.tif")
    files = sorted(folder.glob("*.tif"))
    pipe = pp.pipeline(paper="cotton-rag", room="museum")

    def write(name: str) -> None:
        page = folder / f"{name}.html"
        if name == "report":
            pp.report(pp.read(files[1]), pipe, command="printprep report cup.tif").write(page)
        elif name == "report of a cut sheet":
            sheet = pp.Sheet(size="A4", fill=True, caption="{file}")
            pp.report(upright, pp.pipeline(paper="canvas", room="window-wall", sheet=sheet)).write(page)
        elif name == "rank":
            pp.rank(files, pipe).write(page)
        elif name == "compare":
            pp.compare(pp.read(files[0]), ["gloss", "canvas", "cotton-rag"], room="museum", side=500).write(page)
        else:
            pages = [pp.report(pp.read(file), pipe) for file in files]
            ranked = []
            for file, each in zip(files, pages, strict=True):
                assert each.print_ is not None
                ranked.append(Ranked(file.name, file, each.loss, each.print_))
                each.write(folder / f"{file.stem}.html", overwrite=True)
            links = {str(f): f"{f.stem}.html" for f in files}
            if name == "wall":
                html = wall_page([(each, 50, "") for each in ranked], pipe, links)
            else:
                html = Ranking.of(ranked, pipe).sheet(links)
            page.write_text(html, "utf-8")

    def page(name: str) -> Path:
        if not (folder / f"{name}.html").exists():
            write(name)
        return folder / f"{name}.html"

    return page


PAGES = ("report", "report of a cut sheet", "index of reports", "wall", "rank", "compare", "target")


@pytest.fixture
def page(request: pytest.FixtureRequest, made: Callable[[str], Path], written_target: Target) -> Path:
    return written_target.page if request.param == "target" else made(request.param)


every = pytest.mark.parametrize("page", PAGES, indirect=True)


@every
@pytest.mark.parametrize(("width", "dark"), [(390, False), (390, True), (1366, False), (1366, True)])
def test_whole_quiet_and_accessible(browser: Browser, page: Path, width: int, dark: bool) -> None:
    browser.open(page, width=width, height=768, dark=dark)
    assert browser.messages() == [] and browser.requests() == [] and browser.broken_pictures() == []
    assert browser.run("return document.images.length") > 1
    assert browser.overflow() <= 0
    assert browser.accessibility() == []
    ground = browser.run("return getComputedStyle(document.documentElement).backgroundColor")
    assert (sum(map(int, ground[4:-1].split(","))) < 180) == dark


@every
def test_zoomed_to_twice_the_size_nothing_is_beside_the_window(browser: Browser, page: Path) -> None:
    browser.open(page, width=683, height=384)  # what a window of 1366 x 768 holds of it then
    assert browser.overflow() <= 0
    cut = browser.run(
        "return [...document.querySelectorAll('h1, h2, h3, p, li, figcaption, button, legend')]"
        ".filter(e => e.getClientRects().length && !e.closest('.wide, .unseen'))"
        ".filter(e => e.getBoundingClientRect().right > innerWidth + 1 || e.scrollWidth > e.clientWidth + 2)"
        ".map(e => e.outerHTML.slice(0, 90))"
    )
    assert cut == []


@every
def test_without_scripts_nothing_is_dead(browser: Browser, page: Path) -> None:
    with browser.without_scripts():
        browser.open(page, width=1366)
        assert browser.overflow() <= 0 and browser.broken_pictures() == []
        text = browser.run("return document.body.innerText")
        assert "Drag" not in text and "Copy the command" not in text
        dead = browser.run(
            "return [...document.querySelectorAll('input[type=range], button')].filter(e => e.getClientRects().length)"
            ".map(e => e.outerHTML)"
        )
    assert dead == []


@every
def test_in_print_no_heading_is_parted_from_what_it_heads(browser: Browser, page: Path) -> None:
    browser.open(page, width=1366)
    sheets, headings = browser.printed()
    shown = browser.run("return [...document.querySelectorAll('h1, h2')].map(e => e.textContent.trim())")
    assert {"".join(each.split()) for each in shown} <= {"".join(title.split()) for title, _, _ in headings}
    assert sheets <= 7
    assert {at for _, at, _ in headings} == set(range(sheets)), "a sheet without a heading ran over from another"
    parted = [title for title, _, up in headings if up < _MARGIN + 50]
    assert parted == []


@pytest.mark.parametrize("page", ["report", "report of a cut sheet"], indirect=True)
def test_a_printed_report_begins_its_sections_on_sheets_of_their_own(browser: Browser, page: Path) -> None:
    browser.open(page, width=1366)
    sheets, headings = browser.printed()
    tops = {title for title, at, up in headings if up == max(u for _, a, u in headings if a == at)}
    assert {"The hardest places", "Where it is lost", "Figures"} <= tops
    assert sheets <= 6


def test_the_index_leads_to_each_report_the_easiest_first(browser: Browser, made: Callable[[str], Path]) -> None:
    browser.open(made("index of reports"))
    links = browser.run("return [...document.querySelectorAll('.cards h2 a')].map(a => decodeURIComponent(a.href))")
    assert [Path(link).stem for link in links] == ["cat with a name that goes on and on and on", "cup"]
    for link in browser.driver.find_elements("css selector", ".cards h2 a")[:1]:
        link.click()
        assert browser.run("return document.querySelector('h1').textContent.length") > 10
        assert "cat with a name" in browser.run("return document.title")
