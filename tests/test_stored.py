import json
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import printprep as pp
from printprep.errors import InputError, PrintprepError
from printprep.preset_files import names
from tests.support.lutprofile import MatrixInk, output_profile


def again(pipe: pp.Pipeline) -> pp.Pipeline:
    """By way of JSON text, as a service would keep it."""
    return pp.Pipeline.from_dict(json.loads(json.dumps(pipe.to_dict(), allow_nan=False)))


def from_toml(pipe: pp.Pipeline, folder: Path, name: str = "kept") -> pp.Pipeline:
    file = folder / f"{name}.toml"
    file.write_text(pipe.to_toml(), encoding="utf-8")
    return pp.pipeline(preset=file)


@pytest.mark.parametrize("paper", names("paper"))
def test_shipped_papers_come_back_equal(paper: str, tmp_path: Path) -> None:
    pipe = pp.pipeline(paper=paper, room="museum", strength=0.75)
    assert again(pipe) == pipe
    assert again(pipe).paper.fingerprint == pipe.paper.fingerprint
    back = from_toml(pipe, tmp_path)
    assert (back.steps, back.paper, back.room, back.strength) == (pipe.steps, pipe.paper, pipe.room, pipe.strength)
    assert back.paper_name == back.room_name == "kept"


@pytest.mark.parametrize("room", names("room"))
def test_shipped_rooms_come_back_equal(room: str, tmp_path: Path) -> None:
    pipe = pp.pipeline(paper="gloss", room=room)
    assert again(pipe) == pipe
    assert from_toml(pipe, tmp_path).room == pipe.room


def test_a_papers_profile_is_in_it(tmp_path: Path) -> None:
    ink = MatrixInk(14)
    paper = pp.Paper.from_profile(output_profile(ink.lab, ink.rgb), title="Mine")
    pipe = pp.Pipeline([pp.GamutFit()], paper=paper, hand_over="paper", sheet=pp.Sheet(ppi=300), paper_name="mine")
    assert again(pipe) == pipe
    assert again(pipe).paper.profile == paper.profile
    usual = pp.Pipeline([pp.GamutFit()], paper=paper)
    assert from_toml(usual, tmp_path).paper == paper


WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)


@settings(max_examples=60, deadline=None)
@given(
    title=WORDS,
    source=WORDS,
    lux=st.floats(0.1, 200_000),
    lift=st.floats(0, 1.5),
    screen=st.none() | st.floats(10, 10_000),
    name=WORDS,
)
def test_any_values_come_back_equal(
    tmp_path_factory: pytest.TempPathFactory,
    title: str, source: str, lux: float, lift: float, screen: float | None, name: str,
) -> None:  # fmt: skip
    gloss = pp.paper("gloss")
    paper = pp.Paper(title=title, source=source, white=gloss.white, black=gloss.black, solids=gloss.solids)
    room = pp.Room(illuminance_lux=lux, reference=pp.Reference(screen_white_cd_m2=screen))
    pipe = pp.Pipeline([pp.ShadowLift(strength=lift)], paper=paper, room=room, room_name=name, paper_name=name)
    assert again(pipe) == pipe
    tables = tomllib.loads(pipe.to_toml())  # by Python's own reader of TOML 1.0
    assert tables["paper"]["title"] == title
    back = from_toml(pipe, tmp_path_factory.getbasetemp())
    assert (back.steps, back.paper, back.room) == (pipe.steps, pipe.paper, pipe.room)


def test_repr_evaluates() -> None:
    for paper in ("gloss", "cotton-rag"):
        pipe = pp.pipeline(paper=paper, room="hallway", settings={"shadow-lift.strength": 0.3})
        assert eval(repr(pipe), {name: getattr(pp, name) for name in pp.__all__}) == pipe


def changed(**values: Any) -> dict[str, Any]:
    return {**pp.pipeline(paper="gloss").to_dict(), **values}


@pytest.mark.parametrize(
    ("doc", "said"),
    [
        ({}, "no stored pipeline"),
        ([1], "no stored pipeline"),
        (changed(schema=2), "use a newer printprep"),
        (changed(extra=1), "unknown key of a stored pipeline"),
        (changed(paper={}), "^paper: a paper needs a profile"),
        (changed(room={"illuminance_lux": -1}), "^room: illuminance_lux"),
        (changed(room=3), "^room: is no table"),
        (changed(adjust=[{"step": "shadow-lfit"}]), "did you mean shadow-lift"),
        (changed(adjust=[{"step": "shadow-lift", "strength": "x"}]), "^shadow-lift: strength"),
        (changed(adjust={}), "adjust"),
        (changed(adjust=[3]), "adjust 1"),
        (changed(strength="x"), "strength"),
        (changed(paper_name=3), "paper_name"),
        (changed(hand_over="x"), "hand_over"),
        ({k: v for k, v in changed().items() if k != "sheet"}, "sheet: missing"),
        (changed(paper={"profile_base64": "!"}), "profile_base64"),
        (changed(paper={"chart": {"channels": "RGB"}}), "^paper: chart"),
        (changed(paper={"profile_base64": "QQ==", "profile": "a.icc"}), "stands beside profile_base64"),
    ],
)
def test_what_is_no_stored_pipeline_is_refused_in_a_line(doc: Any, said: str) -> None:
    with pytest.raises(PrintprepError, match=said) as caught:
        pp.Pipeline.from_dict(doc)
    assert "\n" not in str(caught.value)


def test_a_preset_holds_the_whole_job(tmp_path: Path) -> None:
    ink = MatrixInk(14)
    paper = pp.Paper.from_profile(output_profile(ink.lab, ink.rgb), title="Mine")
    sheet = pp.Sheet(size="A3", margin_mm=20.0, anchor="top", keyline=True, caption="{file}, \"{paper}\"")
    pipe = pp.Pipeline([pp.GamutFit()], paper=paper, sheet=sheet, hand_over="paper", strength=0.9)
    back = from_toml(pipe, tmp_path)
    assert (back.sheet, back.hand_over, back.strength, back.paper) == (sheet, "paper", 0.9, paper)
    over = pp.pipeline(preset=tmp_path / "kept.toml", sheet=pp.Sheet(), hand_over="source")
    assert (over.sheet, over.hand_over) == (pp.Sheet(), "source")
    above = tmp_path / "above.toml"
    above.write_text('uses = ["kept.toml"]\nhand_over = "source"\n[sheet]\nsize = "A4"\n')
    again = pp.pipeline(preset=above)
    assert (again.sheet, again.hand_over) == (replace(sheet, size="A4"), "source")
    with pytest.raises(PrintprepError, match=r"has a sheet or a hand-over, which no paper has; .*preset=") as refused:
        pp.pipeline(paper=above)
    assert refused.value.line("--preset above").endswith("take it whole, as --preset above")  # as the command says it


def test_a_preset_that_would_not_say_all_is_refused() -> None:
    with pytest.raises(PrintprepError, match="to_dict"):
        pp.Pipeline([], paper=pp.paper("gloss")).to_toml()
    with pytest.raises(InputError):
        pp.Pipeline.from_dict({"kind": "printprep job ticket"})
