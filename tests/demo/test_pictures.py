"""Side-by-side pictures and the plot of tones."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from printprep.check._tone import edit_tones, print_tones
from printprep.check.seen import edit_on_screen, printed, seen
from printprep.check.simulate import simulation
from printprep.colour.icc import lab_from_device
from printprep.colour.profile import Profile
from printprep.compose import pipeline
from printprep.demo import curves
from printprep.demo._sheet import Page
from printprep.demo.pictures import Pair, side_by_side, whole
from printprep.demo.scene import paint
from printprep.errors import OutputError

ROMM = Profile.named("ROMM RGB")
PIPE = pipeline(paper="cotton-rag", room="evening-sitting-room")


@pytest.fixture(scope="module")
def pair() -> Pair:
    scene = paint(0.1)
    return Pair(scene, PIPE.apply(scene, ROMM), ROMM, PIPE)


def full(pair: Pair) -> tuple[tuple[slice, slice], tuple[int, int]]:
    height, width = pair.edit.shape[:2]
    return (slice(0, height), slice(0, width)), (height, width)


def test_the_three_views_are_what_the_exact_chain_shows(pair: Pair) -> None:
    edit, plain, ready = (v.astype(float) / 255 for v in pair.views(*full(pair)))
    chain = PIPE.plan(ROMM).chain
    device = pair.edit.astype(np.float32) / 65535
    exact = edit_on_screen(np.asarray(lab_from_device(device, ROMM.data), np.float32))
    assert np.abs(edit - exact).mean() < 0.006
    exact = seen(printed(chain.to_print(device), PIPE.paper), PIPE.paper, PIPE.room)
    assert np.abs(plain - exact).mean() < 0.006
    exact = seen(
        printed(chain.to_print(pair.ready / np.float32(65535)), PIPE.paper),
        PIPE.paper,
        PIPE.room,
    )
    assert np.abs(ready - exact).mean() < 0.006


def test_the_prepared_print_shows_more_in_the_shadows(pair: Pair) -> None:
    edit, plain, ready = (v.astype(float).mean(axis=-1) for v in pair.views(*full(pair)))
    dark = edit < 40
    assert ready[dark].mean() > plain[dark].mean() + 2
    assert ready[dark].std() > plain[dark].std()


def test_the_page_has_all_pictures_and_type(pair: Pair) -> None:
    page = side_by_side(pair, "Cotton rag", ("nothing", "nothing"))
    drawn = page.drawn()
    assert drawn.shape == (page.height, page.width, 3)
    assert drawn[40:80, 40:400].max() > 220  # the title
    words = [text for _, _, text, _ in page._texts]
    assert words[1::2][:3] == ["The edit", "Left alone", "Prepared"]
    assert (drawn[-60:] < 250).any()


def test_a_page_is_written_whole_and_never_over_another(tmp_path: Path) -> None:
    page = Page(80, 40)
    page.picture(10, 10, np.full((5, 5, 3), 200, np.uint8))
    page.write(tmp_path / "page.png", overwrite=False)
    with Image.open(tmp_path / "page.png") as png:  # Pillow as an outside reader
        assert png.size == (80, 40)
        assert png.getpixel((12, 12)) == (200, 200, 200)
    with pytest.raises(OutputError, match="exists already"):
        page.write(tmp_path / "page.png", overwrite=False)
    page.write(tmp_path / "page.png", overwrite=True)
    assert [f.name for f in tmp_path.iterdir()] == ["page.png"]


def test_the_whole_picture_is_at_most_so_long(pair: Pair) -> None:
    assert max(whole(pair.edit, ROMM, 120).shape) == 120
    assert whole(pair.edit, ROMM).shape == pair.edit.shape


def test_tones_agree_with_the_verdicts_count() -> None:
    t = curves.tones(PIPE, ROMM)
    plan = PIPE.plan(ROMM)
    edit, plain, ready = t.shadows()
    sim = simulation(plan.profile, PIPE)
    assert edit == pytest.approx(edit_tones(plan.on).between(0, 20), rel=0.04)  # on paper white there
    assert ready == pytest.approx(print_tones(sim, PIPE.room)[1].between(0, 20), rel=0.01)
    assert plain < ready < edit
    for line in (t.plain, t.ready, t.edit_steps, t.plain_steps, t.ready_steps):
        assert (np.diff(line) > 0).all()


def test_the_plot_names_both_prints_as_everywhere() -> None:
    figure = curves.figure([("Rag (cotton-rag)", "evening, 50 lx", curves.tones(PIPE, ROMM))])
    legends = [legend for axes in figure.axes if (legend := axes.get_legend())]
    words = " | ".join(t.get_text() for legend in legends for t in legend.get_texts())
    assert "left alone" in words
    assert "prepared" in words
    assert "as it is" not in words


def test_the_plot_is_a_readable_png(tmp_path: Path) -> None:
    t = curves.tones(PIPE, ROMM)
    curves.write(tmp_path / "tones.png", [("Rag", "evening", t)], overwrite=False)
    with Image.open(tmp_path / "tones.png") as png:
        picture: NDArray[np.uint8] = np.asarray(png.convert("RGB"))
    assert picture.shape[0] > 1000
    amber = (np.abs(picture.astype(int) - (255, 196, 107)) < 12).all(axis=-1)
    assert amber.sum() > 500  # the prepared curve is there
