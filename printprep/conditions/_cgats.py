"""The text of a CGATS.17 file (ISO 28178) as tables of strings; what they mean is read elsewhere."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain

from printprep.errors import InputError
from printprep.files.names import printable

_TOKEN = re.compile(r'"((?:[^"]|"")*)"|(#.*)|([^\s"#]+)')
_MAX_ROWS, _MAX_FIELDS, _MAX_VALUES, _MAX_LINE, _MAX_TABLES = 200_000, 1_000, 2_000_000, 100_000, 50

Line = tuple[int, list[str]]
"""Its number, and what stands on it."""


@dataclass(frozen=True)
class Row:
    """One set of values, and the line it stands on."""

    line: int
    values: tuple[str, ...]


@dataclass(frozen=True)
class Section:
    """One table: what its header says (carried on from sections before it), its fields, its rows."""

    keywords: dict[str, str]
    fields: tuple[str, ...]
    rows: tuple[Row, ...]


def refusal(name: str, what: str, do: str) -> InputError:
    """An error that names the file."""
    return InputError(what, where=repr(name), do=do)


def decode(data: bytes, name: str) -> str:
    """Text of a file's bytes: UTF-8, UTF-16 with a mark, or Latin-1; an InputError if it is none."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError:
            raise refusal(name, "not readable as text", "export it as CGATS.17 text") from None
    if b"\0" in data[:4096]:
        raise refusal(name, "not a text file", "give a CGATS.17 measurement")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def sections(text: str, name: str) -> list[Section]:
    """Every table of a file's text that has both a format and data; lines may end in LF, CR LF or CR.

    An InputError names the line: a row with too few or too many values, counts that do not agree, a table without its
    format or its end, the same field twice.
    """
    found: list[Section] = []
    keywords: dict[str, str] = {}
    fields: list[str] = []
    lines = _lines(text, name)
    for number, tokens in lines:
        word, first = tokens[0].upper(), (number, tokens[1:])
        if word == "BEGIN_DATA_FORMAT":
            fields = _fields(_block(first, lines, "END_DATA_FORMAT", name), name)
        elif word == "BEGIN_DATA":
            if not fields:
                raise refusal(name, f"line {number}: data without BEGIN_DATA_FORMAT", "export the file again")
            found.append(_section(name, keywords, fields, _rows(_block(first, lines, "END_DATA", name), fields, name)))
            if len(found) > _MAX_TABLES:
                raise refusal(name, f"more than {_MAX_TABLES} tables", "give one chart")
        elif word != "KEYWORD":
            keywords[word] = " ".join(tokens[1:])
    return found


def _lines(text: str, name: str) -> Iterator[Line]:
    for number, line in enumerate(re.split(r"\r\n|\r|\n", text), 1):
        if len(line) > _MAX_LINE:
            raise refusal(name, f"line {number} is too long for a measurement", "export it as CGATS.17 text")
        if tokens := _tokens(line):
            yield number, tokens


def _block(first: Line, lines: Iterator[Line], end: str, name: str) -> Iterator[Line]:
    """What stands between the word that begins a block and the one that ends it."""
    for number, tokens in chain([first], lines):
        words = [token.upper() for token in tokens]
        if end in words:
            yield number, tokens[: words.index(end)]
            return
        yield number, tokens
    raise refusal(name, f"{end} is missing, the file is cut short", "export it again")


def _fields(block: Iterator[Line], name: str) -> list[str]:
    fields: list[str] = []
    for _, tokens in block:
        fields += [token.upper() for token in tokens]
        if len(fields) > _MAX_FIELDS:
            do = "export it again, END_DATA_FORMAT may be missing"
            raise refusal(name, f"more than {_MAX_FIELDS} fields", do)
    return fields


def _rows(block: Iterator[Line], fields: list[str], name: str) -> list[Row]:
    rows: list[Row] = []
    pending: list[str] = []
    started = 0
    for number, tokens in block:
        started = started if pending else number
        pending += tokens  # long rows may run on over several lines
        if len(pending) == len(fields):
            rows.append(Row(started, tuple(pending)))
            pending = []
            if len(rows) > _MAX_ROWS or len(rows) * len(fields) > _MAX_VALUES:
                raise refusal(name, f"more than {len(rows) - 1} patches", "give one chart")
        elif len(pending) > len(fields):
            break
    if pending:
        what = f"line {started}: {len(pending)} values where the format has {len(fields)} fields"
        raise refusal(name, what, "mend or delete the row")
    return rows


def _tokens(line: str) -> list[str]:
    out = []
    for quoted, comment, plain in _TOKEN.findall(line):
        if comment:
            break
        out.append(plain or quoted.replace('""', '"'))
    return out


def _section(name: str, keywords: dict[str, str], fields: list[str], rows: list[Row]) -> Section:
    for keyword, count, what in (("NUMBER_OF_FIELDS", len(fields), "fields"), ("NUMBER_OF_SETS", len(rows), "rows")):
        stated = keywords.pop(keyword, "")
        if stated and stated != str(count):
            wrong = f"{keyword} is {printable(stated, 40)} but there are {count} {what}"
            raise refusal(name, wrong, "export the file again")
    single = [f for f in fields if f not in ("SPECTRAL_NM", "SPECTRAL_DEC", "SPECTRAL_PCT")]  # come in pairs
    for field in single:
        if single.count(field) > 1:
            raise refusal(name, f"field {printable(field, 40)} occurs twice", "keep one")
    return Section(dict(keywords), tuple(fields), tuple(rows))
