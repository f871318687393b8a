"""Job tickets: put into XMP, replaced, read back; the rest of the packet stays as it was."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep.errors import InputError
from printprep.photo.metadata import Metadata, ticket_text
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.photo.tiff.xmp import sound, ticket_in, with_ticket
from tests.support.metadata import XMP, rich
from tests.support.tiffs import picture, tiff

RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
TICKET = json.dumps(
    {"paper": "cotton rag <&> \"quoted\" 'single' \u00e4\u20ac", "steps": [{"step": "shadow-lift", "strength": 0.8}]}
)


@settings(max_examples=100, deadline=None)
@given(
    text=st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=200),
    packet=st.sampled_from([b"", XMP, XMP + b"\0" * 20, XMP.replace(b"rdf:", b"q:").replace(b":rdf", b":q")]),
)
def test_any_text_comes_back(text: str, packet: bytes) -> None:
    done = with_ticket(packet, text)
    assert sound(done)
    assert ticket_in(done) == text
    again = with_ticket(done, "another")
    assert ticket_in(again) == "another"
    assert again.count(b"printprep:ticket>") == 2  # one element: opened, closed
    assert with_ticket(again, text) == done


def test_the_rest_stays_byte_for_byte() -> None:
    done = with_ticket(XMP, TICKET)
    at = done.index(b"<rdf:Description", done.index(b"</rdf:Description>"))
    end = done.index(b"</rdf:RDF>")
    assert done[:at] + done[end:] == XMP


@pytest.mark.parametrize("packet", [b"", XMP])
def test_another_parser_finds_a_proper_description(packet: bytes) -> None:
    # ISO 16684-1, 7.4: a simple property as an element of an rdf:Description about the same resource
    root = ElementTree.fromstring(with_ticket(packet, TICKET))
    found = root.findall(f"{RDF}RDF/{RDF}Description/{{urn:printprep:ticket:1#}}ticket")
    assert [e.text for e in found] == [TICKET]
    if packet:
        title = root.findtext(f"{RDF}RDF/{RDF}Description/{{http://purl.org/dc/elements/1.1/}}title")
        assert title == "L\u00e4mps & boats"


def test_an_empty_rdf_element_is_opened() -> None:
    packet = b'<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"/>'
    assert ticket_in(with_ticket(packet, TICKET)) == TICKET


def test_a_ticket_that_another_program_rewrote() -> None:
    for form in (b"<p:ticket>old &lt; 1</p:ticket>", b"<p:ticket q='1'>old &lt; 1</p:ticket >"):
        packet = XMP.replace(b"<dc:title>", form + b"<dc:title>")
        packet = packet.replace(b"xmlns:dc", b'xmlns:p="urn:printprep:ticket:1#" xmlns:dc')
        assert ticket_in(packet) == "old < 1"
        assert ticket_in(with_ticket(packet, "new")) == "new"
        assert b"old" not in with_ticket(packet, "new")
    packet = XMP.replace(b"xmlns:dc", b"xmlns:p='urn:printprep:ticket:1#' p:ticket='{&quot;a&quot;: 1}' xmlns:dc")
    assert ticket_in(packet) == '{"a": 1}'
    assert b"quot" not in with_ticket(packet, "new")
    assert sound(with_ticket(packet, "new"))


def test_the_end_of_rdf_is_not_mistaken() -> None:
    packet = XMP.replace(b"</x:xmpmeta>", b"<!-- </rdf:RDF> --></x:xmpmeta>")
    done = with_ticket(packet, TICKET)
    assert ticket_in(done) == TICKET
    assert done.endswith(packet[packet.index(b"</rdf:RDF>") :])


@pytest.mark.parametrize(
    "packet",
    [b"", b"<", b"<x/>", XMP[:-60], XMP.replace(b"xmlns:dc", b"xmlns:cd"), XMP.replace(b"rdf-syntax", b"rdf-sin-tax"),
     XMP.replace(b"&amp;", b"&nothing;"), XMP.replace(b"\xc3\xa4", b"\xe4"), XMP.decode().encode("utf-16")],
)  # fmt: skip
def test_unsound_packets(packet: bytes) -> None:
    assert not sound(packet)
    assert ticket_in(with_ticket(packet, TICKET)) == TICKET  # a new one takes its place


def test_a_packet_with_a_document_type_is_not_read() -> None:
    packet = b'<!DOCTYPE x [<!ENTITY e "boo">]>' + with_ticket(b"", "text").replace(b"text", b"&e;")
    assert not sound(packet)
    assert ticket_in(packet) is None


def test_written_after_the_pixels_and_read_from_the_file(tmp_path: Path) -> None:
    photo, rows = read(rich(tmp_path / "a.tif")), list[int]()

    def ticket() -> str:
        assert rows[-1] == 20  # all pixels have passed
        return TICKET

    replace(photo, ticket=ticket).write(tmp_path / "b.tif", progress=rows.append)
    assert ticket_text(tmp_path / "b.tif") == TICKET
    with tifffile.TiffFile(tmp_path / "b.tif") as tif:
        assert tif.pages[0].tags[700].value == with_ticket(XMP, TICKET)
    replace(read(tmp_path / "b.tif"), ticket=lambda: "{}").write(tmp_path / "c.tif")  # of a prepared file
    assert ticket_text(tmp_path / "c.tif") == "{}"


def test_without_xmp_before(tmp_path: Path) -> None:
    photo = Photo.from_array(picture())
    replace(photo, ticket=lambda: TICKET).write(tmp_path / "b.tif")
    assert ticket_text(tmp_path / "b.tif") == TICKET
    assert Metadata().with_ticket(TICKET).xmp == read(tmp_path / "b.tif").metadata.xmp


def test_files_without_a_ticket(tmp_path: Path) -> None:
    assert ticket_text(tiff(tmp_path / "a.tif")) is None
    assert ticket_text(rich(tmp_path / "b.tif")) is None
    assert ticket_text(tiff(tmp_path / "c.tif", {700: (1, b"<x>" * 9)})) is None
    (tmp_path / "d.tif").write_bytes(b"no picture")
    with pytest.raises(InputError, match="is not a TIFF"):
        ticket_text(tmp_path / "d.tif")
