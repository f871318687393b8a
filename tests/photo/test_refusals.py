"""What cannot be printed right is refused: in one line, at once, in little memory."""

from __future__ import annotations

import os
import struct
import tracemalloc
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray

from printprep.colour._matrix import grey_profile
from printprep.colour.profile import Profile
from printprep.errors import InputError, OutsideError, UnknownName
from printprep.photo.read import read
from tests.support.tiffs import Value, from_strips, picture, profile_bytes, tiff

MB = 1 << 20


def refused(path: Path, what: str) -> str:
    """Refused on opening or reading, in one line that names the file, without taking memory."""
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match=what) as caught:
            np.asarray(read(path))
        assert tracemalloc.get_traced_memory()[1] < 100 * MB
    finally:
        tracemalloc.stop()
    message = str(caught.value)
    assert message.isprintable()
    assert message.startswith(repr(str(path)) + ": ")
    assert "; " in message
    return message


@pytest.mark.parametrize(
    ("changes", "what"),
    [
        ({262: (3, [5]), 258: (3, [16] * 4), 277: (3, [4])}, "CMYK colours"),
        ({262: (3, [8])}, "Lab colours"),
        ({262: (3, [6])}, "YCbCr colours"),
        ({262: (3, [3])}, "palette colours"),
        ({262: (3, [4])}, "transparency mask"),
        ({262: (3, [32803])}, "sensor data"),
        ({262: (3, [32845])}, "log-encoded"),
        ({262: (3, [777])}, "unknown colour model"),
        ({262: None}, "colour model is missing"),
        ({258: (3, [1, 1, 1])}, "1 bits a channel"),
        ({258: (3, [12, 12, 12])}, "12 bits a channel"),
        ({258: (3, [32, 32, 32])}, "32 bits a channel"),
        ({258: (3, [16, 8, 16])}, "different depth"),
        ({258: (3, [16, 16])}, "contradict"),
        ({339: (3, [3, 3, 3])}, "floating point"),
        ({339: (3, [2, 2, 2])}, "signed"),
        ({339: (3, [6, 6, 6])}, "complex"),
        ({339: (3, [1, 1, 3])}, "different sample format"),
        ({259: (3, [7]), 262: (3, [6])}, "JPEG compression, which loses detail"),
        ({259: (3, [50001])}, "WebP compression, which loses detail"),
        ({259: (3, [4])}, "fax compression"),
        ({259: (3, [34712])}, "JPEG 2000 compression"),
        ({259: (3, [50002])}, "JPEG XL compression"),
        ({259: (3, [34925])}, "LZMA compression"),
        ({259: (3, [12345])}, r"unknown compression \(12345\)"),
        ({317: (3, [2])}, "stored in differences but not compressed"),
        ({317: (3, [3]), 259: (3, [5])}, "predictor"),
        ({266: (3, [2])}, "reverse order"),
        ({284: (3, [3])}, "planar configuration"),
        ({284: (3, [2])}, "1 strips listed, 3 needed"),
        ({34675: None}, "has no ICC profile, so its colours are unknown; export it with the profile embedded"),
        ({34675: (7, b"\0" * 400)}, "no ICC profile"),
        ({34675: (7, profile_bytes()[:300])}, "cut short"),
        ({34675: (7, grey_profile("grey", 2.2))}, "holds RGB values, but its ICC profile is for grey"),
        ({256: (4, [0])}, "no pixels"),
        ({256: None}, "width is missing"),
        ({257: (4, [20, 20])}, "2 values of height, 1 expected"),
        ({256: (11, struct.pack("<f", 15.0))}, "width cannot be read"),
        ({277: (3, [2])}, "contradict"),
        ({277: (3, [4]), 258: (3, [16] * 4)}, "extra channels beside its colours; flatten it first"),
        ({277: (3, [65535])}, "has 65535 channels"),
        ({256: (4, [3000]), 257: (4, [9000]), 322: (4, [1]), 323: (4, [1]), 273: None, 279: None, 324: (4, [8])},
         "is cut into 27000000 tiles"),
        ({273: (4, [8] * 50)}, "50 values of strips' places, 1 expected"),
        ({278: (4, [0])}, "strips without rows"),
        ({278: (4, [5])}, "1 strips listed, 4 needed"),
        ({273: None}, "neither strips nor tiles"),
        ({279: None}, "does not say how large its strips are"),
        ({273: (4, [0])}, "strips are missing"),
        ({279: (4, [0])}, "strips are missing"),
        ({279: (4, [1799])}, "too short"),
        ({273: (4, [1 << 30])}, "ends before its picture data; copy or export it again"),
        ({279: (4, [1 << 30])}, "ends before its picture data"),
        ({324: (4, [8]), 325: (4, [1800])}, "both strips and tiles"),
        ({282: (5, [300, 1]), 283: (5, [150, 1])}, "different resolutions across and down"),
    ],
)
def test_tags(tmp_path: Path, changes: dict[int, Value | None], what: str) -> None:
    refused(tiff(tmp_path / "a.tif", changes), what)


