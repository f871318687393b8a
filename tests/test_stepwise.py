from pathlib import Path

import numpy as np
import pytest

import printprep as pp
from printprep.errors import ParameterError, PrintprepError, UnknownName


@pytest.fixture
def pipe() -> pp.Pipeline:
    steps = [pp.ShadowLift(), pp.RoomBrightness(), pp.RoomColour(strength=0.45), pp.GamutFit()]
    return pp.Pipeline(steps, paper=pp.paper("cotton-rag"), room=pp.room("evening-sitting-room"))


def test_steps_by_place_name_and_class(pipe: pp.Pipeline) -> None:
    assert len(pipe) == len(pipe.steps) == 4
    assert list(pipe) == list(pipe.steps)
    assert pipe[0] is pipe.steps[0] is next(iter(pipe))
    assert pipe[-1] is pipe["gamut-fit"] is pipe[pp.GamutFit] is pipe.steps[pp.GamutFit]
    assert pipe[1:3] == pipe.steps[1:3] == pp.Steps((pipe[1], pipe[2]))
    assert "shadow-lift" in pipe and pp.ShadowLift in pipe and pipe["shadow-lift"] in pipe
    assert "highlight-hold" not in pipe and pp.ShadowLift(strength=0.123) not in pipe and 3 not in pipe


def test_what_is_not_there(pipe: pp.Pipeline) -> None:
    with pytest.raises(IndexError):
        pipe[9]
    with pytest.raises(UnknownName, match=r"'shadow-lfit': unknown step of this pipeline; did you mean shadow-lift\?"):
        pipe["shadow-lfit"]
    for steps in (pipe, pipe.steps):
        with pytest.raises(UnknownName, match="HighlightHold"):
            steps[pp.HighlightHold]
    with pytest.raises(UnknownName):
        pipe.without("shadow-lift", "highlight-hold")


def test_changes_give_a_new_pipeline(pipe: pp.Pipeline) -> None:
    before = tuple(pipe)
    changed = pipe.with_step(pp.ShadowLift(strength=0.25))
    assert changed["shadow-lift"] == pp.ShadowLift(strength=0.25)
    assert [type(s) for s in changed] == [type(s) for s in pipe]
    longer = pipe.with_step(pp.HighlightHold())
    assert len(longer) == 5
    assert longer == pipe + pp.HighlightHold() == pipe + pp.Steps((pp.HighlightHold(),))
    assert longer.without(pp.HighlightHold) == pipe
    assert len(pipe.without("shadow-lift", pp.GamutFit)) == 2
    assert pipe.with_strength(0.5).strength == 0.5
    assert pipe.with_strength(0.3, "shadow-lift") == pipe.with_step(pp.ShadowLift(strength=0.3))
    assert tuple(pipe) == before
    assert longer.paper is pipe.paper and longer.room is pipe.room


def test_changes_are_checked(pipe: pp.Pipeline) -> None:
    with pytest.raises(PrintprepError, match="GamutFit: occurs twice"):
        pipe + pp.GamutFit()
    with pytest.raises(ParameterError, match="step"):
        pipe.with_step("shadow-lift")  # type: ignore[arg-type]
    with pytest.raises(TypeError):
        pipe + "shadow-lift"  # type: ignore[operator]
    with pytest.raises(PrintprepError, match=r"shadow-lift: strength = 9.*must be a number"):
        pipe.with_strength(9, "shadow-lift")
    with pytest.raises(ParameterError, match="strength"):
        pipe.with_strength(2)


def test_no_command_is_told_that_did_not_ask_for_it(tmp_path: Path) -> None:
    pp.Photo.from_array(np.zeros((9, 9, 3), np.uint16)).write(tmp_path / "edit.tif")
    pipe = pp.pipeline(paper="gloss", room="office", settings={"shadow-lift.strength": 0.3})
    changed = pipe.without("shadow-lift"), pipe.with_strength(0.5)
    for number, each in enumerate((pipe, *changed)):
        out = tmp_path / f"{number}.tif"
        pp.prepare(tmp_path / "edit.tif", out, each)
        assert bool(pp.read_ticket(out).command) == (each is pipe)
        assert pp.Pipeline.from_ticket(pp.read_ticket(out)) == each


def test_a_pipeline_without_steps_is_still_one(pipe: pp.Pipeline) -> None:
    bare = pp.Pipeline([], paper=pp.paper("gloss"))
    assert bare and len(bare) == 0
    assert (bare + pp.ShadowLift())[0] == pp.ShadowLift()
