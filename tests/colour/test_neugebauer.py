"""Mixing of inks: the equations written out, and one model for every printer that is computed."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep import named
from printprep.colour.neugebauer import YULE_NIELSEN, cube, mix
from printprep.targets.printer import ModelPrinter

_CORNERS = np.random.default_rng(5).uniform((20, -40, -40), (90, 40, 40), (2, 2, 2, 3))


@given(st.tuples(*[st.floats(0, 1)] * 3))
@settings(max_examples=30, deadline=None)
def test_a_mix_is_the_mean_of_its_areas(lights: tuple[float, float, float]) -> None:
    """Neugebauer 1937, Demichel 1924, Yule and Nielsen 1951, by loops; Lab and XYZ by colour-science."""
    import colour

    white = colour.XYZ_to_xy([0.9642, 1.0, 0.8249])
    total = np.zeros(3)
    for i in np.ndindex(2, 2, 2):
        area = np.prod([x if bright else 1 - x for x, bright in zip(lights, i, strict=True)])
        total += area * np.maximum(colour.Lab_to_XYZ(_CORNERS[i], white), 0) ** (1 / YULE_NIELSEN)
    expected = colour.XYZ_to_Lab(total**YULE_NIELSEN, white)
    assert np.abs(mix(_CORNERS, lights) - expected).max() < 0.02


def test_the_grid_has_the_corners_at_its_ends() -> None:
    assert np.abs(cube(_CORNERS, 2) - _CORNERS).max() < 1e-6
    assert np.abs(cube(_CORNERS, 5)[2, 4, 0] - mix(_CORNERS, (0.5, 1, 0))).max() < 1e-9


def test_the_target_is_shown_on_the_printer_that_the_gamut_is_of() -> None:
    """Every mix that the target's printer makes of two inks and paper lies on the edge of the paper's gamut."""
    for name in ("gloss", "cotton-rag"):
        paper = named.paper(name)
        dots = np.array([(c, m, 0.0) for c in (0.2, 0.5, 0.8, 1.0) for m in (0.1, 0.4, 0.7)])
        mixed = ModelPrinter(paper)._mixed(dots)
        outwards = mixed + mixed * (0, 1, 1) / np.hypot(mixed[:, 1], mixed[:, 2])[:, None]
        assert paper.solid.contains(mixed - (outwards - mixed)).all(), name
        assert not paper.solid.contains(outwards).any(), name
