import imagecodecs
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printprep.colour.blackpoint import compensate, destination_black, source_black, uncompensate
from printprep.colour.icc import device_from_device, device_from_lab, lab_from_device
from tests.support.lutprofile import MatrixInk, output_profile

# ISO 18619:2015, 4.2.6 and 4.2.7: XYZ scaling about white, worked through for a black of L* 16 and of L* 3
WORKED = [
    (16, (0, 0, 0), (16.0, 0.0, 0.0)),
    (16, (5, 0, 0), (18.5456, 0.0, 0.0)),
    (16, (50, 0, 0), (51.9853, 0.0, 0.0)),
    (16, (100, 0, 0), (100.0, 0.0, 0.0)),
    (16, (30, 20, -40), (34.4048, 16.6924, -35.4262)),
    (3, (50, 60, 40), (50.3221, 59.3948, 39.0418)),
    (20, (80, 0, 0), (80.7255, 0.0, 0.0)),
]


@pytest.mark.parametrize(("black", "lab", "expected"), WORKED)
def test_worked_example(black: float, lab: tuple[float, ...], expected: tuple[float, ...]) -> None:
    assert np.allclose(compensate(np.array(lab, float), 0, black), expected, atol=1e-3)


@given(st.floats(0, 30), st.floats(0, 40), st.tuples(st.floats(0, 100), st.floats(-60, 60), st.floats(-60, 60)))
def test_undone_exactly(black_in: float, black_out: float, lab: tuple[float, float, float]) -> None:
    there = compensate(np.array(lab), black_in, black_out)
    assert np.allclose(uncompensate(there, black_in, black_out), lab, atol=1e-6)


def test_colour_spaces_have_a_black_of_zero() -> None:
    assert source_black(bytes(imagecodecs.cms_profile("srgb"))) == pytest.approx(0, abs=1e-4)


@pytest.mark.parametrize("black", [4.0, 10.0, 17.0, 28.0])
def test_destination_black_is_the_one_littlecms_compensates_to(black: float) -> None:
    ink = MatrixInk(black)
    profile = output_profile(ink.lab, ink.rgb, lab_nodes=33)
    assert destination_black(profile) == pytest.approx(black, abs=0.05)
    srgb = bytes(imagecodecs.cms_profile("srgb"))
    colours = np.random.default_rng(1).random((2000, 3))
    theirs = device_from_device(colours, srgb, profile, black_compensation=True)  # LittleCMS, ISO 18619
    ours = device_from_lab(compensate(lab_from_device(colours, srgb), 0, destination_black(profile)), profile)
    assert np.abs(ours - theirs).mean() * 65535 < 1


def test_crushed_shadows_are_found_by_the_parabola() -> None:
    """A table whose way back loses everything under L* 40 has its black read off the curve, not off the ink."""
    ink = MatrixInk(8)

    def crushed(lab: np.ndarray) -> np.ndarray:
        out = lab.copy()
        out[:, 0] = np.where(lab[:, 0] < 45, 8 + (np.clip(lab[:, 0] - 20, 0, None) / 25) ** 2 * 37, lab[:, 0])
        return ink.rgb(out)

    profile = output_profile(ink.lab, crushed, lab_nodes=65)
    srgb = bytes(imagecodecs.cms_profile("srgb"))
    colours = np.random.default_rng(1).random((2000, 3))
    theirs = device_from_device(colours, srgb, profile, black_compensation=True)  # LittleCMS's own estimate
    ours = device_from_lab(compensate(lab_from_device(colours, srgb), 0, destination_black(profile)), profile)
    assert destination_black(profile) > 15
    assert np.abs(ours - theirs).mean() * 65535 < 20
