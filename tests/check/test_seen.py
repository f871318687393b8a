"""How a print is shown on a screen."""

from __future__ import annotations

from dataclasses import replace

import colour
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep.check import seen as module
from printprep.check.seen import as_in_reference_light, light_from, srgb
from printprep.check.simulate import printed
from printprep.colour.lab import D50, absolute, xyz_from_lab
from printprep.colour.visibility import jnd_index
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.viewing import luminance, white_luminance
from printprep.named import paper, room
from tests.support.solids import within

GLOSS = paper("gloss")
RAG = paper("cotton-rag")
STUDIO = room("studio-check")


def linear(encoded: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1 decoding, from memory."""
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def seen(lab: np.ndarray, on: Paper, where: Room) -> np.ndarray:
    """sRGB of the light of a print behind its pane."""
    return srgb(light_from(lab, on, where, glazing=True))


def luminance_shown(encoded: np.ndarray) -> np.ndarray:
    """Y of sRGB values, against the screen's white (IEC 61966-2-1)."""
    return np.asarray(linear(encoded.astype(np.float64)) @ np.array([0.2126729, 0.7151522, 0.0721750]))


def test_the_matrix_agrees_with_the_general_purpose_library() -> None:
    # colour-science: IEC 61966-2-1 primaries, Bradford adaptation to D50
    space = colour.RGB_COLOURSPACES["sRGB"]
    bradford = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        np.array(D50), colour.xy_to_XYZ(space.whitepoint), transform="Bradford"
    )
    expected = np.linalg.inv(space.matrix_RGB_to_XYZ) @ bradford
    assert np.abs(module._SRGB_FROM_XYZ_D50 - expected).max() < 2e-3
    assert module._SRGB_FROM_XYZ_D50 @ np.array(D50) == pytest.approx(np.ones(3), abs=5e-4)


def test_encoding_agrees_with_the_general_purpose_library() -> None:
    grey = np.linspace(0, 1, 41)
    ours = srgb((grey[:, None] * np.array(D50)).astype(np.float32))
    assert ours[:, 1] == pytest.approx(colour.models.eotf_inverse_sRGB(grey), abs=5e-4)


def test_white_is_the_papers_own_under_the_reference_light() -> None:
    white = np.array([[100, 0, 0]], np.float32)
    shown = seen(white, RAG, STUDIO)
    assert luminance_shown(shown) == pytest.approx(RAG.white_reflectance, abs=2e-3)
    assert shown[0, 2] < shown[0, 0]  # a natural white is warm
    assert seen(white, GLOSS, STUDIO)[0, 2] > seen(white, GLOSS, STUDIO)[0, 0]  # a brightened one is not


@given(lux=st.floats(5, 5000), glazing=st.sampled_from(("none", "clear", "low-reflection")), tone=st.floats(18, 100))
@settings(max_examples=40, deadline=None)
def test_tones_stand_to_white_as_luminances_do(lux: float, glazing: str, tone: float) -> None:
    where = Room(illuminance_lux=lux, glazing=glazing)  # type: ignore[arg-type]
    lab = np.array([[tone, 0, 0], [100, 0, 0]], np.float32)
    shown = luminance_shown(seen(lab, RAG, where))
    expected = float(luminance(tone, RAG, where)) / white_luminance(RAG, where)  # DICOM PS3.14, clause 7.3
    assert shown[0] / shown[1] == pytest.approx(expected, rel=0.02, abs=1e-3)


def test_glass_lifts_black_more_than_white() -> None:
    ends = np.array([[GLOSS.neutral_black, 0, 0], [100, 0, 0]], np.float32)
    bare = luminance_shown(seen(ends, GLOSS, STUDIO))
    glazed = luminance_shown(seen(ends, GLOSS, replace(STUDIO, glazing="clear")))
    assert glazed[0] > 3 * bare[0]
    assert glazed[1] < bare[1]


def test_printing_keeps_what_fits_and_clips_the_rest() -> None:
    lab = np.array([[50, 10, 10], [30, 60, -100]], np.float32)
    out = printed(lab, RAG)
    assert np.array_equal(out[0], lab[0])
    assert not np.array_equal(out[1], lab[1])
    assert within(RAG.solid, out, 0.1).all()


def test_colours_beyond_the_screen_keep_their_order() -> None:
    # a row of ever more colourful greens, beyond sRGB: clipping would show some of them alike in luminance
    lab = np.stack([np.full(8, 60.0) + np.arange(8), np.linspace(-60, -110, 8), np.linspace(30, 60, 8)], -1)
    shown = srgb(xyz_from_lab(lab.astype(np.float32)))
    assert (np.diff(luminance_shown(shown)) > 0).all()
    assert shown.min() >= 0
    assert shown.max() <= 1


def test_shows_absolute_colours() -> None:
    lab = np.array([[48.0, 55.0, 30.0]], np.float32)
    assert RAG.white is not None
    by_hand = srgb(xyz_from_lab(absolute(lab, np.array(RAG.white))).astype(np.float32))
    assert seen(lab, RAG, STUDIO) == pytest.approx(by_hand, abs=1e-3)


@given(lux=st.floats(5, 5000), glazing=st.sampled_from(("none", "clear", "low-reflection")))
@settings(max_examples=20, deadline=None)
def test_the_share_of_visible_steps_is_kept(lux: float, glazing: str) -> None:
    where = Room(illuminance_lux=lux, glazing=glazing)  # type: ignore[arg-type]
    lab = np.array([[20, 0, 0], [40, 0, 0], [70, 0, 0], [100, 0, 0]], np.float32)
    light = light_from(lab, RAG, where, glazing=True)
    shown = as_in_reference_light(light, RAG, where)[:, 1].astype(float)
    there = jnd_index(500 / np.pi * shown) - jnd_index(0.0)  # the reference: 500 lx, no pane
    here = jnd_index(luminance(lab[:, 0], RAG, where)) - jnd_index(0.0)  # DICOM PS3.14
    assert there / there[-1] == pytest.approx(here / here[-1], abs=2e-3)
    assert shown[-1] == pytest.approx(RAG.white_reflectance, abs=2e-3)
