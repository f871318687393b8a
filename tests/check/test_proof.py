"""Soft proofs: the paper's white and black on a screen, pairs, files whole or not at all."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from skimage import data

import printprep as pp
from printprep.check.proof import Proof, proof
from printprep.colour.profile import Profile
from printprep.errors import InputError, OutputError, UnknownName
from tests.support.spaces import linear_profile


def steps() -> pp.Photo:
    """Black on the left, white on the right."""
    picture = np.zeros((40, 60, 3), np.uint16)
    picture[:, 30:] = 65535
    return pp.Photo.from_array(picture)


def srgb_of(lab: tuple[float, ...]) -> NDArray[np.float64]:
    """8-bit sRGB of absolute Lab D50 by colour-science, its own Bradford adaptation to D65."""
    import colour

    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    xyz = colour.Lab_to_XYZ(np.array(lab, np.float64), white)
    values = colour.XYZ_to_sRGB(xyz, illuminant=white, chromatic_adaptation_transform="Bradford")
    return np.asarray(np.clip(values, 0, 1) * 255)


@pytest.mark.parametrize("name", ["cotton-rag", "gloss", "plain-uncoated"])
def test_white_and_black_are_the_papers_own(name: str) -> None:
    paper = pp.paper(name)
    shown = proof(steps(), pp.Pipeline([], paper=paper)).picture
    assert paper.white is not None
    assert np.abs(shown[20, 50] - srgb_of(paper.white)).max() < 1.5
    # colour-science again: Y of the print's black is that of its media-relative L*, less the paper's white
    import colour

    y = paper.white_reflectance * float(colour.colorimetry.luminance_CIE1976(paper.neutral_black)) / 100
    lightness = float(colour.colorimetry.lightness_CIE1976(100 * y))
    assert abs(float(shown[20, 10, 1]) - float(srgb_of((lightness, 0, 0))[1])) < 2


def test_glazing_lifts_black_and_light_dims_white() -> None:
    paper = pp.paper("gloss")
    room = pp.Room(illuminance_lux=60, glazing="clear", wall_reflectance=0.7)
    pipe = pp.Pipeline([], paper=paper, room=room)
    bare, glazed = proof(steps(), pipe, glazing=False).picture, proof(steps(), pipe).picture
    assert glazed[20, 10].min() > bare[20, 10].max() + 20
    assert glazed[20, 50].max() < bare[20, 50].max()


def test_canvas_hangs_without_a_pane() -> None:
    pipe = pp.Pipeline([], paper=pp.paper("canvas"), room=pp.Room(illuminance_lux=60, glazing="clear"))
    assert np.array_equal(proof(steps(), pipe).picture, proof(steps(), pipe, glazing=False).picture)


def test_dim_light_leaves_the_sheet_white_and_takes_from_the_darks() -> None:
    # the share of visible steps, by DICOM PS3.14: fewer of them lie among dark tones where there is less light
    paper = pp.paper("cotton-rag")
    grey = pp.Photo.from_array(np.repeat(np.linspace(0, 1, 64)[None, :, None], 3, axis=2).repeat(20, 0))
    dim, bright = (
        proof(grey, pp.Pipeline([], paper=paper, room=pp.Room(illuminance_lux=lux)), light=True).picture.astype(int)
        for lux in (20, 500)
    )
    plain = proof(grey, pp.Pipeline([], paper=paper, room=pp.Room(illuminance_lux=500))).picture.astype(int)
    assert np.abs(bright - plain).max() <= 1  # in the edit's own light nothing changes
    assert (dim[10, 10:50] < bright[10, 10:50] - 8).all()
    assert np.abs(dim[10, -1] - bright[10, -1]).max() <= 1


def test_a_pair_shows_the_edit_left_alone_and_prepared_with_the_bare_sheet() -> None:
    ramp = np.repeat(np.linspace(0, 0.25, 400)[None, :, None], 3, axis=2).repeat(300, 0)
    photo = pp.Photo.from_array(ramp)
    pipe = pp.pipeline(paper="cotton-rag", room="hallway", settings={"shadow-lift.worth": 1})
    pair = proof(photo, pipe, pair=True).picture.astype(int)
    one = proof(photo, pipe).picture.astype(int)
    grey = pair[0, 0]
    assert grey[0] == grey[1] == grey[2], "the ground must be neutral"
    filled = np.flatnonzero((pair[150] != grey).any(axis=-1))
    edit, left, ready = np.split(filled, np.flatnonzero(np.diff(filled) > 1) + 1)
    assert len(edit) == 400
    assert np.abs(pair[150, edit] - np.rint(255 * ramp[150])).max() <= 1
    assert (pair[150, ready[:400]] == one[150]).all()
    assert len(ready) == len(left) > 410
    assert np.abs(pair[150, ready[-1]] - proof(steps(), pipe).picture[20, 50]).max() <= 1
    lifted = one[150, 40:380].mean(axis=1) - pair[150, left[40:380]].mean(axis=1)
    assert lifted.min() >= 1 and lifted.mean() > 5, "shadows are lifted"
    for panel in (edit, left, ready):
        assert (pair[300:, panel] < 0x50).any(), "the label is there"


@pytest.mark.parametrize("pair", [False, True])
def test_both_lights_of_a_room_are_shown(pair: bool) -> None:
    paper, grey = pp.paper("cotton-rag"), pp.Photo.from_array(np.full((200, 300, 3), 0.2))
    both = pp.Room(illuminance_lux=500, evening_illuminance_lux=50)
    shown = proof(grey, pp.Pipeline([], paper=paper, room=both), light=True, pair=pair).picture
    for lux in (500, 50):
        one = proof(grey, pp.Pipeline([], paper=paper, room=pp.Room(illuminance_lux=lux)), light=True).picture[100, 150]
        assert (np.abs(shown.astype(int) - one).max(axis=-1) <= 1).sum() >= 200 * 300, lux
    alone = proof(grey, pp.Pipeline([], paper=paper, room=both), pair=pair).picture
    assert alone.shape[0] < shown.shape[0] if pair else alone.shape == (200, 300, 3)


def test_colours_the_paper_cannot_hold_come_out_weaker() -> None:
    picture = np.zeros((20, 20, 3))
    picture[..., 2] = 1.0
    pipe = pp.pipeline(paper="plain-uncoated")
    shown = proof(pp.Photo.from_array(picture), pipe).picture[10, 10].astype(int)
    assert shown.max() - shown.min() < 170


def test_a_large_picture_is_reduced_to_the_side_asked_for() -> None:
    picture = np.zeros((1300, 2100, 3), np.uint16)
    rows, columns, _ = proof(pp.Photo.from_array(picture), pp.pipeline(paper="gloss"), side=500).picture.shape
    assert columns == 500
    assert abs(rows - 500 * 1300 / 2100) <= 1


@pytest.mark.parametrize("step", [pp.GamutFit(glow=1.0), pp.GamutFit(glow=0.0)])
def test_steps_that_look_around_are_shown_too(step: pp.GamutFit) -> None:
    photo = pp.Photo.from_array(data.coffee()[::4, ::4], "opRGB")
    pipe = pp.Pipeline([step], paper=pp.paper("cotton-rag"))
    plain, ready = (proof(photo, p).picture.astype(int) for p in (pp.Pipeline([], paper=pipe.paper), pipe))
    assert ready.shape == plain.shape
    assert np.abs(ready - plain).max() > 8
    assert np.abs(ready - plain).mean() < 12


def test_a_screens_profile_is_used_and_embedded(tmp_path: Path) -> None:
    screen = tmp_path / "screen.icc"
    screen.write_bytes(linear_profile())
    made = proof(steps(), pp.Pipeline([], paper=pp.paper("gloss")), screen=screen)
    usual = proof(steps(), pp.Pipeline([], paper=pp.paper("gloss")))
    assert made.picture[20, 50, 1] != usual.picture[20, 50, 1]
    made.write(tmp_path / "out.png")
    usual.write(tmp_path / "usual.png")
    with Image.open(tmp_path / "out.png") as opened:
        assert opened.info["icc_profile"] == linear_profile()
        assert np.array_equal(np.asarray(opened), made.picture)
    with Image.open(tmp_path / "usual.png") as opened:
        assert opened.info["srgb"] == 1
    made.write(tmp_path / "out.tif")
    photo = pp.read(tmp_path / "out.tif")
    assert photo.profile.data == linear_profile()
    assert np.array_equal(np.asarray(photo) >> 8, made.picture)


def test_wrong_screens_are_refused() -> None:
    pipe = pp.Pipeline([], paper=pp.paper("gloss"))
    with pytest.raises(UnknownName):
        proof(steps(), pipe, screen="nosuch")
    from tests.support.lutprofile import output_profile

    grey = output_profile(
        lambda v: np.stack([100 * v[:, 0], 0 * v[:, 0], 0 * v[:, 0]], -1), lambda lab: lab[:, :1] / 100, channels=1
    )
    with pytest.raises(InputError, match="screen"):
        proof(steps(), pipe, screen=Profile.from_bytes(grey))


def test_outputs_are_whole_or_not_at_all(tmp_path: Path) -> None:
    photo = steps()
    photo.write(tmp_path / "edit.tif")
    edit = pp.read(tmp_path / "edit.tif")
    before = (tmp_path / "edit.tif").read_bytes()
    made = proof(edit, pp.Pipeline([], paper=pp.paper("gloss")))
    made.write(tmp_path / "proof.png")
    with pytest.raises(OutputError, match="exists already"):
        made.write(tmp_path / "proof.png")
    made.write(tmp_path / "proof.png", overwrite=True)
    for name in ("edit.tif", "proof.jpg", "proof", "nowhere/proof.png"):
        with pytest.raises(OutputError):
            made.write(tmp_path / name, overwrite=True)
    assert (tmp_path / "edit.tif").read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["edit.tif", "proof.png"]
    assert made._repr_png_()[:8] == b"\x89PNG\r\n\x1a\n"
    assert isinstance(made, Proof)
