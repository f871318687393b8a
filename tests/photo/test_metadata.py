"""Metadata survives byte for byte, as another reader sees it; broken parts are dropped one by one."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import tifffile

from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.photo.tiff.collect import sound_iptc
from tests.support.metadata import BLOCKS, EXIF, GPS, INTEROP, IPTC, TEXT, XMP, rich, values
from tests.support.tiffs import Value, picture


def through(source: Path, tmp_path: Path) -> tuple[Photo, Path]:
    photo = read(source)
    out = tmp_path / "out.tif"
    photo.write(out, overwrite=True)
    np.testing.assert_array_equal(tifffile.imread(out), picture())
    return photo, out


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("big", [False, True])
def test_everything_survives(tmp_path: Path, order: str, big: bool) -> None:
    source = rich(tmp_path / "a.tif", order, big=big)
    photo, out = through(source, tmp_path)
    assert photo.announcements == ()
    # Pillow does not find the sub-directories of a BigTIFF in the other byte order, so: the same as a classic file
    before, after = values(rich(tmp_path / "classic.tif", order)), values(out)
    assert after == before
    assert {k: len(v) for k, v in after.items()} == {
        "main": len(TEXT) + 7, "exif": len(EXIF), "gps": len(GPS), "interop": len(INTEROP),
    }  # fmt: skip
    with tifffile.TiffFile(out) as tif:
        assert tif.byteorder == order
        assert not tif.is_bigtiff
        page = tif.pages[0]
        for tag, (_, data) in TEXT.items():
            slot = page.tags[tag]
            tif.filehandle.seek(slot.valueoffset)
            assert tif.filehandle.read(slot.count) == data
        assert len(tif.pages) == 1


def test_nothing_of_our_own_is_added(tmp_path: Path) -> None:
    bare: dict[int, Value | None] = dict.fromkeys((*TEXT, 700, 33723, 34377, 34665, 34853))
    _, out = through(rich(tmp_path / "a.tif", changes=bare), tmp_path)
    with tifffile.TiffFile(out) as tif:
        codes = {tag.code for tag in tif.pages[0].tags}
    assert codes == {254, 256, 257, 258, 259, 262, 273, 274, 277, 278, 279, 282, 283, 284, 296, 34675}


def test_the_orientation_in_xmp_is_set_right_and_nothing_else(tmp_path: Path) -> None:
    for form in (b' tiff:Orientation="6"', b" tiff:Orientation = '8' "):
        packet = XMP.replace(b' rdf:about=""', b' rdf:about="" xmlns:tiff="http://ns.adobe.com/tiff/1.0/"' + form)
        photo = read(rich(tmp_path / "a.tif", changes={700: (1, packet), 274: (3, [6])}))
        upright = form.replace(b"6", b"1").replace(b"8", b"1")
        assert photo.metadata.xmp == packet.replace(form, upright)
        assert photo.shape == (15, 20, 3)
    element = b'<t:Orientation xmlns:t="http://ns.adobe.com/tiff/1.0/">3</t:Orientation>'
    packet = XMP.replace(b"</rdf:Description>", element + b"</rdf:Description>")
    photo = read(rich(tmp_path / "a.tif", changes={700: (1, packet), 274: (3, [3])}))
    assert photo.metadata.xmp == packet.replace(b">3<", b">1<")
    photo.write(tmp_path / "b.tif")
    with tifffile.TiffFile(tmp_path / "b.tif") as tif:
        assert tif.pages[0].tags[274].value == 1


LAUGHS = b'<!DOCTYPE l [<!ENTITY a "ha">' + b"".join(
    b'<!ENTITY %c "%s">' % (98 + i, b"&%c;" % (97 + i) * 10) for i in range(9)
) + b"]>" + XMP.replace(b"&amp;", b"&j;")  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "said", "kept"),
    [
        ({700: (1, XMP[:200])}, "XMP data is damaged; left out", {"exif", "gps", "interop"}),
        ({700: (1, LAUGHS)}, "XMP data is damaged; left out", {"exif", "gps", "interop"}),
        ({700: (1, b"\xff\xfe\0\1")}, "XMP data is damaged", {"exif", "gps", "interop"}),
        ({33723: (7, IPTC[:-3])}, "IPTC data is damaged; left out", {"exif", "gps", "interop"}),
        ({33723: (7, b"junk")}, "IPTC data is damaged", {"exif", "gps", "interop"}),
        ({34665: (4, [1 << 30])}, "EXIF data cannot be read; left out", {"gps"}),
        ({34665: (4, [5])}, "EXIF data cannot be read; left out", {"gps"}),
        ({34665: (2, b"text\0")}, "EXIF data cannot be read; left out", {"gps"}),
        ({34853: (4, [7])}, "GPS data cannot be read; left out", {"exif", "interop"}),
    ],
)
def test_only_the_broken_part_is_dropped(
    tmp_path: Path, changes: dict[int, Value | None], said: str, kept: set[str]
) -> None:
    source = rich(tmp_path / "a.tif", changes=changes)
    photo, out = through(source, tmp_path)
    assert [line for line in photo.announcements if said in line] == list(photo.announcements)
    whole = values(rich(tmp_path / "whole.tif"))
    after = values(out)
    for part in ("exif", "gps", "interop"):
        assert after[part] == (whole[part] if part in kept else {})
    for tag, value in whole["main"].items():
        assert after["main"][tag] == (None if tag in changes else value)


def test_an_entry_outside_the_file_costs_only_itself(tmp_path: Path) -> None:
    path = rich(tmp_path / "a.tif")
    data = bytearray(path.read_bytes())
    at = data.find(struct.pack("<HHI", 37500, 7, len(EXIF[37500][1])))
    data[at + 8 : at + 12] = struct.pack("<I", 1 << 31)
    path.write_bytes(data)
    photo, out = through(path, tmp_path)
    assert photo.announcements == ("1 entry of its EXIF data cannot be read; left out",)
    whole = values(rich(tmp_path / "whole.tif"))
    del whole["exif"][37500]
    assert values(out) == whole


@pytest.mark.parametrize("tag", [34665, 34853])
def test_sub_directories_that_point_back(tmp_path: Path, tag: int) -> None:
    main = struct.unpack("<I", rich(tmp_path / "a.tif").read_bytes()[4:8])[0]
    photo, _ = through(rich(tmp_path / "a.tif", changes={tag: (4, [main])}), tmp_path)
    assert len(photo.announcements) == 1
    assert "points back" in photo.announcements[0]


def test_thumbnails_of_the_old_picture_are_dropped(tmp_path: Path) -> None:
    old = b"8BIM\x04\x0c\x04name\0\0\0\0\x05small\0" + b"8BIM\x04\x09\0\0\0\0\0\x02xx"
    _, out = through(rich(tmp_path / "a.tif", changes={34377: (1, BLOCKS + old)}), tmp_path)
    assert values(out)["main"][34377] == BLOCKS
    odd = b"8BIM\x04\x0c\0\0\0\0\x05\x05short"  # not a list of blocks: carried as it is
    through(rich(tmp_path / "a.tif", changes={34377: (1, odd)}), tmp_path)
    assert values(out)["main"][34377] == odd


def test_iptc_forms() -> None:
    # IPTC-NAA Information Interchange Model 4.2, chapter 1: data sets, and extended ones
    assert sound_iptc(IPTC)
    assert sound_iptc(IPTC + b"\0\0\0")
    assert sound_iptc(b"\x1c\x02\x19\x80\x04\0\0\0\x03abc")
    assert not sound_iptc(b"\x1c\x02\x19\x80\x04\0\0\1\0abc")
    assert not sound_iptc(b"\x1c\x02")


def test_wide_values_of_a_bigtiff_are_narrowed(tmp_path: Path) -> None:
    import printprep.photo.tiff.collect as collect
    from printprep.photo.tiff.directory import Damaged, Entry

    wide = Entry(1, 16, 2, struct.pack(">2Q", 7, 0xFFFFFFFF))
    assert collect.narrow(wide, ">") == Entry(1, 4, 2, struct.pack(">2I", 7, 0xFFFFFFFF))
    signed = Entry(1, 17, 1, struct.pack("<q", -5))
    assert collect.narrow(signed, "<") == Entry(1, 9, 1, struct.pack("<i", -5))
    with pytest.raises(Damaged):
        collect.narrow(Entry(1, 16, 1, struct.pack("<Q", 1 << 32)), "<")
