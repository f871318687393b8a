"""What is said of bare paper, on samples whose share is known."""

from __future__ import annotations

import numpy as np

from printprep.check.bare import bare_paper

GREY = np.full((100, 100, 3), 30_000, np.uint16)


def test_a_picture_without_white_says_nothing() -> None:
    assert bare_paper(GREY, keyline=False, margins=True) == ""


def test_shares_are_counted() -> None:
    white = GREY.copy()
    white[:25] = 65535
    said = bare_paper(white, keyline=False, margins=True)
    # 25 of 100 rows; of the edge, the upper side and a quarter of each of two: 150 of 400 pixels
    assert said.startswith("25 % of the picture is bare paper, as is 38 % of its edge; keyline=True draws")
    assert "highlight-hold.last_light=97" in said
    assert "edge" not in bare_paper(white, keyline=True, margins=True)
    assert "edge" not in bare_paper(white, keyline=False, margins=False)


def test_a_white_edge_alone() -> None:  # 100 of 400 pixels, and one more of each side beside it
    edge = GREY.copy()
    edge[0] = 65535
    assert bare_paper(edge, keyline=False, margins=True).startswith("26 % of its edge cannot be told from the margin")


def test_what_keeps_a_little_ink_is_not_bare() -> None:
    assert bare_paper(np.full((9, 9, 3), 65_000, np.uint16), keyline=False, margins=True) == ""
