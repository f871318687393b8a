"""The page beside the target, as a reader gets it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from printprep.targets.faults import FAULTS
from printprep.targets.signs import SIGNS

if TYPE_CHECKING:

    from printprep.targets.target import Target
    from tests.support.browser import Browser


def test_every_sign_and_fault_is_there_and_nothing_is_fetched(written_target: Target) -> None:
    html = written_target.page.read_text("utf-8")
    for sign in SIGNS:
        assert f">{sign.name}</h3>" in html
    for fault in FAULTS:
        assert html.count(fault.title) > 2
    assert not re.search(r"""(?:src|href)\s*=\s*["'](?!data:|#)|url\(|@import|<script""", html)


def test_all_pictures_are_there(written_target: Target, browser: Browser) -> None:
    browser.open(written_target.page)
    assert browser.run("return document.images.length") == len(SIGNS) + (len(FAULTS) - 1) + len(FAULTS)


def test_faults_are_chosen_by_keyboard(written_target: Target, browser: Browser) -> None:
    from selenium.webdriver.common.keys import Keys

    shown = "return [...document.querySelectorAll('.sheets > div')].filter(d => d.offsetHeight).map(d => d.className)"
    browser.open(written_target.page)
    assert browser.run(shown) == ["see-right"]
    browser.run("document.getElementById('see-right').focus()")
    for fault in FAULTS[1:]:
        browser.driver.switch_to.active_element.send_keys(Keys.ARROW_RIGHT)
        assert browser.run(shown) == [f"see-{fault.key}"]
