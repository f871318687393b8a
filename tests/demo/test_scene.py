"""The painted scene: the same at every call, and made of what a test picture needs."""

from __future__ import annotations

from typing import Any

import colour
import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from printprep.adjust.shadow_lift import worth
from printprep.colour.icc import lab_from_device
from printprep.colour.lab import Floats
from printprep.colour.profile import Profile
from printprep.demo._paint import cloud, lch, over
from printprep.demo._space import Camera, Lamp, Light, Prop, Texture, flat
from printprep.demo.scene import paint
from printprep.named import paper
from printprep.preset_files import names

MEGAPIXELS = 0.35


@pytest.fixture(scope="module")
def scene() -> NDArray[np.uint16]:
    return paint(MEGAPIXELS)


@pytest.fixture(scope="module")
def lab(scene: NDArray[np.uint16]) -> NDArray[Any]:
    return np.asarray(lab_from_device(scene.astype(np.float32) / 65535, Profile.named("ROMM RGB").data))


def test_size_and_kind(scene: NDArray[np.uint16]) -> None:
    height, width, channels = scene.shape
    assert scene.dtype == np.uint16
    assert channels == 3
    assert width == round(height * 1.5)
    assert height * width == pytest.approx(MEGAPIXELS * 1e6, rel=0.01)


def test_the_same_at_every_call(scene: NDArray[np.uint16]) -> None:
    assert np.array_equal(scene, paint(MEGAPIXELS))


@pytest.mark.parametrize("megapixels", [0.004, 0.05])
def test_small_ones_work_too(megapixels: float) -> None:
    assert paint(megapixels).std() > 1000


def test_much_of_it_is_deep_shadow_with_detail(lab: NDArray[Any]) -> None:
    L = lab[..., 0]
    assert 0.2 < (L < 20).mean() < 0.7
    assert (L < 1).mean() < 0.02  # and hardly any of it plain black
    dark = cv2.GaussianBlur(L, (0, 0), 2) < 18
    detail = np.abs(L - cv2.GaussianBlur(L, (0, 0), 3))[dark]
    assert detail.mean() > 0.4
    assert worth(cv2.resize(L.astype(np.float32), (320, 213), interpolation=cv2.INTER_AREA)) == 1  # the whole lift


def test_lanterns_leave_every_papers_gamut_without_being_flat(lab: NDArray[Any]) -> None:
    for name in names("paper"):
        outside = ~paper(name).solid.contains(lab)
        assert outside.mean() > 0.005, name
        assert lab[..., 0][outside].std() > 5, name


def test_no_channel_is_cut_at_white(scene: NDArray[np.uint16]) -> None:
    assert (scene == 65535).mean() < 0.001


def test_the_sky_is_smooth(lab: NDArray[Any]) -> None:
    height, width = lab.shape[:2]
    sky = lab[int(0.02 * height) : int(0.14 * height), int(0.30 * width) : int(0.60 * width), 0]
    assert np.median(np.abs(np.diff(sky, axis=0))) < 1.5  # grain, no bands
    assert cv2.GaussianBlur(sky, (0, 0), 4)[-1].mean() > cv2.GaussianBlur(sky, (0, 0), 4)[0].mean()


def test_it_has_many_hues_and_tones(lab: NDArray[Any]) -> None:
    strong = lab[np.hypot(lab[..., 1], lab[..., 2]) > 40]
    hue = np.degrees(np.arctan2(strong[:, 2], strong[:, 1])) % 360
    share = np.histogram(hue, bins=12, range=(0, 360))[0] / len(hue)
    assert (share > 0.001).sum() >= 9
    assert lab[..., 0].max() > 90


# --- paint


def test_lch_agrees_with_the_general_purpose_library() -> None:
    for lightness, chroma, hue in ((50.0, 40.0, 60.0), (30.0, 30.0, 280.0), (80.0, 20.0, 150.0)):
        a, b = chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue))
        white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
        xyz = colour.Lab_to_XYZ(np.array([lightness, a, b]), white)
        # colour-science: ROMM RGB (ISO 22028-2)
        expected = colour.XYZ_to_RGB(xyz, "ROMM RGB", white, None, apply_cctf_encoding=False)
        assert lch(lightness, chroma, hue) == pytest.approx(expected, abs=1e-3)


