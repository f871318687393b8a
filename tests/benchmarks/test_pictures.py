"""The test pictures are what they are said to be."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from printprep.colour.blackpoint import compensate
from printprep.colour.icc import lab_from_device
from printprep.colour.profile import Profile
from printprep.conditions.paper import Paper
from printprep.preset_files import shipped
from tests.support import pictures
from tests.support.solids import within

PAPER = Paper.from_measurement(shipped() / "measurements" / "FOGRA39L.txt")


def outside(lab: np.ndarray) -> np.ndarray:
    return ~within(PAPER.solid, compensate(lab, 0.0, PAPER.neutral_black).astype(np.float32), 1.0)


def every() -> dict[str, np.ndarray]:
    made = {name: pictures.beside(name)[0] for name in pictures.STRONG}
    made |= {name: make() for name, make in pictures.INTO_WHITE.items()}
    made |= {"type": pictures.thin_type("blue")[0], "darks": pictures.noisy_darks(), "edges": pictures.edges()[0]}
    made |= {"heads": pictures.three_heads()}
    made |= {"glow": pictures.glow(330)[0], "ramp": pictures.to_neutral(55, 30), "flat": pictures.flat((50, 70, 40))}
    return made | {"twice": pictures.twice((50, 70, 40))[0]}


@pytest.mark.parametrize("name", every())
def test_device_values_mean_the_picture(name: str) -> None:
    """By LittleCMS, through the named profile."""
    lab = every()[name]
    back = lab_from_device(pictures.romm(lab) / 65535, Profile.named("ROMM RGB").data)
    apart = np.linalg.norm(back - lab, axis=-1)
    assert np.quantile(apart, 0.9) < 0.5
    assert lab.dtype == np.float32 and lab.shape[:2] == pictures.romm(lab).shape[:2]


def test_strong_colours_lie_outside_and_calm_ones_inside() -> None:
    for name in pictures.STRONG:
        lab, areas = pictures.beside(name)
        assert outside(lab[areas == 11]).all()
        assert not outside(lab[(areas > 0) & (areas < 11)]).any()
        assert sorted(np.unique(areas)) == list(range(12))


def test_ramps_reach_white_and_leave_the_paper_near_it() -> None:
    for make in pictures.INTO_WHITE.values():
        lab = make()
        light = lab[..., 0] > 88
        assert light.mean() > 0.03 and lab[..., 0].max() > 96
        assert outside(lab)[light].mean() > 0.02
        assert np.abs(np.diff(lab, axis=1)).max() < 12  # no edges


def test_glow_is_in_order_and_leaves_the_paper() -> None:
    for hue in (30, 250, 330):
        lab, bands = pictures.glow(hue)
        L = [lab[..., 0][bands == k] for k in range(1, bands.max() + 1)]
        assert all(inner.min() > outer.max() for inner, outer in pairwise(L))
        assert outside(lab).mean() > 0.1


def test_noise_is_chroma_that_the_paper_lacks_in_darks_and_neutral_on_average() -> None:
    lab = pictures.noisy_darks()
    assert lab[..., 0].max() <= 16
    assert np.abs(lab[..., 1:].mean(axis=(0, 1))).max() < 0.2
    assert 5 < lab[..., 1].std() < 12


def test_areas_are_flat() -> None:
    for lab, areas in (pictures.edges(), pictures.twice((50, 70, 40)), pictures.thin_type("red")):
        for area in np.unique(areas[areas > 0]):
            assert np.ptp(lab[areas == area], axis=0).max() == 0


def test_skins_of_heads_lie_inside_and_the_cloth_behind_them_does_not() -> None:
    lab = pictures.three_heads()
    hue = np.degrees(np.arctan2(lab[..., 2], lab[..., 1]))
    skin = (np.hypot(lab[..., 1], lab[..., 2]) < 27) & (hue > 35) & (hue < 75)
    assert skin.mean() > 0.2
    assert not outside(lab)[skin].any()
    assert outside(lab)[~skin].mean() > 0.05
