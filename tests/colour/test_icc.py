import imagecodecs
import numpy as np
import pytest

from printprep.colour.icc import device_from_device, device_from_lab, lab_from_device, lab_profile, model_of
from printprep.errors import InputError
from tests.support.lutprofile import MatrixInk, output_profile


def srgb() -> bytes:
    return bytes(imagecodecs.cms_profile("srgb"))


# IEC 61966-2-1 primaries to D50 by Bradford (ICC.1 annex), computed from the equations with colour-science 0.4.7
SRGB_LAB = [
    ((1, 1, 1), (100.0, 0.0, 0.0)),
    ((0, 0, 0), (0.0, 0.0, 0.0)),
    ((1, 0, 0), (54.28, 80.81, 69.88)),
    ((0, 1, 0), (87.83, -79.23, 80.98)),
    ((0, 0, 1), (29.56, 68.29, -112.03)),
    ((0.5, 0.5, 0.5), (53.39, 0.0, 0.0)),
]


@pytest.mark.parametrize(("rgb", "lab"), SRGB_LAB)
def test_srgb_has_its_published_colours(rgb: tuple[float, ...], lab: tuple[float, ...]) -> None:
    assert np.allclose(lab_from_device(np.array(rgb, float), srgb()), lab, atol=0.1)


def test_shapes_and_precision_are_kept() -> None:
    for shape in ((3,), (0, 3), (2, 5, 3), (1, 2, 3, 3)):
        for dtype in (np.float32, np.float64):
            lab = lab_from_device(np.full(shape, 0.5, dtype), srgb())
            assert lab.shape == shape
            assert lab.dtype == dtype
            assert device_from_lab(lab, srgb()).shape == shape


def test_table_profile_gives_the_model_it_was_made_from() -> None:
    ink = MatrixInk(16)
    profile = output_profile(ink.lab, ink.rgb)
    nodes = np.stack(np.meshgrid(*[np.linspace(0, 1, 17)] * 3, indexing="ij"), -1)
    # 16-bit Lab of ICC.1:2001 has steps of 1/256 in a* and b*
    assert np.abs(lab_from_device(nodes, profile) - ink.lab(nodes)).max() < 0.01


def test_ink_is_a_share_not_per_cent() -> None:
    def paper(cmyk: np.ndarray) -> np.ndarray:
        grey = 95 - 80 * np.minimum(1, cmyk.sum(1) / 2)
        return np.stack([grey, 0 * grey, 0 * grey], -1)

    profile = output_profile(paper, lambda lab: np.zeros((len(lab), 4)), channels=4, device_nodes=5, lab_nodes=5)
    assert model_of(profile) == "CMYK"
    got = lab_from_device(np.array([[0, 0, 0, 0], [0.5, 0.5, 0, 0], [1, 1, 1, 1]]), profile)
    assert np.allclose(got[:, 0], [95, 55, 15], atol=0.1)


def test_wrong_model_and_one_way_profiles_are_refused() -> None:
    with pytest.raises(InputError, match="neither RGB"):
        model_of(lab_profile())
    with pytest.raises(InputError, match="use another"):
        lab_from_device(np.zeros((1, 3)), b"\0" * 16 + b"RGB " + b"\0" * 180)


def test_dialogue_conversion_is_littlecms_own() -> None:
    ink = MatrixInk(20)
    profile = output_profile(ink.lab, ink.rgb)
    codes = np.random.default_rng(3).integers(0, 65536, (1, 500, 3)).astype(np.uint16)
    theirs = imagecodecs.cms_transform(
        codes, srgb(), profile, colorspace="rgb", outcolorspace="rgb", intent=1, flags=0x2100
    )
    ours = device_from_device(codes / 65535, srgb(), profile, black_compensation=True)
    assert np.abs(ours * 65535 - theirs).mean() < 2
