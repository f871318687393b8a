"""Each fault changes its own sign plainly, and the others hardly: the confusion table, over papers of all kinds."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from printprep import named
from printprep.colour.blackpoint import compensate
from printprep.colour.difference import ciede2000
from printprep.colour.icc import device_from_device, device_from_lab, lab_from_device
from printprep.colour.lab import lab_from_xyz, xyz_from_lab
from printprep.colour.profile import Profile
from printprep.conditions.paper import Paper
from printprep.targets.faults import (
    ABSOLUTE,
    FAULTS,
    LESS_INK,
    MORE_INK,
    NO_COMPENSATION,
    PERCEPTUAL,
    RIGHT,
    TWICE,
    UNMANAGED,
    Fault,
    PrintChain,
)
from printprep.targets.printer import ModelPrinter
from printprep.targets.shapes import BLACK, WHITE, LabTuple
from printprep.targets.signs import BEECH, CLEMATIS, COARSE, FINE, FLAKES, FOXGLOVE, PANES, REEDS_MM, SIGNS, Sign, reed
from tests.support.lutprofile import MatrixInk, output_profile

PAPERS = ("gloss", "lustre", "baryta", "smooth-matte", "cotton-rag", "canvas", "coated-proof")
VISIBLE = 1.5
"""CIEDE2000: a change of a sign that is seen (our choice)."""
PLAIN = 15.0
"""CIEDE2000 of a difference that nobody overlooks (our choice)."""
PAIRS: dict[str, list[tuple[LabTuple | None, LabTuple]]] = {
    "beech": [BEECH],
    "foxglove": [FOXGLOVE],
    "clematis": [CLEMATIS],
    "snow-line": [(None, lab) for lab in (WHITE, *FLAKES.values())],
    "night-window": [(BLACK, (v, 0.0, 0.0)) for v in PANES],
}
"""Colours whose difference is the sign; None stands for bare paper. Reeds is read by its lines."""
COMPANIONS = {ABSOLUTE.key: "night-window", MORE_INK.key: "night-window", LESS_INK.key: "night-window"}
"""Signs that a fault changes besides its own: absolute colorimetric never compensates black, and with more or less ink
the deepest black is another."""


@cache
def _state(sign: Sign, chain: PrintChain, fault: Fault = RIGHT) -> NDArray[np.float64]:
    """CIEDE2000 of each pair; for Reeds, of each disc against the field, seen from where lines melt."""
    if sign.key in PAIRS:
        pairs = PAIRS[sign.key]
        first = chain.printed([one or WHITE for one, _ in pairs], fault)
        first[[one is None for one, _ in pairs]] = WHITE
        return np.asarray(ciede2000(first, chain.printed([two for _, two in pairs], fault)))
    ends = xyz_from_lab(chain.printed([BLACK, WHITE], fault))
    spread = fault.spread_mm
    fine = np.array([min((reed(mm) + 2 * spread) / FINE, 1.0) for mm in REEDS_MM])
    coarse = np.full(len(fine), 0.5 + 2 * spread / COARSE)
    mixed = (lab_from_xyz(s[:, None] * ends[0] + (1 - s[:, None]) * ends[1]) for s in (fine, coarse))
    return np.asarray(ciede2000(*mixed))


def _change(sign: Sign, chain: PrintChain, fault: Fault) -> float:
    """CIEDE2000 by which the sign's most telling part grows or shrinks under a fault.

    Differences above `PLAIN` count as `PLAIN`: what stands out plainly is seen to stand out, not how far.
    """
    there, usual = (np.minimum(_state(sign, chain, f), PLAIN) for f in (fault, RIGHT))
    return float(np.abs(there - usual).max())


@cache
def _chain(paper: str) -> PrintChain:
    return PrintChain(named.paper(paper), Profile.named("ROMM RGB"))


def _own(fault: Fault) -> Sign:
    (sign,) = (s for s in SIGNS if fault in s.faults)
    return sign


def test_every_fault_has_one_sign_of_its_own() -> None:
    assert sorted(f.key for s in SIGNS for f in s.faults) == sorted(f.key for f in FAULTS[1:])
    assert len({s.key for s in SIGNS}) == len(SIGNS)
    assert set(COMPANIONS.values()) | set(PAIRS) <= {s.key for s in SIGNS}


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("fault", FAULTS[1:], ids=lambda fault: fault.key)
def test_confusion_table(paper: str, fault: Fault) -> None:
    """Own sign seen; every other changes by less than three quarters of it, those of named companions apart."""
    chain, own = _chain(paper), _own(fault)
    change = _change(own, chain, fault)
    assert change >= VISIBLE
    for other in SIGNS:
        if other is not own and other.key != COMPANIONS.get(fault.key):
            assert _change(other, chain, fault) < 0.75 * change, other.name


@pytest.mark.parametrize("paper", PAPERS)
def test_strong_signs_are_strong(paper: str) -> None:
    """Colour managed twice, not at all and perceptual: at least 8 CIEDE2000, and no more than 0.56 of it elsewhere."""
    chain = _chain(paper)
    for fault in (TWICE, UNMANAGED, PERCEPTUAL):
        change = _change(_own(fault), chain, fault)
        assert change >= 8
        rest = [_change(s, chain, fault) for s in SIGNS if s is not _own(fault)]
        assert max(rest) < 0.56 * change


@pytest.mark.parametrize("paper", PAPERS)
def test_how_signs_should_look(paper: str) -> None:
    """What the captions on the sheet promise."""
    states = {s.key: _state(s, _chain(paper)) for s in SIGNS}
    assert states["beech"][0] > PLAIN
    assert states["foxglove"][0] < 1
    assert states["clematis"][0] < 1
    assert states["snow-line"][0] < 0.1  # the ground is bare paper
    assert (states["snow-line"][1:] >= 1).sum() >= 5
    assert (states["night-window"] >= 1.5).sum() >= 4
    assert int(np.argmin(states["reeds"])) == REEDS_MM.index(0.020)


@pytest.mark.parametrize("paper", PAPERS)
def test_reeds_read_the_spread_of_ink(paper: str) -> None:
    reeds = next(s for s in SIGNS if s.key == "reeds")
    assert REEDS_MM[int(np.argmin(_state(reeds, _chain(paper), MORE_INK)))] >= 0.040
    assert REEDS_MM[int(np.argmin(_state(reeds, _chain(paper), LESS_INK)))] == 0.0


def test_night_window_closes_up_to_the_papers_black() -> None:
    """Without compensation every pane darker than the paper's black is as dark as the wall, and no other."""
    window = next(s for s in SIGNS if s.key == "night-window")
    for paper in PAPERS:
        chain = _chain(paper)
        state = _state(window, chain, NO_COMPENSATION)
        panes = np.array(PANES)
        assert (state[panes < chain.printer.black] < 0.05).all()
        assert (state[panes > chain.printer.black + 0.5] > 0.2).all()


