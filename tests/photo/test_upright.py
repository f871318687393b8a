"""Pictures stored turned, in grey, with 8 bits, or without a resolution: what is made of them, and said."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image, ImageOps

from printprep.colour._matrix import grey_profile
from printprep.colour.profile import Profile
from printprep.files import limits
from printprep.photo.read import read
from tests.support.tiffs import Value, picture, profile_bytes, tiff

# TIFF 6.0, Orientation: what the stored first row and first column are in the upright picture
UPRIGHT = {
    1: lambda a: a,
    2: lambda a: a[:, ::-1],
    3: lambda a: a[::-1, ::-1],
    4: lambda a: a[::-1],
    5: lambda a: a.transpose(1, 0, 2),
    6: lambda a: np.rot90(a, -1),
    7: lambda a: np.rot90(a, 2).transpose(1, 0, 2),
    8: lambda a: np.rot90(a, 1),
}


def stored(path: Path, pixels: NDArray[Any], orientation: int, **options: Any) -> Path:
    tifffile.imwrite(
        path, pixels, photometric="rgb", iccprofile=profile_bytes(), resolution=(300, 300), metadata=None,
        extratags=[(274, 3, 1, orientation, True)], **options,
    )  # fmt: skip
    return path


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize(
    "options", [{}, {"compression": "zstd", "predictor": True, "rowsperstrip": 7}, {"tile": (32, 16)},
                {"tile": (16, 16), "compression": "lzw"}],
)  # fmt: skip
@pytest.mark.parametrize("tight", [False, True])
def test_orientation(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, orientation: int, options: dict[str, Any], tight: bool
) -> None:
    if tight:  # small panels, and decoded pieces kept on disk
        monkeypatch.setattr(limits, "PANEL_BYTES", 6 * 100 * 10)
        monkeypatch.setattr(limits, "BAND_BYTES", 6 * 10 * 7)  # panels in parts
        monkeypatch.setattr(limits, "CACHE_CEILING", 1)
    pixels = picture(90, 70)
    photo = read(stored(tmp_path / "a.tif", pixels, orientation, **options))
    wanted = UPRIGHT[orientation](pixels)
    assert photo.shape == wanted.shape
    np.testing.assert_array_equal(photo, wanted)
    np.testing.assert_array_equal(photo.rows(23, 42), wanted[23:42])
    assert (orientation > 1) == any("turned upright" in said for said in photo.announcements)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_another_reader_turns_alike(tmp_path: Path, orientation: int) -> None:
    pixels = picture(9, 7).astype(np.uint8)
    path = stored(tmp_path / "a.tif", pixels, orientation)
    with Image.open(path) as image:
        wanted = np.asarray(ImageOps.exif_transpose(image))
    np.testing.assert_array_equal(np.asarray(read(path)) // 257, wanted)


@pytest.mark.parametrize("value", [0, 9, 65535])
def test_invalid_orientations_count_as_upright(tmp_path: Path, value: int) -> None:
    photo = read(tiff(tmp_path / "a.tif", {274: (3, [value])}))
    np.testing.assert_array_equal(photo, picture())
    assert any("invalid orientation" in said for said in photo.announcements)


def test_8_bits_become_16_with_a_warning(tmp_path: Path) -> None:
    pixels = np.arange(256, dtype=np.uint8).repeat(3).reshape(16, 16, 3)
    photo = read(tiff(tmp_path / "a.tif", {}, pixels))
    np.testing.assert_array_equal(photo, pixels.astype(np.uint16) * 257)
    assert any("8 bits" in said and "bands" in said for said in photo.announcements)


@pytest.mark.parametrize("curve", [1.8, 2.2, 563 / 256, (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)])
@pytest.mark.parametrize("bits", [8, 16])
def test_grey_goes_through_its_profile(tmp_path: Path, curve: Any, bits: int) -> None:
    profile = grey_profile("grey", curve)
    values = np.linspace(0, (1 << bits) - 1, 256).astype(f"u{bits // 8}").reshape(16, 16, 1)
    photo = read(tiff(tmp_path / "a.tif", {34675: (7, profile)}, values))
    assert photo.profile == Profile.named("opRGB")
    rgb = np.asarray(photo).astype(np.float64) / 65535
    assert (rgb[..., 0] == rgb[..., 1]).all()
    assert (rgb[..., 0] == rgb[..., 2]).all()

    def lightness(values: NDArray[Any], source: bytes, space: str) -> NDArray[Any]:
        lab = imagecodecs.cms_transform(
            values, source, imagecodecs.cms_profile("lab4"), colorspace=space, outcolorspace="lab",
            outdtype="float64", intent=1, flags=0x0140,
        )  # fmt: skip
        return np.asarray(lab)[..., 0]

    wanted = lightness(values[..., 0] / ((1 << bits) - 1), profile, "gray")
    np.testing.assert_allclose(lightness(rgb, photo.profile.data, "rgb"), wanted, atol=0.01)
    assert any("grey" in said and "opRGB" in said for said in photo.announcements)


def test_grey_with_white_as_zero(tmp_path: Path) -> None:
    profile, grey = grey_profile("grey", 563 / 256), picture(20, 15, 1)
    usual = np.asarray(read(tiff(tmp_path / "a.tif", {34675: (7, profile)}, grey)))
    inverted: dict[int, Value | None] = {34675: (7, profile), 262: (3, [0])}
    np.testing.assert_array_equal(read(tiff(tmp_path / "b.tif", inverted, np.uint16(65535) - grey)), usual)
    assert np.abs(usual.astype(int) - grey).max() <= 1  # the same curve on both sides: nothing changes


def test_grey_with_opaque_alpha(tmp_path: Path) -> None:
    pixels = np.concatenate([picture(20, 15, 1), np.full((20, 15, 1), 65535, np.uint16)], axis=2)
    changes: dict[int, Value | None] = {34675: (7, grey_profile("g", 563 / 256)), 262: (3, [1]), 338: (3, [1])}
    rgb = np.asarray(read(tiff(tmp_path / "a.tif", changes, pixels)))
    assert np.abs(rgb.astype(int) - pixels[..., :1]).max() <= 1


@pytest.mark.parametrize(
    ("changes", "ppi", "said"),
    [
        ({}, 300, False),
        ({282: (5, [720000, 10000]), 283: (5, [720000, 10000])}, 72, False),
        ({282: (5, [118, 1]), 283: (5, [118, 1]), 296: (3, [3])}, 118 * 2.54, False),
        ({296: None}, 300, False),  # inch is the default (TIFF 6.0)
        ({282: None, 283: None}, 300, True),
        ({282: (5, [0, 1]), 283: (5, [0, 1])}, 300, True),
        ({282: (5, [300, 0]), 283: (5, [300, 0])}, 300, True),
        ({282: (5, [0xFFFFFFFF, 1]), 283: (5, [0xFFFFFFFF, 1])}, 300, True),
        ({282: (5, [1, 1]), 283: (5, [1, 1]), 296: (3, [1])}, 300, True),  # a mere aspect ratio
        ({282: (3, [300]), 283: (3, [300])}, 300, True),
        ({282: (5, [300, 1]), 283: None}, 300, False),
    ],
)
def test_resolution(tmp_path: Path, changes: dict[int, Value | None], ppi: float, said: bool) -> None:
    photo = read(tiff(tmp_path / "a.tif", changes))
    assert photo.resolution.ppi == pytest.approx(ppi)
    assert photo.resolution.pixels_per_mm == pytest.approx(ppi / 25.4)
    assert said == any("300 pixels per inch is used" in line for line in photo.announcements)
