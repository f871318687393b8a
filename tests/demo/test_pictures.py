"""Side-by-side pictures."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from printprep.check.seen import as_in_reference_light, light_from, srgb
from printprep.check.simulate import printed, simulation
from printprep.check.verdict import verdict
from printprep.colour.icc import lab_from_device
from printprep.colour.lab import xyz_from_lab
from printprep.colour.profile import Profile
from printprep.compose import pipeline
from printprep.demo import run
from printprep.demo.run import side_by_side, views, whole
from printprep.demo.scene import paint
from printprep.page import sheet as sheets
from printprep.page.sheet import Captioned

ROMM = Profile.named("ROMM RGB")
PIPE = pipeline(paper="cotton-rag", room="evening-sitting-room")
Codes = NDArray[np.uint16]


@pytest.fixture(scope="module")
def pair() -> tuple[Codes, Codes]:
    scene = paint(0.1)
    return scene, PIPE.apply(scene, ROMM)


def test_the_three_views_are_what_the_exact_chain_shows(pair: tuple[Codes, Codes]) -> None:
    shown = [v.astype(float) / 255 for v in views(*pair, simulation(ROMM.data, PIPE))]
    chain = PIPE.plan(ROMM).chain
    device = [codes.astype(np.float32) / 65535 for codes in pair]
    exact = [srgb(xyz_from_lab(lab_from_device(device[0], ROMM.data)).astype(np.float32))]
    for d in device:
        light = light_from(printed(chain.to_print(d), PIPE.paper), PIPE.paper, PIPE.room, glazing=True)
        exact.append(srgb(as_in_reference_light(light, PIPE.paper, PIPE.room)))
    for ours, theirs in zip(shown, exact, strict=True):
        assert np.abs(ours - theirs).mean() < 0.006


def test_the_prepared_print_shows_more_in_the_shadows(pair: tuple[Codes, Codes]) -> None:
    edit, plain, ready = (v.astype(float).mean(-1) for v in views(*pair, simulation(ROMM.data, PIPE)))
    dark = edit < 40
    assert ready[dark].mean() > plain[dark].mean() + 2
    assert ready[dark].std() > plain[dark].std()


def test_the_page_shows_both_prints_beside_the_edit(pair: tuple[Codes, Codes], monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[Captioned] = []
    feet: list[str] = []

    def kept(panels: list[Captioned], *, foot: str, **more: int) -> None:
        said.extend(panels)
        feet.append(foot)

    monkeypatch.setattr(run, "sheet", kept)
    edit, ready = pair
    found = verdict(edit.reshape(-1, 1, 3), ready.reshape(-1, 1, 3), ROMM, PIPE)
    side_by_side(edit, ready, ROMM, PIPE, found)
    assert [panel.title for panel in said] == ["The edit", "Left alone", "Prepared"]
    assert found.changed in said[2].note
    assert found.loses in feet[0]
    assert max(map(len, (said[2].note, feet[0]))) <= sheets._LONGEST  # none of it is cut off
    height, width = edit.shape[:2]
    for panel, view in zip(said, views(edit, ready, simulation(ROMM.data, PIPE)), strict=True):
        assert panel.picture.shape[1] == width
        assert panel.picture.shape[0] >= 3 * height
        assert np.array_equal(panel.picture[:height], view)


def test_the_whole_picture_is_at_most_so_long(pair: tuple[Codes, Codes]) -> None:
    assert max(whole(pair[0], ROMM, PIPE, 120).shape) == 120
    assert whole(pair[0], ROMM, PIPE).shape == pair[0].shape
