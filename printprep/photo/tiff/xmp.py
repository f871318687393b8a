"""The XMP packet: our job ticket put in and read out, the orientation set right, all else left as it is.

The packet is edited as bytes: a parser that wrote it anew would change what others put there. It is
parsed only to see whether it is sound, and never with entities (ISO 16684-1; XML 1.0).
"""

from __future__ import annotations

import re
from html import escape
from xml.parsers import expat

XMP = 700
"""TIFF tag of the packet (XMP specification part 3)."""

NAMESPACE = "urn:printprep:ticket:1#"
"""Namespace of the ticket's property."""

_TIFF = b"http://ns.adobe.com/tiff/1.0/"  # the namespace's identifier (XMP specification part 2)
_EMPTY = (
    b'<?xpacket begin="\xef\xbb\xbf" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
    b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
    b'</rdf:RDF></x:xmpmeta>\n<?xpacket end="w"?>'
)
_OPEN = (  # binds both prefixes itself, as the packet may use others
    b'<rdf:Description xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#" rdf:about="" xmlns:printprep="%s">'
    b"<printprep:ticket>" % NAMESPACE.encode()
)
_CLOSE = b"</printprep:ticket></rdf:Description>"
_RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns# RDF"
# Patterns are compiled when first used: compiling them takes longer than all other imports here.
_PREFIX = rb'xmlns:([A-Za-z_][\w.-]*)\s*=\s*["\']%s["\']'
_EMPTY_RDF = rb"<([A-Za-z_][\w.-]*:)?RDF(\s[^<>]*)?/>"
_PREFIXES = 16  # bound to one namespace in one packet; each is looked for in all of it, so there is a limit


class _Refused(Exception):
    """The packet declares a document type."""


def _refuse(*_: object) -> None:
    raise _Refused


def _parser() -> expat.XMLParserType:
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartDoctypeDeclHandler = _refuse
    parser.EntityDeclHandler = _refuse
    return parser


def _parse(parser: expat.XMLParserType, packet: bytes) -> bool:
    """Whether a packet is well-formed UTF-8 without a document type, its prefixes bound."""
    try:
        packet.decode("utf-8")
        parser.Parse(packet.rstrip(b"\0"), True)
    except (expat.ExpatError, _Refused, ValueError):
        return False
    return True


def _end_of_rdf(packet: bytes) -> int:
    """Where the closing tag of the RDF element stands, or the whole tag if it is empty; -1 if nowhere."""
    parser, place = _parser(), -1

    def end(name: str) -> None:
        nonlocal place
        if name == _RDF and place < 0:
            place = parser.CurrentByteIndex

    parser.EndElementHandler = end
    if not _parse(parser, packet) or place < 0:
        return -1
    return place if packet.startswith(b"</", place) or re.match(_EMPTY_RDF, packet[place:]) else -1


def sound(packet: bytes) -> bool:
    """Whether a packet is well-formed XML in UTF-8 without a document type, with an RDF element."""
    return _end_of_rdf(packet) >= 0


def _prefixes(packet: bytes, namespace: bytes) -> list[bytes]:
    """The prefixes that stand for a namespace, as patterns."""
    found = dict.fromkeys(re.findall(_PREFIX % re.escape(namespace), packet))
    return [re.escape(prefix) for prefix in list(found)[:_PREFIXES]]


def with_orientation(packet: bytes) -> bytes:
    """The packet with its TIFF orientation, if it states one, set to 1."""
    for prefix in _prefixes(packet, _TIFF):
        name = prefix + rb":Orientation"
        packet = re.sub(rb"(<" + name + rb"(?:\s[^<>]*)?>\s*)\d+(\s*</)", rb"\g<1>1\g<2>", packet)
        packet = re.sub(rb"(\s" + name + rb"\s*=\s*[\"'])\s*\d+\s*([\"'])", rb"\g<1>1\g<2>", packet)
    return packet


def with_ticket(packet: bytes, ticket: str) -> bytes:
    """A packet, sound or empty, with a ticket (any text) in place of any older one."""
    text = escape(ticket, quote=False).replace("\r", "&#13;")
    element = _OPEN + text.encode("utf-8", "backslashreplace") + _CLOSE
    packet = _without_ticket(packet)
    place = _end_of_rdf(packet)
    if place < 0:
        packet = _EMPTY
        place = _end_of_rdf(packet)
    if not packet.startswith(b"</", place):
        empty = re.match(_EMPTY_RDF, packet[place:])
        assert empty is not None  # so says _end_of_rdf
        opened = b"<%sRDF%s>%s</%sRDF>" % (empty[1] or b"", empty[2] or b"", element, empty[1] or b"")
        return packet[:place] + opened + packet[place + empty.end() :]
    return packet[:place] + element + packet[place:]


def _without_ticket(packet: bytes) -> bytes:
    """The packet without our property, in the form that we or that others write it."""
    packet = re.sub(re.escape(_OPEN) + rb"[^<]*" + re.escape(_CLOSE), b"", packet)
    for prefix in _prefixes(packet, NAMESPACE.encode()):
        name = prefix + rb":ticket"
        packet = re.sub(rb"<" + name + rb"(\s[^<>]*)?>[^<]*</" + name + rb"\s*>", b"", packet)
        packet = re.sub(rb"\s" + name + rb"\s*=\s*(\"[^\"]*\"|'[^']*')", b"", packet)
    return packet


def ticket_in(packet: bytes) -> str | None:
    """The ticket's text in a packet; None where there is none."""
    parser = _parser()
    inside, parts, found = False, list[str](), False

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal inside, found
        if f"{NAMESPACE} ticket" in attributes:  # as another program may write it
            found = True
            parts[:] = [attributes[f"{NAMESPACE} ticket"]]
        if name == f"{NAMESPACE} ticket":
            parts.clear()
            inside = found = True

    def end(name: str) -> None:
        nonlocal inside
        if name == f"{NAMESPACE} ticket":
            inside = False

    def words(text: str) -> None:
        if inside:
            parts.append(text)

    parser.StartElementHandler, parser.EndElementHandler, parser.CharacterDataHandler = start, end, words
    return "".join(parts) if _parse(parser, packet) and found else None
