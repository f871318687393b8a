"""The report: a page that stands alone, says the figures, and works in a real browser by mouse, key and touch."""

from __future__ import annotations

import re
from contextlib import nullcontext
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from skimage import data

import printprep as pp
from printprep.check._pictures import maps, scale
from printprep.check._words import headline, verdict_lines
from printprep.check.loss import loss
from printprep.check.report import Report, report
from printprep.check.sampled import samples
from printprep.colour.difference import ciede2000
from printprep.errors import OutputError
from tests.support.browser import Browser


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> pp.Photo:
    path = tmp_path_factory.mktemp("edit") / "a cup & <saucer>.tif"
    pp.Photo.from_array(data.coffee(), "opRGB").write(path)
    return pp.read(path)


@pytest.fixture(scope="module")
def pipe() -> pp.Pipeline:
    return pp.pipeline(paper="cotton-rag", room="hallway")


@pytest.fixture(scope="module")
def made(photo: pp.Photo, pipe: pp.Pipeline) -> Report:
    return report(photo, pipe)


@pytest.fixture(scope="module")
def page(made: Report, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "report.html"
    made.write(path)
    return path


def test_the_page_stands_alone(made: Report) -> None:
    addresses = re.findall(r'(?:src|href|action)\s*=\s*"([^"]*)"', made.html)
    assert len(addresses) > 8
    assert all(a.startswith(("data:image/", "#")) for a in addresses)
    without_names = re.sub(
        r"https?://www\.w3\.org/[\w/.-]*", "", made.html
    )  # names of XML vocabularies, never asked for
    assert "http" not in without_names.replace("http-equiv", "")
    assert not re.search(r"url\((?!data:image/)", made.html)
    assert "default-src 'none'" in made.html


def test_names_cannot_become_markup(made: Report) -> None:
    assert "<saucer>" not in made.html
    assert "a cup &amp; &lt;saucer&gt;.tif" in made.html


def test_the_page_says_the_figures(made: Report, photo: pp.Photo, pipe: pp.Pipeline) -> None:
    found = loss(photo, pipe)
    assert found == made.loss
    text = made.html.replace("&#39;", "'")
    assert headline(found) in text
    for line in verdict_lines(found):
        assert line in text
    assert "CIEDE2000" in text and "JND" in text and "DICOM PS3.14" in text
    assert f">{found.prepared.steps:.0f}</td>" in text


def test_equal_runs_make_equal_pages(made: Report, photo: pp.Photo, pipe: pp.Pipeline) -> None:
    assert report(photo, pipe, threads=1).html == made.html


def test_every_name_in_the_page_is_used_once(made: Report) -> None:
    names = re.findall(r'\bid="([^"]+)"', made.html)
    assert len(names) == len(set(names))


def test_outputs_are_whole_or_not_at_all(made: Report, page: Path) -> None:
    with pytest.raises(OutputError, match="exists already"):
        made.write(page)
    with pytest.raises(OutputError, match=r"\.html"):
        made.write(page.with_suffix(".png"))
    assert [p.name for p in page.parent.iterdir()] == ["report.html"]


def _divider(browser: Browser) -> tuple[float, float]:
    """Where the divider is drawn, as a share of the width, and the value of the control under it."""
    at, value = browser.run(
        "const d = document.querySelector('.divide'), b = d.getBoundingClientRect(),"
        " l = d.querySelector('.line').getBoundingClientRect();"
        "return [(l.left + l.width / 2 - b.left) / b.width, +document.getElementById('divider').value];"
    )
    return float(at), float(value)


def test_the_divider_moves_by_key_and_by_mouse(browser: Browser, page: Path) -> None:
    from selenium.webdriver import ActionChains
    from selenium.webdriver.common.keys import Keys

    browser.open(page, width=1280)
    start, value = _divider(browser)
    assert start == pytest.approx(0.5, abs=0.01)
    assert value == 50
    thumb = browser.driver.find_element("id", "divider")
    thumb.send_keys(Keys.ARROW_RIGHT * 10)
    moved, value = _divider(browser)
    assert value == 60 and moved > start + 0.05
    thumb.send_keys(Keys.HOME)
    assert _divider(browser)[1] == 0
    said = thumb.get_attribute("aria-valuetext")
    assert said is not None and "prepared" in said
    wide = thumb.size["width"]
    browser.run("arguments[0].scrollIntoView({block: 'center'})", thumb)
    mouse = ActionChains(browser.driver).move_to_element_with_offset(thumb, int(-wide * 0.4), 20)
    mouse.click_and_hold().move_by_offset(int(wide * 0.65), 5).release().perform()
    at, value = _divider(browser)
    assert at == pytest.approx(0.75, abs=0.03)
    assert 70 < value < 80
    assert browser.messages() == []


def test_the_divider_follows_a_finger(browser: Browser, page: Path) -> None:
    browser.open(page, width=390, height=844)
    box = browser.run(
        "const i = document.getElementById('divider'); i.scrollIntoView({block: 'center'});"
        "const b = i.getBoundingClientRect(); return [b.left, b.top, b.width, b.height];"
    )
    y = box[1] + box[3] / 2
    touch = browser.driver.execute_cdp_cmd
    touch("Emulation.setTouchEmulationEnabled", {"enabled": True})
    for kind, share in (("touchStart", 0.5), ("touchMove", 0.4), ("touchMove", 0.25), ("touchEnd", None)):
        points = [] if share is None else [{"x": box[0] + share * box[2], "y": y}]
        touch("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    touch("Emulation.setTouchEmulationEnabled", {"enabled": False})
    at, _ = _divider(browser)
    assert at == pytest.approx(0.25, abs=0.05)


def test_the_two_sides_differ_where_the_divider_says(browser: Browser, page: Path, tmp_path: Path) -> None:
    from PIL import Image

    browser.open(page, width=1280)
    thumb = browser.driver.find_element("id", "divider")
    browser.run("arguments[0].scrollIntoView({block: 'center'})", thumb)
    shots = []
    for value in (0, 100):
        browser.run("arguments[0].value = arguments[1]; arguments[0].dispatchEvent(new Event('input'))", thumb, value)
        browser.picture(tmp_path / "shot.png")
        with Image.open(tmp_path / "shot.png") as opened:
            shots.append(np.asarray(opened.convert("RGB")).astype(int))
    assert np.abs(shots[0] - shots[1]).max() > 20


def test_on_paper_both_prints_stand_side_by_side(browser: Browser, page: Path) -> None:
    browser.open(page, width=1280)
    browser.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    shown = browser.run(
        "const i = [...document.querySelectorAll('.divide .left, .over img')].map(e => e.getBoundingClientRect());"
        "return [i[0].right <= i[1].left + 1, Math.abs(i[0].width - i[1].width) < 2,"
        " getComputedStyle(document.getElementById('divider')).display];"
    )
    browser.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert shown == [True, True, "none"]


def test_the_scale_is_even_and_falls_in_lightness() -> None:
    from printprep.colour.icc import lab_from_device
    from printprep.colour.profile import Profile

    colours = scale().astype(np.float64) / 255
    lab = lab_from_device(colours, Profile.named("sRGB").data)
    # between every 16th, so that rounding to 8 bits is small beside the step
    apart = ciede2000(lab[::16][:-1], lab[::16][1:])
    assert apart.max() / apart.min() < 1.2
    assert (np.diff(lab[::4, 0]) < 0).all()


def _mapped(photo: pp.Photo, pipe: pp.Pipeline) -> dict[str, dict[str, NDArray[np.uint8]]]:
    """Maps of a sample of a picture, of the print left alone and of the prepared one."""
    (taken,) = samples(photo, [pipe])
    return {name: maps(taken, each) for name, each in zip(("left_alone", "prepared"), taken.prints, strict=True)}


def test_maps_show_loss_where_it_is(pipe: pp.Pipeline) -> None:
    picture = np.full((90, 90, 3), 0.6)
    picture[:30, :30] = (0.05, 0.05, 1.0)
    picture[60:] = 0.02
    found = _mapped(pp.Photo.from_array(picture), pipe)["left_alone"]
    assert found["colour"][45, 45, 3] == 0
    assert found["colour"][10, 10, :3].min() < 150 and found["colour"][10, 10, 3] > 200
    assert found["shadows"][80, 45, :3].min() < 190 and found["shadows"][80, 45, 3] > 200
    assert found["shadows"][45, 45, 3] == 0
    assert not found["highlights"][..., 3].any()


@pytest.mark.parametrize("noise", [0.0, 0.08])
def test_maps_colour_exactly_what_the_captions_count(pipe: pp.Pipeline, noise: float) -> None:
    ramp = np.stack([np.linspace(0, 1, 400)] * 3, -1) * (1, 1, 0.4) + np.zeros((60, 1, 1))
    rgb = np.clip(ramp + np.random.default_rng(2).normal(0, noise, ramp.shape), 0, 1)
    photo = pp.Photo.from_array(rgb, "opRGB")
    figures = loss(photo, pipe)
    for name, found in _mapped(photo, pipe).items():
        for cause, picture in found.items():
            counted = getattr(getattr(figures, name), cause)
            assert float((picture[..., 3] > 0).mean()) == pytest.approx(counted, abs=1e-6), (name, cause)


def test_the_hardest_places_lie_where_the_loss_is_pixel_by_pixel(pipe: pp.Pipeline) -> None:
    rng = np.random.default_rng(1)
    picture = np.full((900, 1200, 3), 0.6)
    picture[650:800, 900:1100] = (0.05, 0.3, 1.0) * rng.uniform(0.5, 1, (150, 200, 1))
    made = report(pp.Photo.from_array(picture, "opRGB"), pipe)
    keys = re.findall(r'id="place-([a-z-]+)"', made.html)
    assert keys == ["lower-right"]
    assert 'href="#part-lower-right"' in made.html and 'id="part-lower-right"' in made.html
    assert 'href="#place-lower-right"' in made.html
    assert made.html.count('width="330" height="248"') == 3


def _seen(browser: Browser) -> list[str]:
    """Which of the large pictures can be seen."""
    found: list[str] = browser.run(
        "return [...document.querySelectorAll('.divide img')].filter(i => i.getClientRects().length).map(i => i.alt)"
    )
    return found


@pytest.mark.parametrize("scripted", [True, False])
def test_a_switch_shows_the_edit_left_alone_or_prepared(browser: Browser, page: Path, scripted: bool) -> None:
    with nullcontext() if scripted else browser.without_scripts():
        browser.open(page, width=1366, height=768)
        assert len(_seen(browser)) == 2
        for key, said in (("edit", "The edit"), ("left", "left alone"), ("ready", "prepared"), ("both", "")):
            browser.driver.find_element("id", f"see-{key}").click()
            seen = _seen(browser)
            assert len(seen) == (2 if key == "both" else 1)
            assert said in seen[0]


def test_without_a_script_both_prints_stand_side_by_side(browser: Browser, page: Path) -> None:
    with browser.without_scripts():
        browser.open(page, width=1366)
        boxes = browser.run(
            "return [...document.querySelectorAll('.divide .left, .divide .over img')]"
            ".map(i => i.getBoundingClientRect()).map(b => [b.left, b.right])"
        )
    assert boxes[0][1] <= boxes[1][0]


def test_a_portrait_is_whole_in_the_window_with_its_labels(
    browser: Browser, pipe: pp.Pipeline, tmp_path: Path
) -> None:
    upright = pp.Photo.from_array(data.coffee()[:, 150:400].copy(), "sRGB")
    report(upright, pipe).write(tmp_path / "upright.html")
    for width, height in ((1366, 768), (390, 844)):
        browser.open(tmp_path / "upright.html", width=width, height=height)
        top, bottom = browser.run(
            "document.querySelector('.stage').scrollIntoView();"
            "return [document.querySelector('.sides').getBoundingClientRect().top,"
            " document.querySelector('.divide').getBoundingClientRect().bottom]"
        )
        assert top >= 0 and bottom <= height


def test_the_page_says_when_and_by_what_it_was_made_and_how_to_make_it_again(
    browser: Browser, photo: pp.Photo, pipe: pp.Pipeline, tmp_path: Path
) -> None:
    from datetime import date

    command = "printprep report 'a cup.tif' --paper cotton-rag -o x.html"
    made = report(photo, pipe, command=command)
    made.write(tmp_path / "x.html")
    assert date.today().isoformat() in made.html and pp.__version__ in made.html
    assert photo.profile.description in made.html
    browser.open(tmp_path / "x.html", width=390)
    browser.run("document.getElementById('copy').click()")
    assert browser.run("return getSelection().toString()") == command
    assert browser.run("return [...document.querySelectorAll('.scrolls')].every(e => e.getClientRects().length)")
    assert browser.accessibility() == []
