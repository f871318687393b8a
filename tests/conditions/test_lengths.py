"""Lengths and sheet sizes, against ISO 216."""

from __future__ import annotations

from contextlib import suppress

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printprep.conditions.lengths import SIZES, length, size
from printprep.errors import ParameterError


def test_sizes_are_those_of_iso_216() -> None:
    # ISO 216:2007, table 1, trimmed sizes of the A series
    table = {"A0": (841, 1189), "A1": (594, 841), "A2": (420, 594), "A3": (297, 420), "A4": (210, 297)}
    assert {name: size(name) for name in table} == table
    # and its principle: an area of 1 square metre, halved each time, sides 1 : sqrt(2), to the millimetre
    for k in range(7):
        width, height = SIZES[f"A{k}"]
        assert abs(height - 1000 * 2 ** (1 / 4 - k / 2)) < 1 and abs(width - 1000 * 2 ** (-1 / 4 - k / 2)) < 1
    assert size("a3+") == (329, 483)  # common practice, no source: 13 x 19 inches and a little
    assert size(" a4 ") == (210, 297)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [("300x450mm", (300, 450)), ("8x10in", (203.2, 254)), ("8 × 10 inch", (203.2, 254)), ("30,5x40.5 cm", (305, 405))],
)
def test_dimensions(text: str, wanted: tuple[float, float]) -> None:
    assert size(text) == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("text", "wanted"), [("15mm", 15), ("1.5 cm", 15), ('2"', 50.8), ("0.8m", 800), (".5in", 12.7)]
)
def test_lengths(text: str, wanted: float) -> None:
    assert length("margin", text) == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("300x450", "has no unit; write 300x450mm or 300x450in"),
        ("A44", "did you mean A4"),
        ("3x4ft", "unknown unit, ft; use mm, cm, m or in"),
        ("", "must be a size such as A4"),
        ("large", "must be a size"),
        (4, "must be a size"),
    ],
)
def test_what_is_no_size(text: object, said: str) -> None:
    with pytest.raises(ParameterError, match=said):
        size(text)


@pytest.mark.parametrize(("text", "said"), [("15", "has no unit"), ("x", "such as 15mm"), ("-3mm", "such as 15mm")])
def test_what_is_no_length(text: str, said: str) -> None:
    with pytest.raises(ParameterError, match=said):
        length("margin", text)


@given(st.text(max_size=12))
def test_any_text_is_a_size_or_refused(text: str) -> None:
    for read in (size, lambda t: length("margin", t)):
        with suppress(ParameterError):
            assert np.isfinite(read(text)).all()
