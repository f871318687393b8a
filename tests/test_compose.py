import pickle
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import printprep as pp
from printprep.colour.icc import lab_from_device
from printprep.colour.profile import Profile
from printprep.errors import InputError, ParameterError, PrintprepError, UnknownName
from printprep.named import named_paper, named_room
from printprep.photo.photo import Photo
from tests.support.lutprofile import MatrixInk, output_profile
from tests.support.solids import within


@pytest.fixture(autouse=True)
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "tables"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


@pytest.fixture(scope="module")
def pipe() -> pp.Pipeline:
    return pp.pipeline(paper="cotton-rag", room="evening-sitting-room", settings={"gamut-fit.glow": 0})


def codes(*shape: int) -> np.ndarray:
    return np.random.default_rng(0).integers(0, 65536, (*shape, 3)).astype(np.uint16)


@pytest.mark.parametrize("shape", [(5, 7), (35,), (), (2, 5, 1, 3), (0, 4)])
@pytest.mark.parametrize("dtype", [np.uint8, np.uint16, np.float32, np.float64])
def test_any_leading_shape_and_dtype(pipe: pp.Pipeline, shape: tuple[int, ...], dtype: type) -> None:
    wide = codes(*shape)
    array = (
        (wide >> 8).astype(np.uint8)
        if dtype is np.uint8
        else wide
        if dtype is np.uint16
        else (wide / 65535).astype(dtype)
    )
    before = array.copy()
    out = pipe.apply(array, "sRGB")
    assert out.shape == array.shape
    assert out.dtype == array.dtype
    assert np.array_equal(array, before)


def test_dtypes_agree(pipe: pp.Pipeline) -> None:
    wide = codes(20, 20)
    sixteen, floats = pipe.apply(wide, "opRGB"), pipe.apply(wide / 65535, "opRGB")
    assert np.abs(floats * 65535 - sixteen).max() < 1.5
    eight = pipe.apply((wide >> 8).astype(np.uint8), "opRGB")
    again = pipe.apply((wide >> 8) * np.uint16(257), "opRGB")
    assert np.abs(eight * 257.0 - again).max() <= 129


@pytest.mark.parametrize(
    "wrong", [np.full((2, 3), np.nan), np.full((2, 3), 1.5), np.zeros((2, 4)), np.zeros(3, int), np.zeros((), np.uint8)]
)
def test_wrong_arrays_are_refused(pipe: pp.Pipeline, wrong: np.ndarray) -> None:
    with pytest.raises(ParameterError, match="rgb"):
        pipe.apply(wrong, "sRGB")


def test_greys_stay_grey_and_rise(pipe: pp.Pipeline) -> None:
    ramp = np.repeat(np.arange(65536, dtype=np.uint16)[:, None], 3, axis=1)
    for profile in ("sRGB", "opRGB", "ROMM RGB"):
        out = pipe.apply(ramp, profile).astype(int)
        assert (np.ptp(out, axis=1) <= 30).all()  # 30 of 65535 next to black are 0.05 in a* and b*
        lab = lab_from_device(out / 65535, Profile.named(profile).data)
        assert np.abs(lab[:, 1:]).max() < 0.05
        assert (np.diff(out, axis=0) >= 0).all()


def test_dim_rooms_lift(pipe: pp.Pipeline) -> None:
    grey = np.full((1, 3), 30000, np.uint16)
    means = [
        int(pp.pipeline(paper="gloss", room=pp.Room(illuminance_lux=lux)).apply(grey, "sRGB").mean())
        for lux in (20, 50, 100, 200, 500)
    ]
    assert means == sorted(means, reverse=True)  # common practice, no source: dim rooms want lighter prints
    assert means[0] > means[-1] + 500


def test_printed_colours_lie_in_the_paper(pipe: pp.Pipeline) -> None:
    plan = pipe.plan("ROMM RGB")
    rgb = np.random.default_rng(2).random((4000, 3)).astype(np.float32)
    printed = plan.chain.to_print(plan.chain(rgb))
    below = plan.chain.to_print(rgb)[:, 0] < 70  # next to white colours are handed over as they are
    assert below.sum() > 2000
    assert within(plan.on.paper.solid, printed[below], 0.6).all()


def test_an_idle_pipeline_returns_the_very_pixels() -> None:
    wide = codes(9, 9)
    photo = Photo.from_array(wide, "opRGB")
    for steps in ([], [pp.ShadowLift(strength=0), pp.GamutFit(strength=0)]):
        idle = pp.Pipeline(steps, paper=pp.paper("gloss"))
        assert np.array_equal(idle(photo), wide)
        assert idle(photo).profile is photo.profile
        assert np.array_equal(idle.apply(wide, "opRGB"), wide)
        assert "nothing to do" in str(idle.plan("opRGB"))


def test_lazy_photo_equals_array(pipe: pp.Pipeline) -> None:
    wide = codes(33, 21)
    ready = pipe(Photo.from_array(wide, "opRGB"))
    assert np.array_equal(np.asarray(ready), pipe.apply(wide, "opRGB"))
    assert np.array_equal(ready.rows(5, 9), pipe.apply(wide, "opRGB")[5:9])


@settings(max_examples=12, deadline=None)
@given(cuts=st.lists(st.integers(1, 46), max_size=4))
def test_banded_equals_whole(pipe: pp.Pipeline, cuts: list[int]) -> None:
    wide = codes(47, 13)
    for settings_ in ({"gamut-fit.glow": 0}, {"gamut-fit.glow": 1}):
        same = pp.pipeline(paper="cotton-rag", room="evening-sitting-room", settings=settings_)
        whole, ready = same.apply(wide, "opRGB"), same(Photo.from_array(wide, "opRGB"))
        edges = sorted({0, 47, *cuts})
        parts = [ready.rows(a, b) for a, b in pairwise(edges)]
        assert np.array_equal(np.concatenate(parts), whole)


