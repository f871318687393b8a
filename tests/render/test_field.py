"""The slow field: one and the same for bands, tiles, copies and exact evaluation; greys stay; areas move as one."""

from __future__ import annotations

import pickle
import struct

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from skimage import data
from skimage.color import deltaE_ciede2000

import printprep as pp
from printprep.colour._matrix import rgb_profile
from printprep.colour.icc import lab_from_device
from printprep.colour.lab import lab_from_xyz, xyz_from_lab
from printprep.colour.profile import Profile
from printprep.photo.pixels import ArrayPixels
from printprep.photo.small import SMALL_SIDE, small
from printprep.render.field import LIGHT, CodeCurve, Field
from tests.support import pictures
from tests.support.lutprofile import MatrixInk, output_profile
from tests.support.spaces import linear_profile

SPACES = {name: Profile.named(name).data for name in ("sRGB", "opRGB", "ROMM RGB")} | {"linear": linear_profile()}


def pipe(paper: str = "cotton-rag") -> pp.Pipeline:
    return pp.Pipeline([pp.GamutFit()], paper=pp.paper(paper), room=pp.Room())


def unit(codes: NDArray[np.uint16]) -> NDArray[np.float32]:
    """Codes as 0..1."""
    return np.asarray(codes / np.float32(65535), np.float32)


def exposed(field: Field, codes: NDArray[np.float32]) -> NDArray[np.float32]:
    """Codes 0..1 of a whole picture after exposure, (rows, columns, 3): said plainly, and slowly."""
    rows, columns, _ = codes.shape
    laid = np.empty((4, rows, columns), np.float32)
    field.laid(0, 0, laid)
    curve, most, least = field.curve, codes.max(axis=-1), codes.min(axis=-1)
    taken = (most - least - curve.start * most) / np.maximum(curve.wide * most, 1e-6)
    taken = np.minimum(taken, (most - curve.dark) / curve.dusk)
    taken = np.minimum(taken, 1 - (codes @ np.array(curve.luma, np.float32) - curve.white) / curve.dawn)
    taken = np.clip(taken, 0, 1)
    share = np.clip(np.einsum("krc,rck->rc", laid[:3], codes) + laid[3], *curve.change(LIGHT)) * taken
    share = np.minimum(share, (1 - most) / np.maximum(most + curve.offset, 1e-6))[..., None]
    return np.asarray(np.clip(codes + (codes + curve.offset) * share, 0, 1), np.float32)


def saturated(step: int = 2) -> NDArray[np.uint16]:
    """A photograph with its chroma raised, ROMM RGB codes."""
    rgb = data.astronaut()[::step, ::step].astype(np.float32) / 255
    return pictures.romm((lab_from_device(rgb, SPACES["sRGB"]) * [1, 1.5, 1.5]).astype(np.float32))


@pytest.mark.parametrize("name", sorted(SPACES))
def test_the_form_of_a_curve_is_within_a_third_of_a_ciede2000(name: str) -> None:
    """Exposure by one factor on codes against exposure on linear light."""
    profile = SPACES[name]
    curve = CodeCurve.of(profile)
    codes = np.random.default_rng(3).uniform(0.15, 0.7, (4000, 3))
    for light in (0.7, 1.4):
        ours = codes + (codes + curve.offset) * float(curve.change(np.float64(light)))
        asked = lab_from_device(codes, profile).astype(np.float64)
        exact = lab_from_xyz(xyz_from_lab(asked) * light)
        got = lab_from_device(np.clip(ours, 0, 1), profile).astype(np.float64)
        assert deltaE_ciede2000(exact, got).max() < 0.3


def test_fast_is_exact() -> None:
    codes = saturated()
    field = pipe().field(pp.Photo.from_array(codes, "ROMM RGB"))
    exact = exposed(field, unit(codes)) * 65535
    field.expose(fast := codes.copy())
    assert np.abs(exact - fast).max() < 1.01
    assert np.abs(fast.astype(int) - codes).max() > 500
    values = unit(codes)
    field.expose(values)
    assert np.abs(values * 65535 - exact).max() < 0.51


def test_a_small_picture_that_is_asked_for_again_is_not_converted_again(monkeypatch: pytest.MonkeyPatch) -> None:
    codes = np.random.default_rng(5).uniform(0, 1, (20, 30, 3)).astype(np.float32)
    chain = pipe().plan("sRGB").chain
    first = chain.small_to_print(codes)
    assert np.array_equal(first, chain.to_print(codes))
    first[:] = 0  # what one caller does with it reaches no other
    assert np.array_equal(chain.small_to_print(codes), chain.to_print(codes))
    other = pipe("gloss").plan("sRGB").chain  # another paper's black, another profile, other codes
    assert np.array_equal(other.small_to_print(codes), other.to_print(codes))
    wide = pipe("gloss").plan("opRGB").chain
    assert np.array_equal(wide.small_to_print(codes), wide.to_print(codes))
    codes[3, 4] = 0.5
    assert np.array_equal(wide.small_to_print(codes), wide.to_print(codes))
    with monkeypatch.context() as patch:
        patch.setattr("printprep.render.chain.lab_from_device", None)
        wide.small_to_print(codes)  # without a conversion


