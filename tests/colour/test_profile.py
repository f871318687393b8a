"""Profiles: values against published ones, what is refused, and that bytes never change."""

from __future__ import annotations

import hashlib
import io
import struct
from pathlib import Path

import colour
import imagecodecs
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import ImageCms

from printprep.colour._matrix import grey_profile, rgb_profile
from printprep.colour.profile import NAMES, Profile
from printprep.errors import InputError, ParameterError, UnknownName
from tests.support.lutprofile import MatrixInk, output_profile

# Lab D50, relative colorimetric, of the free profiles for sRGB (IEC 61966-2-1), opRGB (IEC 61966-2-5)
# and ROMM RGB (ISO 22028-2), by LittleCMS, and from the standards' equations with Bradford.
COLOURS = [(1, 1, 1), (0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1), (0, 1, 1), (1, 0, 1), (1, 1, 0),
           (0.5, 0.5, 0.5), (0.1, 0.1, 0.1), (0.8, 0.6, 0.5)]  # fmt: skip
LAB = {
    "sRGB": [
        (100, 0, 0), (0, 0, 0), (54.279, 80.806, 69.876), (87.826, -79.234, 80.980), (29.561, 68.290, -112.034),
        (90.672, -50.637, -14.951), (60.156, 93.541, -60.514), (97.609, -15.748, 93.373), (53.391, 0, 0),
        (9.013, 0, 0), (67.700, 17.204, 21.253),
    ],
    "opRGB": [
        (100, 0, 0), (0, 0, 0), (62.601, 90.371, 78.149), (83.214, -129.090, 87.173), (30.210, 69.244, -113.612),
        (86.449, -83.408, -21.778), (67.601, 101.304, -50.816), (97.502, -16.478, 103.676), (53.788, 0, 0),
        (5.710, 0, 0), (70.012, 23.457, 24.878),
    ],
    "ROMM RGB": [
        (100, 0, 0), (0, 0, 0), (60.608, 139.169, 104.497), (87.576, -186.694, 150.994), (0.083, 90.249, -172.272),
        (87.581, -168.018, -21.413), (60.616, 145.203, -67.903), (99.997, -5.464, 172.409), (60.532, 0, 0),
        (13.138, 0, 0), (74.612, 35.523, 24.276),
    ],
}  # fmt: skip


def lab(profile: bytes, rgb: object) -> NDArray[np.float64]:
    found: NDArray[np.float64] = imagecodecs.cms_transform(
        np.array([rgb], np.float64), profile, imagecodecs.cms_profile("lab4"),
        colorspace="rgb", outcolorspace="lab", outdtype="float64", intent=1, flags=0x0140,
    )  # fmt: skip
    return np.asarray(found[0])


@pytest.mark.parametrize("name", LAB)
def test_named_profiles_give_the_published_colours(name: str) -> None:
    np.testing.assert_allclose(lab(Profile.named(name).data, COLOURS), LAB[name], atol=0.1)


@pytest.mark.parametrize(
    ("name", "decode"),
    [
        ("sRGB", colour.models.eotf_sRGB),
        ("opRGB", lambda v: v ** (563 / 256)),
        ("ROMM RGB", lambda v: colour.models.cctf_decoding_ROMMRGB(v)),
        ("Display P3", colour.models.eotf_sRGB),
        ("BT.2020", lambda v: colour.models.oetf_inverse_BT2020(v, is_12_bits_system=True)),
        ("BT.709", colour.models.oetf_inverse_BT709),
    ],
)
def test_curves_are_those_of_the_standards(name: str, decode: object) -> None:
    # colour-science's functions after the same standards; ROMM's straight part lies below 1/32
    values = np.concatenate([np.linspace(0, 0.06, 200), np.linspace(0.06, 1, 200)])
    found = lab(Profile.named(name).data, np.repeat(values[:, None], 3, axis=1))[:, 0]
    wanted = colour.XYZ_to_Lab(np.asarray(decode(values))[:, None] * colour.xy_to_XYZ([0.3457, 0.3585]))[:, 0]  # type: ignore[operator]
    np.testing.assert_allclose(found, wanted, atol=0.003)