def test_the_device_is_found_that_prints_a_colour() -> None:
    printer = ModelPrinter(named.paper("lustre"))
    device = np.random.default_rng(1).uniform(0, 1, (400, 3))
    lab = printer.lab(device)
    assert np.abs(printer.lab(printer.ask(lab)) - lab).max() < 0.05


@given(st.tuples(st.floats(0, 100), st.floats(-120, 120), st.floats(-120, 120)))
@settings(max_examples=25, deadline=None)
def test_no_printable_colour_is_much_nearer_than_the_one_found(lab: tuple[float, float, float]) -> None:
    printer = ModelPrinter(named.paper("canvas"))
    asked = np.array([lab])
    found = np.linalg.norm(printer.lab(printer.ask(asked)) - asked)
    steps = np.linspace(0, 1, 12)
    grid = printer.lab(np.stack(np.meshgrid(steps, steps, steps), -1).reshape(-1, 3))
    assert found <= np.linalg.norm(grid - asked, axis=-1).min() + 1e-3


def test_full_inks_print_as_measured() -> None:
    """FOGRA39L: solids and overprints of the chart, media-relative to its paper (values: FOGRA39L.txt)."""
    paper = named.paper("coated-proof")
    printer = ModelPrinter(paper)
    solids = {(0, 1, 1): (55, -37, -50), (1, 0, 1): (48, 74, -3), (1, 1, 0): (89, -5, 93),
              (1, 0, 0): (47, 68, 48), (0, 1, 0): (50, -65, 27), (0, 0, 1): (24, 22, -46)}  # fmt: skip
    from printprep.colour.lab import absolute

    printed = absolute(printer.lab(np.array(list(solids), float)), np.array([95.0, 0.0, -2.0]))
    assert np.abs(printed - np.array(list(solids.values()))).max() < 0.5


def test_greys_are_even_and_nearly_neutral() -> None:
    printer = ModelPrinter(named.paper("gloss"))
    lab = printer.lab(np.linspace(0, 1, 11)[:, None] * np.ones(3))
    assert (np.diff(lab[:, 0]) > 5).all()
    assert np.hypot(lab[:, 1], lab[:, 2]).max() < 3


# --- against LittleCMS, through a profile -----------------------------------------------------


@cache
def _profile_chain() -> PrintChain:
    ink = MatrixInk(12.0)
    return PrintChain(Paper.from_profile(output_profile(ink.lab, ink.rgb, lab_nodes=33)), Profile.named("ROMM RGB"))


def _some_lab() -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    rgb = np.random.default_rng(3).uniform(0.05, 0.95, (300, 3))
    return np.asarray(lab_from_device(rgb, Profile.named("sRGB").data), np.float64)


@pytest.mark.parametrize(
    ("fault", "intent", "compensation"),
    [(RIGHT, "relative", True), (NO_COMPENSATION, "relative", False), (PERCEPTUAL, "perceptual", True),
     (ABSOLUTE, "absolute", False)],
    ids=lambda value: getattr(value, "key", str(value)),
)  # fmt: skip
def test_with_a_profile_faults_are_what_littlecms_makes_of_them(fault: Fault, intent: str, compensation: bool) -> None:
    """The file's numbers through LittleCMS with that intent, and through the paper's profile back to Lab."""
    from skimage.color import deltaE_ciede2000

    chain, lab = _profile_chain(), _some_lab()
    paper = chain.paper.profile
    assert paper is not None
    file = device_from_lab(lab, chain.profile.data)
    device = device_from_device(file, chain.profile.data, paper, intent=intent, black_compensation=compensation)  # type: ignore[arg-type]
    expected = lab_from_device(np.clip(device, 0, 1), paper)
    apart = deltaE_ciede2000(chain.printed(lab, fault), expected)
    assert apart.mean() < 0.5
    assert np.percentile(apart, 95) < 1.5


def test_with_a_profile_unmanaged_numbers_go_through_as_they_are() -> None:
    chain, lab = _profile_chain(), _some_lab()
    assert chain.paper.profile is not None
    expected = lab_from_device(device_from_lab(lab, chain.profile.data), chain.paper.profile)
    assert np.abs(chain.printed(lab, UNMANAGED) - expected).max() < 1e-6


def test_right_prints_what_the_paper_holds_compensated() -> None:
    chain = _chain("cotton-rag")
    lab = np.array([[50.0, 0, 0], [70, 15, 20], [40, -12, 24]])
    assert np.abs(chain.printed(lab) - compensate(lab, 0, chain.printer.black)).max() < 0.05