def test_noise_has_unit_spread_and_repeats() -> None:
    noise = cloud(1, (200, 300), (12, 18), 4)
    assert abs(noise.mean()) < 0.2
    assert 0.6 < noise.std() < 1.4
    assert np.array_equal(noise, cloud(1, (200, 300), (12, 18), 4))
    assert not np.array_equal(noise, cloud(2, (200, 300), (12, 18), 4))


def test_paint_goes_over_by_its_coverage_and_stays_within_the_canvas() -> None:
    canvas = np.ones((4, 4, 3), np.float32)
    over(canvas, -1, -1, np.full((3, 3, 3), 0.25, np.float32), np.full((3, 3), 0.5, np.float32))
    assert canvas[:2, :2] == pytest.approx(np.full((2, 2, 3), 0.625), abs=1e-4)
    assert (canvas[2:] == 1).all()
    over(canvas, 9, 9, np.zeros((2, 2, 3), np.float32), np.ones((2, 2), np.float32))
    assert (canvas[2:] == 1).all()


def test_a_surface_covers_its_outline_evenly_in_any_number_of_pieces() -> None:
    camera, light = Camera(900, 600), Light((Lamp(np.array([0, 2, 1]), np.ones(3), 0.3),), np.ones(3))

    def white(size: tuple[int, int], metres: tuple[float, float]) -> Texture:
        return Texture(np.ones((*size, 3), np.float32))

    drawn = []
    for pieces in ((1, 1), (3, 4)):
        canvas = np.zeros((600, 900, 3), np.float32)
        part = Prop(flat((-0.5, 1.5, 3), (1, 0, 0), (0, 1, 0)), white, pieces=pieces, glows=True)
        part.lit(light, camera).draw(canvas, camera)
        drawn.append(canvas[..., 0])
    # a pinhole shows one metre at three metres as a third of the focal length
    assert drawn[0].sum() == pytest.approx((1.25 * 600 / 3) ** 2, rel=0.02)
    assert drawn[1][drawn[0] > 0.99].min() > 0.99  # no seams


# --- space


def test_the_mirrored_camera_sees_a_point_where_its_mirror_image_is() -> None:
    camera = Camera(300, 200)
    point = np.array([1.0, 0.7, 5.0])
    below = camera.mirror(1.0).project(point)
    assert below == pytest.approx(camera.project(point * np.array([1, -1, 1])))
    assert below[1] > camera.project(point)[1]


def test_light_falls_with_the_square_of_distance_and_the_cosine() -> None:
    light = Light((Lamp(np.zeros(3), np.ones(3), 1e-3),), np.zeros(3))

    def on(distance: float, normal: tuple[float, float, float]) -> float:
        total, _ = light.on(np.array([[0, 0, distance]], np.float32), np.array([normal], np.float32), 1.0)
        return float(total[0, 0])

    near = on(1, (0, 0, -1))
    assert near / on(3, (0, 0, -1)) == pytest.approx(9, rel=1e-2)
    assert on(1, (0, 0.6, -0.8)) / near == pytest.approx(0.8, rel=1e-2)
    assert on(1, (0, 0, 1)) == 0


def test_small_relief_is_lit_as_the_slope_it_is() -> None:
    light = Light((Lamp(np.array([-40, 2, -40]), np.full(3, 4000.0), 0.3),), np.zeros(3))
    camera = Camera(600, 400)

    def lit(slope: float, turned: tuple[float, float, float]) -> float:
        def made(size: tuple[int, int], metres: tuple[float, float]) -> Texture:
            relief: Floats = np.broadcast_to(slope * np.arange(size[1], dtype=np.float32), size).copy()
            return Texture(np.ones((*size, 3), np.float32), relief)

        net = flat((-0.5, 1.5, 3), turned, (0, 1, 0))
        return float(np.median(Prop(net, made).lit(light, camera).colour))

    sloped, tilted, level = lit(0.1, (1, 0, 0)), lit(0.0, (1, 0, -0.1)), lit(0.0, (1, 0, 0))
    assert sloped > 1.05 * level  # it rises towards the right, so it faces the lamp on the left
    assert sloped / level == pytest.approx(tilted / level, abs=0.02)
