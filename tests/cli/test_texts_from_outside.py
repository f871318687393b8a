"""Names and texts from files, at every place where they come out: shown, never obeyed, never in the way."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from printprep.photo.metadata import ticket_text
from printprep.photo.photo import Photo
from printprep.photo.read import read
from tests.support.effort import tried
from tests.support.inside import inside
from tests.support.tiffs import picture

MARKUP = "<script>alert(1)</script><img src=x onerror=alert(1)>\"'&amp;--><!--"
TEXTS = {
    "plain": "plain",
    "markup": MARKUP,
    "codes": "\x1b[31mred\x1b]0;name\x07\x08\x7f\x9b2J",
    "lines": "one\ntwo\r\nthree\u2028four\x85five",
    "directions": "a\u202egnp.b\u2066c\u200fd\u061c",
    "formula": "$\\frac{1}$ and $\\nosuch{ x^$",
    "template": "{{ 7 * 7 }}{% raw %}{{ self }}",
    "letters": "Größe 写真 \U0001f5bc é\u0301\ufeff",
    "long": "w" * 40_000 + " " + "words " * 5_000,
    "nothing": " ",
}
NAMES = {
    **{key: text.replace("/", "|")[:100].strip() or key for key, text in TEXTS.items()},
    "bytes": os.fsdecode(b"caf\xe9\xff\xed\xa0\x80"),
}
PAPER = "[paper]\nwhite = [96, 0.3, 2.0]\nblack = [16, 0.5, 1.0]\n[paper.solids]\n" + "\n".join(
    f"{name} = {lab}" for name, lab in {
        "cyan": [57, -34, -43], "magenta": [50, 66, -4], "yellow": [88, -5, 84],
        "red": [48, 60, 38], "green": [50, -55, 24], "blue": [28, 16, -42],
    }.items()
)  # fmt: skip
ROOM = "[room]\nilluminance_lux = 80.0\n"


@dataclass(frozen=True)
class Case:
    """A folder in which everything is called by one text."""

    name: str
    edit: str
    paper: str
    room: str

    @property
    def where(self) -> tuple[str, ...]:
        return ("--paper", self.paper, "--room", self.room)

    def __str__(self) -> str:
        return self.name


@pytest.fixture(autouse=True, scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PRINTPREP_CACHE", str(tmp_path_factory.mktemp("tables")))
        patch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("none")))
        yield


@pytest.fixture(params=NAMES)
def case(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Case:
    monkeypatch.chdir(tmp_path)
    name = NAMES[request.param]
    text = json.dumps(TEXTS.get(request.param, "plain")).replace("\x7f", "\\u007f")
    text = re.sub(r"\\u[dD][89a-bA-B]..\\u[dD][c-fC-F]..", "\\\\U0001f5bc", text)  # JSON pairs; TOML does not
    made = Case(request.param, f"{name}.tif", f"{name}.paper.toml", f"{name}.room.toml")
    Photo.from_array(picture(24, 30)).write(made.edit)
    for file, body in ((made.paper, PAPER), (made.room, ROOM)):
        Path(file).write_text(f"title = {text}\nnotes = {text}\nsource = {text}\n{body}", encoding="utf-8")
    return made


def spoken(*arguments: str | Path, status: int = 0) -> str:
    """What a run wrote on the terminal, which obeys none of it."""
    result = inside(*arguments)
    assert result.returncode == status, result.stderr
    for stream in (result.stdout, result.stderr):
        for line in stream.split("\n"):
            assert line.replace("\xa0", " ").isprintable(), line
    assert all(line.startswith("printprep: ") for line in result.stderr.splitlines())
    assert len(result.stderr) < 20_000
    return result.stdout


class Page(HTMLParser):
    """The tags of a page with the names of their attributes, and all text, attributes too."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags, self.texts = list[tuple[str, ...]](), list[str]()
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, *(name for name, _ in attrs)))
        self.texts += [value or "" for _, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        self.tags.append(("/", tag))

    def handle_comment(self, data: str) -> None:
        self.tags.append(("comment", data))

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


PAGES: dict[str, list[tuple[str, ...]]] = {}
"""The tags of each kind of page where every name is plain."""


def safe_page(kind: str, path: Path, case: Case) -> str:
    """A page whose tags are those of a page with plain names, with nothing unprintable in it."""
    page = Page(path.read_text(encoding="utf-8"))
    assert case.name == "plain" or kind in PAGES  # plain comes first
    assert page.tags == PAGES.setdefault(kind, page.tags)
    for text in page.texts:
        assert re.sub(r"[\n\xa0]", " ", text).isprintable(), text[:200]
    return "\n".join(page.texts)


def test_prepare_and_ticket(case: Case) -> None:
    spoken("prepare", case.edit, *case.where, "-o", "out.tif")
    shown = spoken("ticket", "out.tif")
    assert "paper " in shown
    assert len(shown.splitlines()) < 15
    data = json.loads(spoken("ticket", "out.tif", "--json"))
    assert json.loads(ticket_text("out.tif") or "") == data
    assert data["paper"]["title"] == TEXTS.get(case.name, "plain")
    packet = read("out.tif").metadata.xmp
    root = ElementTree.fromstring(packet)  # a parser of others
    (found,) = [e for e in root.iter() if e.tag.endswith("}ticket")]
    assert json.loads(found.text or "") == data
    assert len(list(root.iter())) == 4


def test_outputs_named_by_the_command(case: Case) -> None:
    if case.name == "long":
        spoken("prepare", case.edit, *case.where, status=2)
        return
    first = spoken("prepare", case.edit, *case.where).splitlines()
    made = [p for p in Path().iterdir() if p.suffix == ".tif" and p.name != case.edit]
    assert len(made) == 1
    assert len(first) == 3 + sum(line.startswith("  costs: ") for line in first)


def test_report(case: Case) -> None:
    spoken("report", case.edit, *case.where, "-o", "out.html")
    text = safe_page("report", Path("out.html"), case)
    if case.name == "markup":
        assert MARKUP in text  # shown as it is written
        assert "<script>alert" not in Path("out.html").read_text()


def test_rank(case: Case) -> None:
    Path(bad := f"bad {case.edit}").write_bytes(b"no picture")
    spoken("rank", case.edit, bad, *case.where, "-o", "out.html", status=2)
    safe_page("rank", Path("out.html"), case)
    table = spoken("rank", case.edit, *case.where)
    assert len(re.findall(r"^  1 {3}\d", table, re.MULTILINE)) == 1
    data = json.loads(spoken("rank", case.edit, *case.where, "--json"))
    assert data["pictures"][0]["file"] == case.edit


def test_compare(case: Case) -> None:
    words = ("compare", case.edit, "--papers", case.paper.replace(",", ""), "--room", case.room)
    spoken(*words, "-o", "out.html")
    safe_page("compare", Path("out.html"), case)
    spoken(*words, "-o", "out.png")
    with Image.open("out.png") as image:
        image.load()
    assert json.loads(spoken(*words, "--json"))["papers"][0]["paper"]


def test_proof(case: Case) -> None:
    spoken("proof", case.edit, *case.where, "--pair", "-o", "out.png")
    with Image.open("out.png") as image:
        assert image.width < 10_000 and image.height < 5_000


def test_sheets_show_what_pages_show(case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    """Letters on a sheet are those of the text with escapes: one line, set as plain text."""
    from printprep.render import text as _text

    drawn = set[str]()
    outline = _text.outline

    def noted(text: str, bold: bool = False) -> Any:
        drawn.add(text)
        return outline(text, bold)

    monkeypatch.setattr(_text, "outline", noted)
    spoken("compare", case.edit, "--papers", case.paper, "--room", case.room, "-o", "out.png")
    assert len(drawn) > 2
    assert all(text.isprintable() for text in drawn)


@pytest.mark.parametrize("case", ["plain", "markup", "codes", "bytes"], indirect=True)
def test_target(case: Case) -> None:
    out = f"out {case.edit}"
    spoken("target", "-o", out, "--sheet", "A6", "--ppi", "100", "--paper", case.paper)
    safe_page("target", Path(out).with_suffix(".html"), case)
    values = Path(out).with_suffix(".txt").read_text(encoding="ascii")
    assert "\x1b" not in values


def test_export_lut(case: Case) -> None:
    settings = ("--set", "gamut-fit.glow=0")
    spoken("export-lut", *case.where, *settings, "--profile", "sRGB", "-o", "out.clf")
    root = ElementTree.parse("out.clf").getroot()
    assert root.tag.endswith("ProcessList")
    for element in root.iter():
        assert "script" not in element.tag.rpartition("}")[2].removesuffix("Description").removesuffix("Descriptor")


def test_presets(case: Case) -> None:
    for file in (case.paper, case.room):
        spoken("presets", "check", file)
        shown = spoken("presets", "show", file)
        assert json.loads(spoken("presets", "show", file, "--json"))["values"]
        assert "<script>" not in shown or case.name == "markup"


def test_screen(case: Case) -> None:
    spoken("screen", *case.where)
    json.loads(spoken("screen", *case.where, "--json"))


WORDS = st.sampled_from([*TEXTS.values(), *NAMES.values()]) | st.text(max_size=20)
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | WORDS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(WORDS, inner, max_size=3),
    max_leaves=8,
)
PARTS = ("paper", "room", "sheet", "steps", "source_profile", "edit", "version", "hand_over", "kind", "schema")


@tried(200)
@given(
    changes=st.dictionaries(st.sampled_from(PARTS) | WORDS, ANYTHING, max_size=2),
    inside_steps=st.lists(st.dictionaries(WORDS | st.just("step"), ANYTHING, max_size=3), max_size=2),
    values=st.dictionaries(st.sampled_from(["name", "title", "glazing", "illuminance_lux"]), ANYTHING, max_size=2),
)
def test_a_ticket_by_others(
    tmp_path: Path, changes: dict[str, Any], inside_steps: list[Any], values: dict[str, Any]
) -> None:
    whole: dict[str, Any] = dict.fromkeys(("paper", "room", "sheet", "source_profile", "edit"), values)
    whole |= {"kind": "printprep job ticket", "schema": 1, "version": "1", "hand_over": "source"}
    text = json.dumps(whole | {"steps": inside_steps} | changes)
    replace(Photo.from_array(picture(2, 2)), ticket=lambda: text).write(tmp_path / "a.tif", overwrite=True)
    for more in ((), ("--json",)):
        result = inside("ticket", tmp_path / "a.tif", *more)
        assert result.returncode in (0, 2), result.stderr
        assert re.sub(r"[\n\xa0]", " ", result.stdout + result.stderr).isprintable()
        assert len(result.stderr.splitlines()) == (result.returncode != 0)


@pytest.mark.parametrize("command", ["prepare", "proof", "report", "rank", "ticket"])
def test_refusals(case: Case, command: str) -> None:
    """What is refused is named safely: the file, the paper, the output."""
    Path(case.edit).write_bytes(b"no picture")
    out = {"proof": ("-o", "x.png"), "report": ("-o", "x.html")}.get(command, ())
    where = () if command == "ticket" else case.where
    spoken(command, case.edit, *where, *out, status=2)
    spoken(command, f"none {case.edit}", *where, *out, status=2)
    if where:
        spoken(command, case.edit, "--paper", NAMES[case.name], *out, status=2)
        spoken(command, case.edit, "--paper", f"{NAMES[case.name]}.icc", *out, status=2)
        spoken(command, case.edit, "--paper", "gloss", "--room", NAMES[case.name], *out, status=2)
        spoken(command, case.edit, "--paper", "gloss", "--set", NAMES[case.name], *out, status=2)


def test_notebook(case: Case) -> None:
    from printprep.check.rank import rank
    from printprep.compose import pipeline

    pipe = pipeline(paper=case.paper, room=case.room)
    for kind, shown in (("pipe", pipe), ("paper", pipe.paper), ("ranking", rank([case.edit], pipe))):
        text = shown._repr_html_()
        page = Page(text)
        assert page.tags == PAGES.setdefault(f"notebook {kind}", page.tags)
        assert "<script" not in text
