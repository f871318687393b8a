"""Resizing in bands: against Pillow's Lanczos, and against itself cut elsewhere."""

from typing import Any

import numpy as np
import pytest
import skimage.data
import skimage.transform
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image
from skimage.metrics import peak_signal_noise_ratio

from printprep.photo.pixels import ArrayPixels
from printprep.render.resample import ResizedPixels, Tiles, resized
from tests.support.tiffs import picture


def photograph() -> NDArray[np.uint16]:
    """A real picture: scikit-image's bundled photograph of a rocket launch, public domain."""
    return np.asarray(skimage.data.rocket()[:200, :300].astype(np.uint16) * np.uint16(257))


def whole(pixels: ResizedPixels) -> NDArray[np.uint16]:
    out = np.empty((pixels.height, pixels.width, 3), np.uint16)
    pixels.read(0, out)
    return out


@pytest.mark.parametrize("size", [(297, 446), (200, 301), (101, 150), (60, 900), (200, 300), (1, 1)])
def test_as_pillow_resizes(size: tuple[int, int]) -> None:
    codes = photograph()
    got = whole(ResizedPixels(ArrayPixels(codes), *size)).astype(float)
    height, width = size
    for channel in range(3):
        # Pillow, resampling filter LANCZOS in floating point; it also widens the kernel to make pictures smaller
        image = Image.fromarray(codes[..., channel].astype(np.float32))
        wanted = np.clip(np.asarray(image.resize((width, height), Image.Resampling.LANCZOS)), 0, 65535)
        # Pillow leaves out taps beyond the edge, we repeat the edge: alike three source pixels inside
        y, x = (min(int(np.ceil(3 * max(o / s, 1))), (o - 1) // 2) for o, s in zip(size, codes.shape[:2], strict=True))
        inside = (slice(y, height - y or None), slice(x, width - x or None))
        if min(size) > 1:
            assert np.abs(got[..., channel] - wanted)[inside].max() <= 1.0
        assert np.abs(got[..., channel].mean() - wanted.mean()) < 1500


def test_the_same_size_is_the_same_picture() -> None:
    codes = photograph()
    assert np.array_equal(whole(ResizedPixels(ArrayPixels(codes), *codes.shape[:2])), codes)


@pytest.mark.parametrize(("size", "resized"), [(100, 149), (149, 100), (7, 3), (3, 700), (1, 5), (5, 1)])
def test_weights_sum_to_one_and_even_areas_stay_even(size: int, resized: int) -> None:
    tiles = Tiles.lanczos(size, resized)
    assert np.abs(tiles.weights.astype(float).sum(axis=2).ravel()[:resized] - 1).max() < 1e-6
    even = np.full((size, size, 3), 54_321, np.uint16)
    assert set(np.unique(whole(ResizedPixels(ArrayPixels(even), resized, resized)))) == {54_321}


def test_phase_is_exact_a_ramp_stays_a_ramp() -> None:
    ramp = np.repeat(np.linspace(10_000, 50_000, 400)[:, None, None], 3, axis=2).repeat(8, axis=1)
    got = whole(ResizedPixels(ArrayPixels(ramp.round().astype(np.uint16)), 594, 8))[:, 4, 1]
    step = 40_000 / 399
    centres = (np.arange(594) + 0.5) * 400 / 594 - 0.5  # pixel centres at halves
    assert np.abs(got[6:-6] - (10_000 + step * centres)[6:-6]).max() < 0.02 * step + 1


@settings(max_examples=25, deadline=None)
@given(
    height=st.integers(1, 160), width=st.integers(1, 90), rows=st.integers(1, 60), first=st.integers(0, 3),
    seed=st.integers(0, 9),
)  # fmt: skip
def test_bands_may_be_cut_anywhere(height: int, width: int, rows: int, first: int, seed: int) -> None:
    pixels = ResizedPixels(ArrayPixels(picture(57, 41, seed=seed)), height, width)
    wanted = whole(pixels)
    top = min(first, height - 1)
    while top < height:
        band = np.empty((min(rows, height - top), width, 3), np.uint16)
        pixels.read(top, band)
        assert np.array_equal(band, wanted[top : top + len(band)])
        top += len(band)


@pytest.mark.parametrize(
    ("scale", "bound"), [(1.3, 0.12), (1.5, 0.12), (2, 0.12), (3.7, 0.12), (0.77, 0.02), (0.37, 0.02)]
)
def test_ringing_is_bounded(scale: float, bound: float) -> None:
    edge = np.full((8, 400, 3), 20_000, np.uint16)
    edge[:, 200:] = 40_000
    got = whole(ResizedPixels(ArrayPixels(edge), 8, int(400 * scale)))[4, :, 0].astype(float)
    assert got.max() <= 40_000 + bound * 20_000 and got.min() >= 20_000 - bound * 20_000
    far = np.r_[got[: int(190 * scale)], got[int(210 * scale) :]]
    assert np.abs(np.where(far < 30_000, far - 20_000, far - 40_000)).max() <= 200


def test_larger_as_near_to_the_truth_as_others_and_nearer_than_by_light() -> None:
    truth = skimage.data.astronaut()[:256, :384].astype(np.uint16) * np.uint16(257)  # NASA, public domain
    height, width = truth.shape[:2]
    halved = np.rint(truth.reshape(height // 2, 2, width // 2, 2, 3).mean((1, 3))).astype(np.uint16)

    def ours(codes: NDArray[np.uint16]) -> NDArray[np.uint16]:
        return whole(ResizedPixels(ArrayPixels(codes), height, width))

    def near(codes: NDArray[Any]) -> float:
        return float(peak_signal_noise_ratio(truth, np.clip(codes, 0, 65535).astype(np.uint16), data_range=65535))

    channels = [Image.fromarray(halved[..., k].astype(np.float32)) for k in range(3)]
    pillow = np.stack([np.asarray(c.resize((width, height), Image.Resampling.LANCZOS)) for c in channels], axis=-1)
    cubic = skimage.transform.resize(halved / 65535, (height, width), order=3) * 65535
    light = ours(np.rint((halved / 65535) ** 2.2 * 65535).astype(np.uint16))
    assert near(ours(halved)) >= near(pillow) - 0.02
    assert near(ours(halved)) >= near(cubic)
    assert near(ours(halved)) >= near((light / 65535) ** (1 / 2.2) * 65535) + 0.2


@pytest.mark.parametrize("scale", [0.5, 0.37])
def test_smaller_without_aliases(scale: float) -> None:
    """A zone plate: what is finer than the output can show must be grey."""
    size = 256
    y, x = np.mgrid[:size, :size] - size / 2
    plate = (0.5 + 0.5 * np.cos(np.pi * (x * x + y * y) / size)) * 65535
    small = int(size * scale)
    codes = np.repeat(plate[..., None], 3, axis=2).astype(np.uint16)
    got = whole(ResizedPixels(ArrayPixels(codes), small, small))[..., 0]
    pillow = np.asarray(Image.fromarray(plate.astype(np.float32)).resize((small, small), Image.Resampling.LANCZOS))
    cubic = skimage.transform.resize(plate, (small, small), order=3, anti_aliasing=True)
    y, x = np.mgrid[:small, :small] - small / 2
    radius = np.hypot(x, y) / scale
    fine, coarse = radius > size / 2 * scale * 1.15, radius < size / 2 * scale * 0.8
    assert got[fine].std() <= pillow[fine].std() * 1.05
    assert got[fine].std() < cubic[fine].std() and got[coarse].std() > cubic[coarse].std()


def test_far_smaller_by_way_of_block_means() -> None:
    codes = picture(480, 640)
    got = whole(resized(ArrayPixels(codes), 60, 80)).astype(float)
    for channel in range(3):
        image = Image.fromarray(codes[..., channel].astype(np.float32))
        wanted = np.asarray(image.resize((80, 60), Image.Resampling.LANCZOS))
        assert np.abs(got[..., channel] - wanted).mean() < 0.02 * 65535
    assert np.abs(got.mean((0, 1)) - codes.mean((0, 1))).max() < 300
    ramp = np.repeat(np.linspace(5_000, 60_000, 900)[None, :, None], 40, axis=0).repeat(3, axis=2).round()
    flat = whole(resized(ArrayPixels(ramp.astype(np.uint16)), 5, 113))[2, :, 0]
    centres = (np.arange(113) + 0.5) * 900 / 113 - 0.5
    assert np.abs(flat - (5_000 + 55_000 / 899 * centres))[4:-4].max() < 8  # the phase is exact


@settings(max_examples=15, deadline=None)
@given(top=st.integers(0, 40), rows=st.integers(1, 20))
def test_far_smaller_bands_may_be_cut_anywhere(top: int, rows: int) -> None:
    pixels = resized(ArrayPixels(picture(300, 200)), 42, 29, (3.5, 10.0, 190.0, 280.0))
    band = np.empty((min(rows, 42 - top), 29, 3), np.uint16)
    pixels.read(top, band)
    assert np.array_equal(band, whole(pixels)[top : top + len(band)])