@pytest.mark.parametrize(
    ("changes", "what"),
    [
        ({256: (4, [200_000]), 257: (4, [200_000])}, "40|limit of 10000 million"),
        ({256: (4, [0xFFFFFFFF]), 257: (4, [0xFFFFFFFF])}, "limit"),
        ({256: (4, [90_000]), 257: (4, [90_000]), 278: (4, [90_000])}, "too short"),
        ({256: (4, [90_000]), 257: (4, [90_000]), 278: (4, [90_000]), 259: (3, [5])}, "too large|more than"),
        ({256: (4, [20_000]), 257: (4, [20_000]), 278: (4, [20_000]), 259: (3, [8])}, "more than its data can hold"),
        ({256: (4, [1_000]), 257: (4, [1_000]), 278: (4, [1_000]), 259: (3, [32773])}, "more than its data can hold"),
        ({256: (4, [20_000]), 257: (4, [20_000]), 278: (4, [20_000]), 259: (3, [5])}, "more than its data can hold"),
        (
            {322: (4, [1 << 30]), 323: (4, [1 << 30]), 273: None, 279: None, 324: (4, [8]), 325: (4, [1800])},
            "tile size",
        ),
    ],
)  # fmt: skip
def test_headers_that_declare_too_much(tmp_path: Path, changes: dict[int, Value | None], what: str) -> None:
    refused(tiff(tmp_path / "a.tif", changes), what)


def test_strips_that_share_their_data_count_once(tmp_path: Path) -> None:
    path = tiff(tmp_path / "a.tif", {257: (4, [20_000]), 278: (4, [20]), 273: (4, [8] * 1000), 279: (4, [1800] * 1000)})
    refused(path, "more than its data can hold")


def test_a_repeated_tag_is_a_contradiction(tmp_path: Path) -> None:
    path = tiff(tmp_path / "a.tif")
    data = bytearray(path.read_bytes())
    at = struct.unpack("<I", data[4:8])[0]
    data[at + 2 + 12 : at + 4 + 12] = struct.pack("<H", 256)  # the second entry becomes a second width
    path.write_bytes(data)
    refused(path, "width is given twice")


@pytest.mark.parametrize("options", [{}, {"compression": "lzw"}, {"compression": "zstd"}, {"tile": (16, 16)}])
@pytest.mark.parametrize("cut", [0.1, 0.5, 0.9])
def test_truncated_files(tmp_path: Path, options: dict[str, Any], cut: float) -> None:
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, picture(90, 70), photometric="rgb", iccprofile=profile_bytes(), metadata=None, **options)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * cut)])
    refused(path, "ends before its picture data|damaged")


