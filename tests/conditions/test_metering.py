"""The camera as a light meter, against published tables of exposure values."""

from __future__ import annotations

from math import pi

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep.conditions.metering import illuminance_from_metered, parse_room
from printprep.errors import ParameterError, PrintprepError

# Tables of exposure value at ISO 100 for K = 12.5 (ISO 2720, from memory; the same figures are in photographic
# handbooks): luminance 0.125 cd/m2 at EV 0, twice as much for each step.
EV_100 = [
    ("f/1 1s ISO 100", 0, 0.125),
    ("f/1.4 1/2 ISO 100", 2, 0.5),
    ("f/2 1/4 ISO 100", 4, 2),
    ("f/4 1/8 ISO 100", 7, 16),
    ("f/5.6 1/30 ISO 100", 10, 128),
    ("f/8 1/60 ISO 100", 12, 512),
    ("f/16 1/125 ISO 100", 15, 4096),
]


@pytest.mark.parametrize(("text", "value", "luminance"), EV_100)
def test_exposure_values_at_iso_100(text: str, value: int, luminance: float) -> None:
    # nominal apertures and times are rounded: 1.4 for the root of 2, 1/30 for 1/32, 1/125 for 1/128
    assert illuminance_from_metered(text) * 0.85 / pi == pytest.approx(luminance, rel=0.09)


def test_a_white_sheet_at_500_lx() -> None:
    # 500 lx on a matt sheet of 0.85 is 135.28 cd/m2 (E rho / pi), which asks for N**2 / (t S) = 10.82
    assert illuminance_from_metered("f/5.6 1/34.5 ISO 100") == pytest.approx(500, rel=0.01)


@pytest.mark.parametrize(
    "text",
    [
        "f/4 1/15 ISO 400", "F4 1/15s iso400", "f4, 1/15 s, ISO400", "ISO 400 f/4.0 1/15 sec",
        "1/15 f/4 ISO 400", "f/4,0 1/15 ISO-400", "  f / 4   1 / 15   ISO:400 ", "f/4 @ 1/15 seconds ISO 400",
    ],
)  # fmt: skip
def test_usual_notations(text: str) -> None:
    assert illuminance_from_metered(text) == pytest.approx(12.5 * 16 * 15 / 400 * pi / 0.85)


@pytest.mark.parametrize("text", ["f/8 2s ISO 200", 'f/8 2" ISO 200', "f/8 2 ISO 200", "f/8 2.0 sec iso200"])
def test_whole_seconds(text: str) -> None:
    assert illuminance_from_metered(text) == pytest.approx(12.5 * 64 / (2 * 200) * pi / 0.85)


@pytest.mark.parametrize("text", ["f/8 0.5s ISO 200", "f/8 0,5 s ISO 200", "f/8 .5 ISO 200", "f/8 1/2 ISO 200"])
def test_parts_of_a_second(text: str) -> None:
    assert illuminance_from_metered(text) == pytest.approx(12.5 * 64 / (0.5 * 200) * pi / 0.85)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no aperture"),
        ("4 1/15 ISO 400", "no aperture"),
        ("f/4 ISO 400", "no shutter time"),
        ("f/4 1/15", "no ISO"),
        ("f/4 1/15 1/30 ISO 400", "more than one shutter time"),
        ("f/4 f/8 1/15 ISO 400", "more than one aperture"),
        ("f/4 1/0 ISO 400", "shutter time must be 0.00001 to 3600"),
        ("f/0 1/15 ISO 400", "aperture must be 0.5 to 128"),
        ("f/4 1/15 ISO 0", "ISO must be 1 to 10000000"),
        ("f/4 1/15 ISO 400 +1 EV", "'+1 EV' is not understood"),
        ("f/4 -1/15 ISO 400", "shutter time"),
        ("f/4 1/15 ISO 400 please", "'please' is not understood"),
    ],
)
def test_what_is_wrong_is_named(text: str, words: str) -> None:
    with pytest.raises(ParameterError) as caught:
        illuminance_from_metered(text)
    assert words in str(caught.value)
    assert "write it as 'f/4 1/15 ISO 400'" in str(caught.value)


@settings(max_examples=40, deadline=None)
@given(st.text(max_size=30))
def test_any_text_is_an_answer_or_one_line(text: str) -> None:
    for answer in (illuminance_from_metered, lambda words: parse_room(words).illuminance_lux):
        try:
            lux, line = answer(text), ""
        except PrintprepError as error:
            lux, line = 1.0, str(error)
        assert lux > 0
        assert len(line.splitlines()) <= 1


def test_a_room_in_a_few_words() -> None:
    assert parse_room("lux=85").illuminance_lux == 85
    room = parse_room("lux = 85, glazing=clear, wall_reflectance=0.3")
    assert (room.glazing, room.wall_reflectance) == ("clear", 0.3)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("lux", "not a room"),
        ("lux=", "not a room"),
        ("lux=5,lux=6", "there twice"),
        ("glazing=clear", "add lux=85"),
        ("lux=-4", "0.1 to 200000 (lux)"),
        ("lux=nan", "illuminance_lux"),
        ("lux=bright", "illuminance_lux = 'bright'"),
        ("lux=85,glass=clear", "unknown key"),
        ("lux=85,reference=500", "must be a table"),
    ],
)
def test_no_room(text: str, words: str) -> None:
    with pytest.raises(PrintprepError) as caught:
        parse_room(text)
    assert words in str(caught.value)
