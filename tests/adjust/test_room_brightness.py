"""Room brightness: dim rooms lift, the reference leaves alone, the ends never move."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep.adjust._base import Steps
from printprep.adjust.room_brightness import RoomBrightness
from printprep.adjust.shadow_lift import ShadowLift
from printprep.colour.blackpoint import compensate
from printprep.conditions.conditions import Conditions
from printprep.conditions.paper import Paper
from printprep.conditions.room import Reference, Room
from printprep.errors import ParameterError
from printprep.testing import check_adjustment

SOLIDS = {
    "cyan": (57.0, -34.0, -43.0), "magenta": (50.0, 66.0, -4.0), "yellow": (88.0, -5.0, 84.0),
    "red": (48.0, 60.0, 38.0), "green": (50.0, -55.0, 24.0), "blue": (28.0, 16.0, -42.0),
}  # fmt: skip
GLOSS = Paper(title="made up", white=(95.5, 0.0, 0.0), black=(4.0, 0.0, 0.0), solids=SOLIDS)
MATTE = Paper(title="made up", white=(95.5, 0.0, 0.0), black=(16.0, 0.0, 0.0), solids=SOLIDS)


def greys(step: RoomBrightness, on: Conditions, at: np.ndarray[tuple[int], np.dtype[np.float32]]) -> list[float]:
    lab = np.stack([at, 0 * at, 0 * at], -1).astype(np.float32)
    out = step(lab, on)
    assert (out[:, 1:] == 0).all()
    return [float(x) for x in out[:, 0]]


def ramp(sheet: Paper, count: int = 40) -> np.ndarray[tuple[int], np.dtype[np.float32]]:
    return np.linspace(sheet.neutral_black, 100, count).astype(np.float32)


def test_it_keeps_the_promises() -> None:
    check_adjustment(RoomBrightness())
    check_adjustment(RoomBrightness(strength=1.5), Conditions(GLOSS, Room(illuminance_lux=5000)))


@settings(max_examples=60, deadline=None)
@given(st.sampled_from([GLOSS, MATTE]), st.lists(st.floats(1, 20_000), min_size=2, max_size=4), st.floats(0.1, 1.5))
def test_tones_follow_the_order_of_the_lights(sheet: Paper, lights: list[float], strength: float) -> None:
    at = ramp(sheet)
    rows = [
        greys(RoomBrightness(strength=strength), Conditions(sheet, Room(illuminance_lux=E)), at)
        for E in sorted(lights)
    ]
    for dim, bright in pairwise(rows):
        assert np.subtract(dim, bright).min() > -0.03  # a step of less than 0.02 L* is left out
        assert (np.diff(dim) > 0).all()


def test_the_ends_never_move() -> None:
    for lux in (1, 50, 20_000):
        at = ramp(MATTE)
        out = greys(RoomBrightness(strength=1.5), Conditions(MATTE, Room(illuminance_lux=lux)), at)
        assert out[0] == at[0]
        assert out[-1] == 100


def test_the_reference_is_the_identity() -> None:
    for room in (
        Room(),
        Room(illuminance_lux=50, reference=Reference(illuminance_lux=50)),
        Room(illuminance_lux=1000, evening_illuminance_lux=250),
    ):
        for strength in (None, 1.0, 1.5):
            assert RoomBrightness(strength=strength).idle(Conditions(MATTE, room))
    rho = GLOSS.white_reflectance
    screen = Reference(screen_white_cd_m2=500 * rho / np.pi)
    assert RoomBrightness(strength=1.0).idle(Conditions(GLOSS, Room(reference=screen)))


def test_brighter_rooms_are_left_alone_unless_asked() -> None:
    on = Conditions(GLOSS, Room(illuminance_lux=2000))
    assert RoomBrightness().idle(on)
    assert not RoomBrightness(strength=0.5).idle(on)
    at = ramp(GLOSS)
    moved = np.subtract(greys(RoomBrightness(strength=1.0), on, at), at)
    assert moved.min() < -3
    assert moved.max() <= 1e-5


def test_the_default_in_a_dim_room() -> None:
    # common practice, no source: dim rooms want lighter mid-tones
    on = Conditions(MATTE, Room(illuminance_lux=50))
    at = np.array([50.0, 30.0], np.float32)
    full, part = (np.subtract(greys(s, on, at), at) for s in (RoomBrightness(strength=1.0), RoomBrightness()))
    assert 2 < part[0] < 3  # of 5.3 that the model asks for
    assert (part < full).all()


def test_a_screen_that_is_brighter_asks_for_a_lighter_print() -> None:
    at = np.array([50.0], np.float32)
    prints = [
        greys(RoomBrightness(), Conditions(GLOSS, Room(reference=Reference(screen_white_cd_m2=w))), at)[0]
        for w in (140, 250, 400)
    ]
    assert prints == sorted(prints)
    assert prints[2] > prints[0] + 1


def test_a_portrait_in_good_light_on_gloss_is_unchanged() -> None:
    # a mid-tone picture: skin, cloth and a grey wall; CIEDE2000 (Sharma et al. 2005) by colour-science
    import colour

    rng = np.random.default_rng(3)
    means = np.array([[66, 16, 18], [52, 18, 20], [38, 4, -12], [60, 0, 0], [28, 3, 2]], float)
    edit = (means[:, None] + rng.normal(0, 4, (5, 400, 3))).reshape(-1, 3)
    before = np.asarray(compensate(edit, 0, GLOSS.neutral_black), np.float32)
    on = Conditions(GLOSS, Room())
    after = RoomBrightness()(ShadowLift()(before, on), on)
    difference = colour.difference.delta_E_CIE2000(before.astype(float), after.astype(float))
    assert difference.mean() < 0.5
    dim = RoomBrightness()(before, Conditions(GLOSS, Room(illuminance_lux=50)))
    assert colour.difference.delta_E_CIE2000(before.astype(float), dim.astype(float)).mean() > 2


def test_the_default_can_be_told() -> None:
    # so that a job ticket holds numbers
    assert RoomBrightness().resolved(Conditions(MATTE, Room(illuminance_lux=50))) == RoomBrightness(strength=0.45)
    assert RoomBrightness().resolved(Conditions(MATTE, Room(illuminance_lux=900))) == RoomBrightness(strength=0.0)
    assert RoomBrightness(strength=0.3).resolved(Conditions(MATTE, Room())) == RoomBrightness(strength=0.3)
    on = Conditions(MATTE, Room(illuminance_lux=50))
    (live,) = Steps((RoomBrightness(),)).live(on)
    lab = np.stack([ramp(MATTE)] * 3, -1)
    np.testing.assert_allclose(live(lab, on), RoomBrightness()(lab, on), atol=1e-3)


@pytest.mark.parametrize("strength", [-0.1, 1.6, float("nan"), "much"])
def test_strength_has_its_range(strength: object) -> None:
    with pytest.raises(ParameterError, match="strength"):
        RoomBrightness(strength=strength)  # type: ignore[arg-type]
