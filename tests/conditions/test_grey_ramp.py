"""The grey hand-over: one channel through the inverse of what the driver's grey mode prints."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st

import printprep as pp
from printprep.colour.blackpoint import compensate
from printprep.colour.lab import luminance_from_lightness
from printprep.conditions import grey_ramp
from printprep.errors import InputError, ParameterError, PrintprepError
from printprep.jobs.prepare import standing
from tests.photo.test_grey import edit
from tests.support.tiffs import picture, tiff

# Made: darks that close up and a long straight part, as such modes print (common practice, no source)
RAMP = ((0, 16.2), (16, 18.0), (32, 22.5), (64, 34.0), (96, 45.5), (128, 56.0), (192, 76.5), (224, 87.0), (255, 96.3))
MODE = "advanced black and white, neutral, dark"


def paper(ramp: Any = RAMP, mode: str = MODE) -> pp.Paper:
    return replace(pp.paper("cotton-rag"), grey_ramp=ramp, grey_mode=mode)


def pipe(*steps: pp.Adjustment, ramp: Any = RAMP) -> pp.Pipeline:
    return pp.Pipeline(steps, paper=paper(ramp), hand_over="grey")


def printed(codes: np.ndarray) -> np.ndarray:
    """Media-relative L* that the ramp prints of 16-bit codes."""
    Y = luminance_from_lightness(grey_ramp.lightness(RAMP, codes / 257.0)) / luminance_from_lightness(RAMP[-1][1])
    return np.asarray(116 * np.cbrt(Y) - 16)


@pytest.mark.parametrize("space", ["sRGB", "opRGB", "ROMM RGB"])
def test_the_ramp_prints_the_light_that_was_planned(tmp_path: Path, space: str) -> None:
    codes = picture(60, 50)
    pp.Photo.from_array(codes, space).write(tmp_path / "a.tif")
    steps = (pp.Monochrome(red=0.6, green=0.4), pp.ShadowLift(), pp.GamutFit())
    pp.prepare(tmp_path / "a.tif", tmp_path / "b.tif", pipe(*steps))
    made = tifffile.imread(tmp_path / "b.tif")
    assert made.shape == (60, 50)
    assert made.dtype == np.uint16
    suited = pipe(*steps).suited(pp.read(tmp_path / "a.tif")).plan(space)
    planned = suited.steps(suited.chain.to_print(codes / np.float32(65535)), suited.on)[..., 0]
    relative = [float(v) for v in printed(np.array([0.0, 65535.0]))]
    lab = np.stack([planned, 0 * planned, 0 * planned], axis=-1).astype(np.float64)
    wanted = compensate(lab, suited.on.black, relative[0])[..., 0]
    assert np.abs(printed(made) - wanted).max() < 0.5  # the table, on random pixels, of imaginary colours too
    assert np.abs(printed(made) - wanted).mean() < 0.06


def test_the_embedded_profile_is_the_ramps_by_another_hand(tmp_path: Path) -> None:
    """LittleCMS, asked for Lab: the light of the ramp between its black and its white."""
    values = np.array(RAMP)[:, 0] / 255
    lab = imagecodecs.cms_transform(
        values[None], grey_ramp.profile(paper().grey_ramp), imagecodecs.cms_profile("lab4"), colorspace="gray",
        outcolorspace="lab", outdtype="float64", intent=1, flags=0x0140,
    )[0]  # fmt: skip
    Y = luminance_from_lightness(np.array(RAMP)[:, 1])
    assert np.abs(luminance_from_lightness(lab[:, 0]) - (Y - Y[0]) / (Y[-1] - Y[0])).max() < 2e-4


def test_a_grey_edit_needs_no_step_for_it(tmp_path: Path) -> None:
    source = edit(tmp_path / "a.tif")
    pp.prepare(source, tmp_path / "b.tif", pipe(pp.ShadowLift()))
    assert tifffile.imread(tmp_path / "b.tif").shape == (40, 30)
    assert standing(source, tmp_path / "b.tif", pipe(pp.ShadowLift())) == "done"
    pp.prepare(source, tmp_path / "c.tif", pipe(), overwrite=True)
    assert tifffile.imread(tmp_path / "c.tif").shape == (40, 30)


def test_its_ticket_knows_its_pixels(tmp_path: Path) -> None:
    job = pipe(pp.Monochrome())
    tiff(tmp_path / "a.tif", {}, picture(40, 30))
    pp.prepare(tmp_path / "a.tif", tmp_path / "b.tif", job)
    assert standing(tmp_path / "a.tif", tmp_path / "b.tif", job) == "done"
    tiff(tmp_path / "a.tif", {}, picture(40, 30, seed=8))
    assert standing(tmp_path / "a.tif", tmp_path / "b.tif", job) == "outdated"


@pytest.mark.parametrize("steps", [(), (pp.ShadowLift(),), (pp.Monochrome(), pp.Toning(shadows=5))])
def test_colour_is_refused(tmp_path: Path, steps: tuple[pp.Adjustment, ...]) -> None:
    tiff(tmp_path / "a.tif")
    with pytest.raises(InputError, match=r"a\.tif.*colour.*grey ramp.*monochrome"):
        pp.prepare(tmp_path / "a.tif", tmp_path / "b.tif", pipe(*steps))
    assert not (tmp_path / "b.tif").exists()


def test_a_paper_without_a_ramp_is_refused(tmp_path: Path) -> None:
    edit(tmp_path / "a.tif")
    with pytest.raises(PrintprepError, match="no grey ramp"):
        pp.prepare(
            tmp_path / "a.tif", tmp_path / "b.tif", pp.Pipeline([], paper=pp.paper("gloss"), hand_over="grey")
        )  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(1, 20), min_size=4, max_size=12), st.integers(0, 99))
def test_any_rising_ramp_rises_all_the_way(rises: list[float], seed: int) -> None:
    L = 15 + np.concatenate([[0], np.cumsum(rises)]) * 80 / sum(rises)
    codes = np.sort(np.random.default_rng(seed).choice(np.arange(1, 255), len(rises) - 1, replace=False))
    ramp = tuple(zip((0.0, *codes.astype(float), 255.0), L.tolist(), strict=True))
    made = grey_ramp.lightness(paper(ramp).grey_ramp or (), np.linspace(0, 255, 1000))
    assert (np.diff(made) >= -1e-9).all()
    assert np.allclose(grey_ramp.lightness(ramp, np.array(ramp)[:, 0]), L)


@pytest.mark.parametrize(
    "ramp",
    [
        "dark", [1, 2, 3, 4, 5], RAMP[:4], ((0, 50), *RAMP[1:]), RAMP[:-1], ((1, 16.2), *RAMP[1:]),
        [(code, 200.0 if code else 10) for code, _ in RAMP], [(*row, 0.0) for row in RAMP], [(0, float("nan"))] * 6,
    ],
)  # fmt: skip
def test_other_ramps_are_refused(ramp: Any) -> None:
    with pytest.raises(ParameterError, match="grey_ramp"):
        paper(ramp)


def test_its_mode_must_be_named() -> None:
    with pytest.raises(PrintprepError, match=r"grey_mode.*driver"):
        paper(mode=" ")


def test_what_colour_its_greys_have_is_said_and_not_steered() -> None:
    tinted = [(*row, -0.4, 1.5 + row[0] / 255) for row in RAMP]
    assert "a* -0.4 to -0.4, b* 1.5 to 2.5" in grey_ramp.lean(paper(tinted).grey_ramp)
    assert grey_ramp.lean(paper().grey_ramp) == ""
    assert grey_ramp.profile(paper(tinted).grey_ramp) == grey_ramp.profile(paper().grey_ramp)


def preset(file: Path) -> Path:
    rows = ", ".join(f"[{code}, {L}]" for code, L in RAMP)
    file.write_text(
        'uses = ["cotton-rag"]\ntitle = "mine"\nnotes = "n"\nsource = "s"\n'
        f'[paper]\ngrey_ramp = [{rows}]\ngrey_mode = "{MODE}"\n'
    )
    return file


def test_from_a_preset(tmp_path: Path) -> None:
    found = pp.paper(preset(tmp_path / "mine.toml"))
    assert found.grey_ramp == RAMP
    assert found.grey_mode == MODE
    assert found.fingerprint != pp.paper("cotton-rag").fingerprint


def test_a_sized_and_recalled_print_is_grey_too(tmp_path: Path) -> None:
    """On a sheet with its margins, sharpened; and made again of its ticket."""
    job = pp.Pipeline(
        [pp.Monochrome(), pp.Sharpen()], paper=paper(), sheet=pp.Sheet(size="A6", keyline=True), hand_over="grey",
    )  # fmt: skip
    tiff(tmp_path / "a.tif", {}, picture(200, 150))
    pp.prepare(tmp_path / "a.tif", tmp_path / "b.tif", job)
    made = tifffile.imread(tmp_path / "b.tif")
    assert made.ndim == 2
    assert made[0, 0] == 65535
    ticket = pp.read_ticket(tmp_path / "b.tif")
    assert MODE in ticket.dialogue
    again = pp.Pipeline.from_ticket(ticket)
    assert again.hand_over == "grey"
    pp.prepare(tmp_path / "a.tif", tmp_path / "c.tif", again)
    assert np.array_equal(tifffile.imread(tmp_path / "c.tif"), made)


def test_the_tickets_command_says_so(tmp_path: Path) -> None:
    file, tone = preset(tmp_path / "mine.toml"), {"monochrome.red": 1}
    job = pp.pipeline(paper=file, room="hallway", settings=tone, hand_over="grey")
    tiff(tmp_path / "a.tif")
    pp.prepare(tmp_path / "a.tif", tmp_path / "b.tif", job)
    assert pp.read_ticket(tmp_path / "b.tif").command.endswith("--hand-over grey")
