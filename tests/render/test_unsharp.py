"""The unsharp mask in bands: against scikit-image's, and against itself cut elsewhere."""

import numpy as np
import pytest
import skimage.data
import skimage.filters
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from printprep.photo.pixels import ArrayPixels
from printprep.render.resample import ResizedPixels
from printprep.render.unsharp import UnsharpPixels
from tests.support.tiffs import picture


def whole(pixels: UnsharpPixels) -> NDArray[np.uint16]:
    out = np.empty((pixels.height, pixels.width, 3), np.uint16)
    pixels.read(0, out)
    return out


@pytest.mark.parametrize(("sigma", "amount"), [(0.6, 0.5), (1.0, 1.0), (2.3, 1.8)])
def test_as_scikit_image_sharpens(sigma: float, amount: float) -> None:
    grey = skimage.data.camera()[100:300, 100:300].astype(np.uint16) * np.uint16(257)  # a real picture, public domain
    codes = np.ascontiguousarray(np.repeat(grey[..., None], 3, axis=2))
    got = whole(UnsharpPixels(ArrayPixels(codes), sigma, amount))
    wanted = skimage.filters.unsharp_mask(grey.astype(float), sigma, amount, preserve_range=True).clip(0, 65535)
    assert np.array_equal(got[..., 0], got[..., 2])
    # its blur is cut off at 4 sigma, ours at 3.5: 0.05 % of the largest difference, and each of us rounds
    assert np.abs(got[..., 1] - wanted).max() <= 0.001 * amount * 65535 + 1


def test_edges_gain_no_colour() -> None:
    codes = np.full((40, 40, 3), (30_000, 20_000, 10_000), np.uint16)
    codes[:, 20:] = (34_000, 24_000, 14_000)
    change = whole(UnsharpPixels(ArrayPixels(codes), 1.0, 1.0)).astype(int) - codes
    assert np.abs(change).max() > 500
    assert (np.ptp(change, axis=2) <= 1).all()


def test_flat_areas_and_what_is_below_the_threshold_stay() -> None:
    rng = np.random.default_rng(0)
    flat = np.full((30, 30, 3), 12_345, np.uint16)
    assert np.array_equal(whole(UnsharpPixels(ArrayPixels(flat), 1.5, 2.0)), flat)
    noise = (flat + rng.integers(-100, 100, (30, 30, 1))).astype(np.uint16)
    assert np.array_equal(whole(UnsharpPixels(ArrayPixels(noise), 1.0, 1.0, threshold=0.004)), noise)
    assert not np.array_equal(whole(UnsharpPixels(ArrayPixels(noise), 1.0, 1.0)), noise)


def test_ends_of_the_scale_do_not_wrap_round() -> None:
    codes = np.zeros((20, 20, 3), np.uint16)
    codes[5:15, 5:15] = 65_535
    assert np.array_equal(whole(UnsharpPixels(ArrayPixels(codes), 1.0, 5.0)), codes)


@settings(max_examples=25, deadline=None)
@given(
    height=st.integers(1, 70), sigma=st.floats(0.3, 6), rows=st.integers(1, 40), seed=st.integers(0, 9),
    resized=st.booleans(),
)  # fmt: skip
def test_bands_may_be_cut_anywhere(height: int, sigma: float, rows: int, seed: int, resized: bool) -> None:
    inner = ArrayPixels(picture(height, 37, seed=seed))
    pixels = UnsharpPixels(ResizedPixels(inner, 2 * height, 61) if resized else inner, sigma, 1.0, 0.001)
    wanted = whole(pixels)
    for top in range(0, pixels.height, rows):
        band = np.empty((min(rows, pixels.height - top), pixels.width, 3), np.uint16)
        pixels.read(top, band)
        assert np.array_equal(band, wanted[top : top + len(band)])