def test_greys_are_exactly_neutral() -> None:
    greys = np.repeat(np.linspace(0, 1, 50)[:, None], 3, axis=1)
    for name in NAMES:
        assert np.abs(lab(Profile.named(name).data, greys)[:, 1:]).max() < 1e-3


def test_bytes_are_the_same_for_ever() -> None:
    seen = {name: hashlib.sha256(Profile.named(name).data).hexdigest()[:16] for name in LAB}
    assert seen == {"sRGB": "f3a82589b3c67ea2", "opRGB": "25711d0178641f49", "ROMM RGB": "2497938c073b14c6"}
    for name in LAB:
        data = Profile.named(name).data
        assert data[24:36] == bytes(12)  # no date (ISO 15076-1, 7.2.8)
        assert data[84:100] == bytes(16)  # no identifier, which is allowed (7.2.18)
        assert int.from_bytes(data[:4], "big") == len(data)


def test_another_reader_takes_them() -> None:
    for name in LAB:
        opened = ImageCms.ImageCmsProfile(io.BytesIO(Profile.named(name).data))
        assert ImageCms.getProfileDescription(opened).strip() == name
        assert opened.profile.version == pytest.approx(4.3)


@pytest.mark.parametrize(
    ("name", "title"),
    [
        ("sRGB", "sRGB"),
        ("opRGB", "Adobe RGB (1998)"),
        ("ROMM RGB", "ROMM RGB"),
        ("Display P3", "Display P3"),
        ("BT.2020", "ITU-R BT.2020"),
        ("BT.709", "ITU-R BT.709"),
    ],
)
def test_primaries_are_those_of_the_standards(name: str, title: str) -> None:
    """Against colour-science's tables of the same standards, by each space's own matrix and linear Bradford."""
    space = colour.RGB_COLOURSPACES[title]
    d50 = colour.xy_to_XYZ([0.3457, 0.3585])
    xyz = colour.RGB_to_XYZ(np.eye(3), space, [0.3457, 0.3585], "Bradford", apply_cctf_decoding=False)
    wanted = colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(d50))
    found = lab(Profile.named(name).data, np.eye(3))
    assert np.linalg.norm(found - wanted, axis=1).max() < 0.2  # ROMM rounds its matrix


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Adobe RGB (1998)", "opRGB"),
        ("adobe rgb", "opRGB"),
        ("AdobeRGB1998", "opRGB"),
        ("ProPhoto RGB", "ROMM RGB"),
        ("prophotorgb", "ROMM RGB"),
        ("display-p3", "Display P3"),
        ("DisplayP3", "Display P3"),
        ("Rec. 2020", "BT.2020"),
        ("rec2020", "BT.2020"),
        ("ITU-R BT.709", "BT.709"),
        ("REC.709", "BT.709"),
    ],
)
def test_usual_titles_of_published_spaces(title: str, name: str) -> None:
    assert Profile.load(title).data == Profile.named(name).data


def test_another_kind_is_no_profile() -> None:
    for wrong in (None, 5, np.zeros(3)):
        with pytest.raises(ParameterError, match="profile"):
            Profile.load(wrong)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["sRGB", "srgb", "OPRGB", "op-RGB", "rommrgb", "ROMM RGB", "romm_rgb"])
def test_names_in_any_spelling(name: str) -> None:
    assert Profile.load(name).description in LAB


@pytest.mark.parametrize("name", ["sRBG", "", "nothing of the kind"])
def test_unknown_names_say_what_there_is(name: str) -> None:
    with pytest.raises(UnknownName, match="sRGB"):
        Profile.load(name)