@pytest.mark.parametrize("codec", ["lzw", "zlib", "zstd", "packbits"])
def test_damaged_pixels(tmp_path: Path, codec: str) -> None:
    pixels = picture(20, 15)
    encode = getattr(imagecodecs, f"{codec}_encode")
    good = [bytes(encode(pixels[y : y + 10].tobytes())) for y in (0, 10)]
    code = {"lzw": 5, "zlib": 8, "zstd": 50000, "packbits": 32773}[codec]
    changes: dict[int, Value | None] = {278: (4, [10]), 259: (3, [code])}
    np.testing.assert_array_equal(read(from_strips(tmp_path / "a.tif", good, changes, pixels)), pixels)
    for bad in (good[1][: len(good[1]) // 2], b"\xff" * len(good[1]), encode(pixels[10:19].tobytes())):
        refused(from_strips(tmp_path / "a.tif", [good[0], bad], changes, pixels), "picture data is damaged")


@pytest.mark.parametrize("bits", [np.uint8, np.uint16])
def test_transparency(tmp_path: Path, bits: type) -> None:
    pixels: NDArray[Any] = picture(20, 15, 4).astype(bits)
    pixels[..., 3] = np.iinfo(bits).max
    extra: dict[int, Value | None] = {338: (3, [2])}
    photo = read(tiff(tmp_path / "a.tif", extra, pixels))
    factor = 257 if bits is np.uint8 else 1
    np.testing.assert_array_equal(photo, pixels[..., :3].astype(np.uint16) * factor)
    assert any("alpha" in said for said in photo.announcements)
    pixels[19, 14, 3] -= 1  # one pixel, hardly transparent, is enough
    refused(tiff(tmp_path / "a.tif", extra, pixels), "transparent parts; flatten it first")
    refused(tiff(tmp_path / "a.tif", {338: (3, [0])}, pixels), "extra channels")


def test_grey_needs_a_grey_profile(tmp_path: Path) -> None:
    grey = picture(20, 15, 1)
    refused(tiff(tmp_path / "a.tif", {}, grey), "holds grey values, but its ICC profile is for RGB")
    refused(tiff(tmp_path / "a.tif", {34675: None}, grey), "no ICC profile")


def test_an_assumed_profile_is_announced_and_used_only_where_there_is_none(tmp_path: Path) -> None:
    bare = tiff(tmp_path / "a.tif", {34675: None})
    photo = read(bare, assume="romm rgb")
    assert photo.profile == Profile.named("ROMM RGB")
    assert any("ROMM RGB is assumed" in said for said in photo.announcements)
    assert read(tiff(tmp_path / "b.tif"), assume="sRGB").profile == Profile.named("opRGB")
    with pytest.raises(UnknownName, match="sRGB"):
        read(bare, assume="sRBG")
    with pytest.raises(InputError, match="the assumed profile is for grey"):
        read(bare, assume=grey_profile("grey", 2.2))


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"I",
        b"II*\0",
        b"\xff\xd8\xff\xe0" + b"\0" * 99,
        b"\x89PNG\r\n\x1a\n" + b"\0" * 99,
        b"MM\0\x2b\0\x04" + b"\0" * 20,
    ],
)
def test_not_a_tiff(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "a.tif"
    path.write_bytes(data)
    refused(path, "is empty|is not a TIFF|header is damaged|directory is damaged")


@pytest.mark.parametrize("offset", [0, 1, 7, 8, 10_000, 0xFFFFFFFF])
def test_headers_that_lead_nowhere(tmp_path: Path, offset: int) -> None:
    path = tiff(tmp_path / "a.tif")
    data = path.read_bytes()
    path.write_bytes(data[:4] + struct.pack("<I", offset) + data[8:])
    refused(path, "no picture|directory is damaged|missing|contradict|unknown|cannot be read")


def test_what_is_no_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.tif")
    (tmp_path / "folder.tif").mkdir()
    (tmp_path / "dangling.tif").symlink_to(tmp_path / "nothing")
    (tmp_path / "loop.tif").symlink_to(tmp_path / "loop.tif")
    for name, what in {
        "none.tif": "does not exist; check the name",
        "pipe.tif": "not a regular file",
        "folder.tif": "is a folder",
        "dangling.tif": "does not exist",
        "loop.tif": "leads back to itself",
        "x" * 300: "too long a name",
    }.items():
        refused(tmp_path / name, what)
    with pytest.raises(InputError, match="regular file"):
        read("/dev/null")
    with pytest.raises(InputError, match="no file name"):
        read("a\0b.tif")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_no_permission(tmp_path: Path) -> None:
    path = tiff(tmp_path / "a.tif")
    path.chmod(0)
    with pytest.raises(OutsideError, match="permission denied"):
        read(path)


def test_names_are_shown_harmless(tmp_path: Path) -> None:
    name = os.fsencode(tmp_path) + b"/\x1b[31m\nw\xff.tif"
    with pytest.raises(InputError, match="does not exist") as caught:
        read(name)
    assert str(caught.value).isprintable()
    tiff(tmp_path / "a.tif").rename(os.fsdecode(name))
    np.testing.assert_array_equal(read(name), picture())


def test_the_limit_can_be_raised_and_lowered(tmp_path: Path) -> None:
    path = tiff(tmp_path / "a.tif")
    with pytest.raises(InputError, match="limit"):
        read(path, max_pixels=299)
    assert read(path, max_pixels=300).shape == (20, 15, 3)
