"""Resizing in bands: against Pillow's Lanczos, and against itself cut elsewhere."""

import numpy as np
import pytest
import skimage.data
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

from printprep.photo.pixels import ArrayPixels
from printprep.render.resample import ResizedPixels, Tiles
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