def test_random_codes_too() -> None:
    codes = np.random.default_rng(1).integers(0, 65536, (64, 80, 3)).astype(np.uint16)
    codes[:8] = codes[:8, :, :1]  # greys
    maps = np.random.default_rng(2).normal(0, 0.1, (7, 9, 4)).astype(np.float32)
    for profile in SPACES.values():
        field = Field(maps, 64, 80, CodeCurve.of(profile))
        exact = exposed(field, unit(codes)) * 65535
        field.expose(fast := codes.copy())
        assert np.abs(exact - fast).max() < 1.01
        assert np.array_equal(fast[:8], codes[:8]), "greys stay"


@settings(max_examples=20, deadline=None)
@example(top=3, rows=1, left=0, columns=40)
@example(top=0, rows=23, left=85, columns=7)  # narrower than what OpenCV works on at once
@given(top=st.integers(0, 200), rows=st.integers(1, 40), left=st.integers(0, 200), columns=st.integers(1, 40))
def test_tiles_given_the_pictures_field_come_out_as_the_whole(top: int, rows: int, left: int, columns: int) -> None:
    codes = saturated()
    ours = pipe()
    field = ours.field(pp.Photo.from_array(codes, "ROMM RGB"))
    whole = ours.apply(codes, "ROMM RGB")
    tile = ours.apply(codes[top : top + rows, left : left + columns], "ROMM RGB", field=field, at=(top, left))
    assert np.array_equal(tile, whole[top : top + rows, left : left + columns])


def test_leading_axes_never_matter() -> None:
    codes = saturated(4)
    ours = pipe()
    one = ours.apply(codes, "ROMM RGB")
    many = ours.apply(np.stack([codes, codes[::-1]])[None], "ROMM RGB")
    assert np.array_equal(many[0, 0], one)
    assert np.array_equal(many[0, 1], ours.apply(codes[::-1], "ROMM RGB"))


def test_floats_and_integers_agree() -> None:
    codes = saturated()
    ours = pipe()
    whole = ours.apply(codes, "ROMM RGB") / 65535.0
    for kind in (np.float32, np.float64):
        values = ours.apply(unit(codes).astype(kind), "ROMM RGB")
        assert values.dtype == kind
        assert np.abs(values - whole).max() < 3 / 65535
    assert np.abs(ours.apply((codes / 65535).astype(np.float16), "ROMM RGB").astype(float) - whole).max() < 3e-3


def test_a_flat_colour_is_fitted_as_the_colour_alone() -> None:
    ours = pipe()
    for name, lab in pictures.STRONG.items():
        flat = pictures.romm(pictures.flat(lab))
        apart = lab_from_device(ours.apply(flat, "ROMM RGB") / 65535.0, SPACES["ROMM RGB"])
        alone = lab_from_device(ours.apply(flat[:1, :1], "ROMM RGB") / 65535.0, SPACES["ROMM RGB"])
        assert deltaE_ciede2000(apart, alone).max() < 0.4, name


def test_greys_and_skins_beside_strong_colours_stay() -> None:
    ours = pipe()
    for strong in pictures.STRONG:
        lab, areas = pictures.beside(strong)
        codes = pictures.romm(lab)
        field = ours.field(pp.Photo.from_array(codes, "ROMM RGB"))
        moved = [
            lab_from_device(values, SPACES["ROMM RGB"])[..., 0]
            for values in (codes / 65535.0, exposed(field, unit(codes)).astype(np.float64))
        ]
        apart = np.abs(moved[1] - moved[0])
        assert np.quantile(apart[np.isin(areas, (1, 2, 6, 7))], 0.99) < 0.01
        assert np.quantile(apart[np.isin(areas, (3, 4, 5, 8, 9, 10))], 0.99) < 0.5


def test_a_picture_that_the_paper_holds_has_no_field() -> None:
    grey = np.repeat(np.linspace(9000, 60000, 64 * 48).astype(np.uint16).reshape(64, 48, 1), 3, axis=2)
    field = pipe().field(pp.Photo.from_array(grey, "ROMM RGB"))
    assert not field.maps.any()
    assert np.array_equal(
        pipe().apply(grey, "ROMM RGB"), pipe().apply(grey.reshape(-1, 3), "ROMM RGB").reshape(grey.shape)
    )


