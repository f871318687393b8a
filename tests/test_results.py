import inspect
import json
import sys
from dataclasses import is_dataclass
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest

import printprep as pp
from printprep.check._words import headline as loss_headline
from printprep.errors import InputError
from printprep.preset import load
from printprep.results import Result, plain
from tests.support.tiffs import picture


def results(folder: Path) -> dict[str, tuple[Result, str, dict[str, Any]]]:
    """Results as the calls give them, with something that their text and their plain values say."""
    edit, out = folder / "edit.tif", folder / "out.tif"
    written = pp.Photo.from_array(picture(30, 40), "opRGB").write(edit, compress="lzw")
    pipe = pp.pipeline(paper="gloss", room="office")
    prepared = pp.prepare(edit, out, pipe)
    failed = pp.Prepared(edit, error=InputError("is no TIFF", where="'edit.tif'", do="export it"))
    preset, reference = load("cotton-rag"), pp.Reference(screen_white_cd_m2=120)
    photo = pp.read(edit)
    loss, proof, report = pp.loss(photo, pipe), pp.proof(photo, pipe, side=64), pp.report(photo, pipe)
    ranking, comparison = pp.rank([edit], pipe), pp.compare(photo, [pipe, "cotton-rag"], room="office", side=64)
    shares = {"score": loss.score, "sample": [30, 40]}
    return {
        "Written": (written, "compression lzw", {"size": edit.stat().st_size, "path": str(edit)}),
        "Prepared": (prepared, "40 x 30 pixels", {"profile": "opRGB", "output": str(out), "error": None}),
        "failed": (failed, "'edit.tif': is no TIFF; export it", {"error": "'edit.tif': is no TIFF; export it"}),
        "Plan": (pipe.plan("sRGB"), "gamut-fit", {"profile": "sRGB", "hand_over": "source", "lux": 300.0}),
        "Ticket": (pp.read_ticket(out), "paper", {"kind": "printprep job ticket"}),
        "Preset": (preset, "cotton-rag: Cotton rag, matte (paper); steps: shadow-lift", {"title": "Cotton rag, matte"}),
        "Reference": (reference, "a screen of 120 cd/m2, average surround", {"screen_white_cd_m2": 120.0}),
        "Loss": (loss, loss_headline(loss), shares),
        "Figures": (loss.prepared, "visible=", {"visible": loss.score}),
        "Proof": (proof, "proof of edit.tif: 40 x 30 pixels, sRGB", {"size": [40, 30], "screen": None}),
        "Report": (report, "report on edit.tif: ", {"source": str(edit), "loss": loss.to_dict()}),
        "Ranking": (ranking, "edit.tif", {"paper": "gloss", "room": "office"}),
        "Ranked": (ranking.pictures[0], "edit.tif: ", {"file": str(edit), **shares}),
        "Comparison": (comparison, "By tone and colour alone", {"picture": "edit.tif"}),
        "OnPaper": (comparison.papers[0], ": ", {"room": "office"}),
        "ScreenAdvice": (pp.screen("gloss", "office"), "cd/m2", {"illuminance_lux": 300.0, "glazed": False}),
        "Hung": (pp.hanging(pipe, [photo])[0], "edit", {"stands_out": False, "off": 0.0}),
        "Like": (pp.like(out), "like the print of edit.tif: nothing differs", {"differs": []}),
        "Listed": (pp.presets("room")[0], "room, ", {"kind": "room", "owner": "printprep"}),
    }  # fmt: skip


def test_results_are_complete(tmp_path: Path) -> None:
    for name, (result, said, holds) in results(tmp_path).items():
        found = json.loads(result.to_json())
        assert found == result.to_dict(), name
        assert {key: found[key] for key in holds} == holds, name
        assert said in str(result) and len(str(result)) < 2000, name
        html = result._repr_html_()
        assert html.startswith("<") and "<script" not in html, name


def test_results_that_are_pictures_are_shown_as_such(tmp_path: Path) -> None:
    found = results(tmp_path)
    for name in ("Proof", "Comparison"):
        assert "data:image/png;base64,iVBOR" in found[name][0]._repr_html_()


def test_every_dataclass_that_a_public_call_returns_is_a_result() -> None:
    for name in pp.__all__:
        call = getattr(pp, name)
        if not inspect.isfunction(call):
            continue
        for made in returned(eval(call.__annotations__["return"], vars(sys.modules[call.__module__]))):
            kept = issubclass(made, (pp.Photo, pp.Pipeline, pp.Paper, pp.Room))  # these are no results, and are kept
            assert kept or not is_dataclass(made) or issubclass(made, Result), (name, made)


def returned(hint: Any) -> list[type]:
    """The classes in an annotation."""
    inner = [cls for each in get_args(hint) for cls in returned(each)]
    return inner + ([hint] if inspect.isclass(hint) else [])


def test_a_prepared_pipeline_comes_back(tmp_path: Path) -> None:
    result = results(tmp_path)["Prepared"][0]
    assert isinstance(result, pp.Prepared)
    assert pp.Pipeline.from_dict(json.loads(result.to_json())["pipe"]) == result.pipe


def test_html_is_text(tmp_path: Path) -> None:
    reference = pp.Preset("<script>", "a.toml", title="<b>")
    assert reference._repr_html_() == "<pre>&lt;script&gt;: &lt;b&gt;; steps: none</pre>"


@pytest.mark.parametrize(
    ("value", "wanted"),
    [
        (float("nan"), None),
        (np.float32(0.5), 0.5),
        (np.arange(3), [0, 1, 2]),
        (np.array([1.0, np.inf]), [1.0, None]),
        (Path("a/b"), str(Path("a/b"))),
        ({1: (2, {"x": b"abc"})}, {"1": [2, {"x": {"bytes": 3}}]}),
        (pp.Stage.TONE, "tone"),
        (np.bool_(True), True),
    ],
)
def test_plain(value: object, wanted: object) -> None:
    assert plain(value) == wanted
    assert json.loads(json.dumps(plain(value), allow_nan=False)) == wanted