def test_from_a_file_and_from_bytes(tmp_path: Path) -> None:
    data = Profile.named("opRGB").data
    (tmp_path / "a.icc").write_bytes(data)
    for source in (tmp_path / "a.icc", str(tmp_path / "a.icc"), data):
        assert Profile.load(source) == Profile.named("opRGB")
    (tmp_path / "sRGB.icc").write_bytes(data + b"\0" * 11)  # padding does no harm, and is not carried on
    assert Profile.load(tmp_path / "sRGB.icc").data == data


def test_missing_files_are_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"'.*none\.icc': does not exist; check the name"):
        Profile.load(tmp_path / "none.icc")


def patched(at: int, new: bytes, base: bytes | None = None) -> bytes:
    data = bytearray(base or Profile.named("sRGB").data)
    data[at : at + len(new)] = new
    return bytes(data)


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "no ICC profile"),
        (b"\0" * 500, "no ICC profile"),
        (Profile.named("sRGB").data[:400], "cut short"),
        (patched(0, struct.pack(">I", 1 << 31)), "cut short"),
        (patched(0, struct.pack(">I", 4)), "cut short"),
        (patched(12, b"link"), "device link"),
        (patched(12, b"abst"), "abstract"),
        (patched(12, b"nmcl"), "named colours"),
        (patched(12, b"\x1b[2J"), "unknown"),
        (patched(16, b"Lab "), "Lab colours"),
        (patched(16, b"CMYK"), "damaged"),
        (patched(132, b"zzzz" * 60), "damaged"),
        (rgb_profile("flat", ((0.34, 0.36), (0.345, 0.37), (0.35, 0.35)), (0.3457, 0.3585), 1.0), "ICC profile"),
    ],
)
def test_useless_profiles_are_refused_saying_why(data: bytes, what: str) -> None:
    with pytest.raises(InputError, match=what) as caught:
        Profile.from_bytes(data, "'x.icc'")
    assert str(caught.value).isprintable()


def test_a_profile_that_opens_but_gives_one_colour_for_all_is_refused() -> None:
    red = Profile.named("sRGB").data.find(b"XYZ ", 300)
    data = bytearray(Profile.named("sRGB").data)
    places = [i for i in range(128, len(data)) if data[i : i + 8] == b"XYZ \0\0\0\0"]
    assert red in places
    for place in places[1:]:  # all three primaries become a third of white each
        data[place + 8 : place + 20] = struct.pack(">3i", 21063, 21845, 18020)
    imagecodecs.cms_profile_validate(bytes(data))  # the library finds nothing wrong
    with pytest.raises(InputError, match="same colour for different primaries"):
        Profile.from_bytes(bytes(data))


def test_a_profile_whose_white_is_lighter_than_white_is_refused() -> None:
    """A damaged primary does that; relative to white, white is L* 100 by definition (ICC.1:2010, 6.3.4)."""
    data = bytearray(Profile.named("sRGB").data)
    places = [i for i in range(128, len(data)) if data[i : i + 8] == b"XYZ \0\0\0\0"]
    for place in places[1:]:
        values = struct.unpack_from(">3i", data, place + 8)
        struct.pack_into(">3i", data, place + 8, *(round(1.5 * v) for v in values))
    with pytest.raises(InputError, match="lighter than white"):
        Profile.from_bytes(bytes(data))


def test_grey_and_table_profiles_are_known_for_what_they_are() -> None:
    grey = Profile.from_bytes(grey_profile("Grey 2.2", 2.2))
    assert (grey.model, grey.description, grey.device_class) == ("GRAY", "Grey 2.2", "display")
    paper = MatrixInk(16.0)
    table = Profile.from_bytes(output_profile(paper.lab, paper.rgb))
    assert (table.model, table.device_class, table.two_way) == ("RGB", "output", True)


def test_descriptions_cannot_steer_a_terminal() -> None:
    nasty = rgb_profile("a\x1b[31m\nb" + "x" * 500, ((0.64, 0.33), (0.3, 0.6), (0.15, 0.06)), (0.3127, 0.329), 2.2)
    description = Profile.from_bytes(nasty).description
    assert description.isprintable()
    assert description.startswith(r"a\x1b[31m\nb")
    assert len(description) < 100