def test_the_order_of_steps_and_presets_does_not_matter(pipe: pp.Pipeline) -> None:
    paper, room = pp.paper("cotton-rag"), pp.room("evening-sitting-room")
    fit, colour = pp.GamutFit(glow=0), pp.RoomColour(strength=0.45)
    one = pp.Pipeline([fit, colour, pp.RoomBrightness(), pp.Sharpen(), pp.ShadowLift()], paper=paper, room=room)
    two = pp.Pipeline([pp.Sharpen(), pp.ShadowLift(), fit, pp.RoomBrightness(), colour], paper=paper, room=room)
    assert one.steps == two.steps == pipe.steps


def test_a_bare_profile_gets_the_steps_of_a_paper(tmp_path: Path) -> None:
    ink = MatrixInk(14)
    file = tmp_path / "my paper.icc"
    file.write_bytes(output_profile(ink.lab, ink.rgb))
    pipe = pp.pipeline(paper=file, room="lux=50")
    assert [type(s).__name__ for s in pipe.steps] == ["ShadowLift", "RoomBrightness", "GamutFit", "Sharpen"]
    assert pipe.paper.kind == "profile"
    assert pipe.paper.neutral_black == pytest.approx(14, abs=0.3)
    assert (pipe.paper_name, pipe.room_name) == ("my paper", "lux-50")


@pytest.mark.parametrize("tint", [(0.0, 0.0), (0.5, 4.0), (-2.0, -3.0)])
def test_hand_over_paper_without_steps_is_littlecms_relative_colorimetric(tint: tuple[float, float]) -> None:
    from printprep.colour.icc import device_from_device

    ink = MatrixInk(17, tint=tint)
    data = output_profile(ink.lab, ink.rgb, lab_nodes=33)
    pipe = pp.Pipeline([], paper=pp.Paper.from_profile(data), hand_over="paper")
    plan = pipe.plan("opRGB")
    rgb = np.random.default_rng(4).random((20000, 3))
    theirs = device_from_device(rgb, plan.profile, data, black_compensation=True)  # LittleCMS 2, relcol with BPC
    ours = plan.chain(rgb)
    assert np.abs(ours - theirs).mean() * 65535 < 1
    ready = pipe(Photo.from_array(codes(4, 4), "opRGB"))
    assert ready.profile.data == data


def test_hand_over_paper_needs_a_profile() -> None:
    with pytest.raises(PrintprepError, match="no ICC profile"):
        pp.pipeline(paper="gloss", hand_over="paper").plan("sRGB")
    with pytest.raises(ParameterError, match="hand_over"):
        pp.Pipeline([], paper=pp.paper("gloss"), hand_over="elsewhere")  # type: ignore[arg-type]


def test_a_profile_without_a_way_back_is_refused_with_the_file(pipe: pp.Pipeline) -> None:
    ink = MatrixInk(2.0, saturation=1.0)
    data = output_profile(ink.lab, ink.rgb)
    for name in (b"B2A0", b"B2A1", b"B2A2"):
        data = data.replace(name, b"zzz" + name[-1:], 1)
    photo = Photo.from_array(codes(3, 3), data)
    assert not photo.profile.two_way
    with pytest.raises(InputError, match="no way back from Lab"):
        pipe(photo)


def test_set_wins_over_presets() -> None:
    pipe = pp.pipeline(paper="cotton-rag", room="evening-sitting-room", settings={"shadow-lift.strength": "0.25"})
    assert pp.ShadowLift(strength=0.25) in pipe.steps
    for key, value in (
        ("shadow-lift.strenght", 1),
        ("shadow-lift", 1),
        ("shadow-lfit.strength", 1),
        ("shadow-lift.strength", 99),
    ):
        with pytest.raises(PrintprepError):
            pp.pipeline(paper="gloss", settings={key: value})


def test_wrong_names_are_said() -> None:
    with pytest.raises(UnknownName, match=r"'glos': unknown paper; did you mean gloss\?"):
        named_paper("glos")
    with pytest.raises(UnknownName, match="unknown room"):
        named_room("gloss")
    with pytest.raises(InputError, match="does not exist"):
        named_paper("none.icc")
    with pytest.raises(PrintprepError, match="no paper is named"):
        pp.pipeline(room="viewing-booth")
    with pytest.raises(PrintprepError, match="occurs twice"):
        pp.Pipeline([pp.GamutFit(), pp.GamutFit(knee=0.8)], paper=pp.paper("gloss"))


def test_pipelines_travel(pipe: pp.Pipeline) -> None:
    again = pickle.loads(pickle.dumps(pipe))
    assert again == pipe
    assert hash(again) == hash(pipe)
    assert np.array_equal(again.apply(codes(3, 3), "sRGB"), pipe.apply(codes(3, 3), "sRGB"))


def test_plan_is_printed_and_exported(pipe: pp.Pipeline, tmp_path: Path) -> None:
    plan = pipe.plan("sRGB")
    assert "1. shadow-lift" in str(plan)
    plan.export(tmp_path / "wall.clf")
    assert "LUT3D" in (tmp_path / "wall.clf").read_text()
    with pytest.raises(PrintprepError, match="clf"):
        plan.export(tmp_path / "wall.txt")