def test_a_field_lies_over_a_reduced_copy_as_over_the_picture() -> None:
    field = pipe().field(pp.Photo.from_array(saturated(1), "ROMM RGB"))
    half = field.over(field.height // 2, field.width // 2)
    planes = [np.empty((4, f.height, f.width), np.float32) for f in (half, field)]
    half.laid(0, 0, planes[0])
    field.laid(0, 0, planes[1])
    assert np.abs(planes[0][:, 8, 8] - planes[1][:, 16:18, 16:18].mean(axis=(1, 2))).max() < 1e-3


def test_columns_where_nothing_is_asked_stay_and_make_no_seam() -> None:
    codes = np.full((96, 640, 3), 20000, np.uint16)
    codes[:, 300:340] = 60000, 3000, 50000
    field = pipe().field(pp.Photo.from_array(codes, "ROMM RGB"))
    some = field.maps.any(axis=(0, 2))
    assert 0 < some.mean() < 0.6
    done, exact = codes.copy(), exposed(field, codes.astype(np.float32) / np.float32(65535))
    field.expose(done)
    assert np.abs(done - exact * 65535).max() < 0.6
    assert (done != codes).any()


def test_small_pictures_read_few_rows() -> None:
    class Counted(ArrayPixels):
        rows = 0

        def read(self, top: int, out: NDArray[np.uint16]) -> None:
            type(self).rows += len(out)
            super().read(top, out)

    found = small(Counted(np.zeros((4000, 60, 3), np.uint16)))
    assert found.shape == (SMALL_SIDE, 5, 3)
    assert Counted.rows == SMALL_SIDE


def test_prepared_photos_are_pickled_without_their_field() -> None:
    photo = pp.Photo.from_array(saturated(4), "ROMM RGB")
    ready = pipe()(photo)
    whole = np.asarray(ready)
    assert np.array_equal(np.asarray(pickle.loads(pickle.dumps(ready))), whole)


def test_a_tile_outside_the_picture_is_refused() -> None:
    codes = saturated(4)
    field = pipe().field(pp.Photo.from_array(codes, "ROMM RGB"))
    with pytest.raises(pp.ParameterError, match="at"):
        pipe().apply(codes, "ROMM RGB", field=field, at=(1, 0))


@pytest.mark.parametrize("light", [1.0, 0.5, 0.2])
@pytest.mark.parametrize("gamma", [0.1, 1.0, 2.2, 12.0])
def test_curves_of_odd_profiles_have_spans_to_divide_by(gamma: float, light: float) -> None:
    """White may be much darker than the paper's, and curves of any form: a damaged profile that is still one."""
    primaries, white = ((0.64, 0.33), (0.3, 0.6), (0.15, 0.06)), (0.3127, 0.329)
    made = bytearray(rgb_profile("odd", primaries, white, gamma))
    places = [i for i in range(128, len(made)) if made[i : i + 8] == b"XYZ \0\0\0\0"]
    for place in places[1:]:
        values = struct.unpack_from(">3i", made, place + 8)
        struct.pack_into(">3i", made, place + 8, *(round(light * v) for v in values))
    profile = bytes(made)
    Profile.from_bytes(profile)  # it is taken for one
    curve = CodeCurve.of(profile)
    assert min(curve.wide, curve.dusk, curve.dawn, curve.power) > 0
    codes = np.random.default_rng(1).integers(0, 65536, (40, 50, 3)).astype(np.uint16)
    maps = np.full((3, 4, 4), 0.1, np.float32)
    field, fast = Field(maps, 40, 50, curve), codes.copy()
    field.expose(fast)
    exact = exposed(field, (codes / 65535).astype(np.float32)) * 65535
    assert np.abs(fast - exact).max() < 3


def test_a_profile_with_tables_works_too() -> None:
    ink = MatrixInk(14)
    profile = output_profile(ink.lab, ink.rgb)
    codes = saturated(8)
    out = pipe().apply(codes, profile)
    assert out.shape == codes.shape


def test_exposed_all_at_once_or_in_parts_the_bytes_are_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    codes = saturated()
    found = pipe().field(pp.Photo.from_array(codes, "ROMM RGB"))
    monkeypatch.setattr("printprep.render.field._BAND", 3 * codes.shape[1])
    parts, whole = codes.copy(), codes.copy()
    monkeypatch.setattr("printprep.render.field.thread_count", lambda: 2)
    found.expose(parts)
    monkeypatch.setattr("printprep.render.field.thread_count", lambda: 16)
    found.expose(whole)
    assert np.array_equal(parts, whole)
    assert not np.array_equal(parts, codes)
