"""The room: glazing by Fresnel, light by published levels, tables that check themselves."""

from __future__ import annotations

import pickle
from dataclasses import replace
from math import pi

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep.conditions.paper import Paper
from printprep.conditions.room import Reference, Room
from printprep.conditions.viewing import effective_black, luminance, white_luminance
from printprep.errors import ParameterError, PrintprepError, UnknownName


def paper(black: float = 4.05, white: float = 95.2) -> Paper:
    solids = {
        "cyan": (57.0, -40.0, -46.0), "magenta": (49.0, 76.0, -8.0), "yellow": (90.0, -5.0, 95.0),
        "red": (48.0, 70.0, 52.0), "green": (52.0, -66.0, 36.0), "blue": (24.0, 28.0, -58.0),
    }  # fmt: skip
    return Paper(title="made up", white=(white, 0.0, 0.0), black=(black, 0.0, 0.0), solids=solids)


def test_a_matt_white_in_the_standards_rooms() -> None:
    # L = E rho / pi, a matt surface. ISO 3664 P1 and P2; CIE 157:2004, 50 lx; values computed from the formula
    for lux, expected in ((2000, 636.6198), (500, 159.1549), (50, 15.9155)):
        sheet = paper(white=100.0)
        assert white_luminance(sheet, Room(illuminance_lux=lux)) == pytest.approx(expected, rel=1e-6)


def test_a_print_has_the_luminance_of_its_densities() -> None:
    # DICOM PS3.14 clause 7.3, L = La + L0 10**-D with L0 = E / pi; L* of D by ISO 5-1 and CIE 15
    sheet = paper(white=100.0)
    density_of = {100.0: 0.0, 46.776: 0.8, 20.682: 1.5, 8.991: 2.0}
    expected = [500 / pi * 10**-D for D in density_of.values()]
    np.testing.assert_allclose(luminance(list(density_of), sheet, Room()), expected, rtol=2e-4)


def test_a_pane_passes_twice_what_fresnel_lets_through() -> None:
    # Fresnel at right angles, n = 1.52, both faces, many reflections: T = 0.91832, two passes 0.84331
    assert Room(glazing="clear").transmittance == pytest.approx(0.84331, abs=2e-4)
    assert Room(glazing="low-reflection").transmittance == pytest.approx(0.98**2, abs=0.02)  # common practice
    assert Room(glazing="none").transmittance == 1


def test_a_pane_lifts_a_gloss_black() -> None:
    gloss = paper()
    assert gloss.neutral_black == pytest.approx(4.5, abs=0.3)
    assert effective_black(gloss, Room()) == pytest.approx(gloss.neutral_black, abs=1e-6)
    clear = Room(glazing="clear", wall_reflectance=0.5)
    assert clear.veil / (clear.transmittance * gloss.white_reflectance) == pytest.approx(0.05, abs=0.01)
    assert effective_black(gloss, clear) == pytest.approx(27, abs=2)  # a veil of 5 % of paper white
    assert effective_black(gloss, Room(glazing="low-reflection", wall_reflectance=0.5)) < 14
    unlit = Room(glazing="clear", wall_illuminance_lux=0)
    assert effective_black(gloss, unlit) == pytest.approx(gloss.neutral_black, abs=1e-6)


def test_canvas_hangs_without_a_pane() -> None:
    # stretched over a frame: common practice, no source
    glazed, bare = Room(glazing="clear"), Room()
    canvas = replace(GLOSS, surface="canvas")
    assert luminance(50.0, canvas, glazed) == luminance(50.0, canvas, bare)
    assert luminance(50.0, GLOSS, glazed) != luminance(50.0, GLOSS, bare)


@settings(max_examples=80, deadline=None)
@given(st.floats(0, 1), st.floats(0, 1), st.floats(1, 5000))
def test_a_lighter_wall_never_deepens_black(low: float, high: float, lux: float) -> None:
    low, high = sorted((low, high))
    rooms = [Room(illuminance_lux=lux, glazing="clear", wall_reflectance=w) for w in (low, high)]
    blacks = [effective_black(GLOSS, r) for r in rooms]
    assert blacks[0] <= blacks[1] + 1e-9


GLOSS = paper()


def test_two_lights_are_prepared_for_at_their_geometric_mean() -> None:
    assert Room(illuminance_lux=600, evening_illuminance_lux=60).prepared_lux == pytest.approx((600 * 60) ** 0.5)
    assert Room(illuminance_lux=80).prepared_lux == 80


def test_the_default_reference_serves_a_screen() -> None:
    # ISO 3664 P2; 500 lx on paper white is near a display at 140 cd/m2
    assert Room().reference.white_luminance(0.88) == pytest.approx(140, abs=1)
    assert Reference(screen_white_cd_m2=120).white_luminance(0.5) == 120
    assert Reference(screen_white_cd_m2=120, screen_black_cd_m2=0.3).flare == pytest.approx(0.0025)


def test_a_table_with_its_reference() -> None:
    room = Room.from_table({"illuminance_lux": 50, "glazing": "clear", "reference": {"illuminance_lux": 300}})
    assert room == Room(illuminance_lux=50, glazing="clear", reference=Reference(illuminance_lux=300))
    assert hash(room) == hash(pickle.loads(pickle.dumps(room)))


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"illuminance_lux": 0}, "illuminance_lux = 0: must be a number, 0.1 to 200000 (lux)"),
        ({"evening_illuminance_lux": -3}, "0.1 to 200000 (lux)"),
        ({"illuminance_lux": float("nan")}, "illuminance_lux"),
        ({"cct_kelvin": 100}, "1500 to 20000 (kelvin)"),
        ({"glazing": "frosted"}, "glazing = 'frosted'"),
        ({"surround": "grey"}, "surround = 'grey'"),
        ({"viewing_distance_m": "1 m"}, "viewing_distance_m"),
        ({"reference": {"illuminance_lux": -1}}, "illuminance_lux = -1"),
        ({"reference": {"screen_black_cd_m2": 0.2}}, "needs screen_white_cd_m2"),
        ({"reference": {"screen_white_cd_m2": 80, "screen_black_cd_m2": 9}}, "a tenth"),
    ],
)
def test_wrong_values_say_what_is_right(table: dict[str, object], words: str) -> None:
    with pytest.raises(ParameterError) as caught:
        Room.from_table(table)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_unknown_keys_are_refused_at_both_levels() -> None:
    with pytest.raises(UnknownName, match="did you mean illuminance_lux"):
        Room.from_table({"iluminance_lux": 50})
    with pytest.raises(UnknownName, match="did you mean screen_white_cd_m2"):
        Room.from_table({"reference": {"screen_white": 100}})
    with pytest.raises(PrintprepError, match="must be a table"):
        Room.from_table({"reference": 500})
