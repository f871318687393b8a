"""Papers from eight patches and from charts: values, certainty, identity, and what is refused."""

from __future__ import annotations

import pickle
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from printprep.colour.lab import luminance_from_lightness, media_relative
from printprep.conditions.paper import Paper
from printprep.errors import InputError, ParameterError, PrintprepError, UnknownName
from printprep.preset_files import shipped
from tests.support.solids import within

# FOGRA39L and FOGRA29L (open data), absolute Lab of paper, the four-ink black and the solids
FOGRA: dict[str, dict[str, Any]] = {
    "FOGRA39L": {
        "white": (95.0, 0.0, -2.0), "black": (8.71, -0.07, 2.06),
        "solids": {"cyan": (55, -37, -50), "magenta": (48, 74, -3), "yellow": (89, -5, 93),
                   "red": (47, 68, 48), "green": (50, -65, 27), "blue": (24, 22, -46)},
    },
    "FOGRA29L": {
        "white": (95.71, 0.61, -2.32), "black": (26.18, 0.16, 2.17),
        "solids": {"cyan": (59.04, -26.66, -42.80), "magenta": (55.04, 59.46, -4.00), "yellow": (88.85, -1.65, 79.16),
                   "red": (52.48, 55.39, 30.12), "green": (52.24, -42.83, 18.48), "blue": (38.54, 7.97, -32.20)},
    },
}  # fmt: skip


def chart(name: str) -> Paper:
    return Paper.from_measurement(shipped() / "measurements" / f"{name}.txt")


def patches(**change: Any) -> Paper:
    return Paper(**{**FOGRA["FOGRA39L"], **change})


@pytest.mark.parametrize("name", FOGRA)
def test_a_chart_has_the_values_of_its_file(name: str) -> None:
    paper = chart(name)
    assert paper.kind == "measurement"
    assert paper.white == FOGRA[name]["white"]
    assert paper.title == name
    assert f"{len(paper.measured.lab)} measured CMYK patches" in paper.certainty  # type: ignore[union-attr]
    assert paper.white_reflectance == pytest.approx(float(luminance_from_lightness(paper.white[0])))  # type: ignore[index]
    assert paper.surface in ("lustre", "matte")


def test_neutral_blacks_lie_between_the_darkest_and_black_ink() -> None:
    # media-relative L* of the darkest patch, and of black ink alone, from the file's own values
    for name, (darkest, key) in {"FOGRA39L": (7.88, 16.0), "FOGRA29L": (26.18, 31.88)}.items():
        paper = chart(name)
        ends = media_relative(np.array([[darkest, 0, 0], [key, 0, 0]]), FOGRA[name]["white"])[:, 0]
        assert ends[0] < paper.neutral_black < ends[1]
        black = np.array([[paper.neutral_black + 0.2, 0, 0], [paper.neutral_black - 2, 0, 0]])
        assert paper.solid.contains(black).tolist() == [True, False]


@pytest.mark.parametrize(("name", "mean", "worst"), [("FOGRA29L", 1.3, 3.2), ("FOGRA39L", 1.2, 3.0)])
def test_eight_patches_come_near_the_whole_chart(name: str, mean: float, worst: float) -> None:
    whole, eight = chart(name), Paper(**FOGRA[name])
    hues = np.arange(360)
    error = np.abs(whole.solid.cusp(hues)[1] - eight.solid.cusp(hues)[1])
    assert error.mean() < mean
    assert np.quantile(error, 0.95) < worst
    assert 0.85 < eight.solid.volume / whole.solid.volume < 1
    assert eight.kind == "eight patches"
    assert "eight patches" in eight.certainty


def test_solids_are_held() -> None:
    for name, values in FOGRA.items():
        eight = Paper(**values)
        colours = media_relative(np.array(list(values["solids"].values()), float), values["white"])
        assert within(eight.solid, colours, 0.5).all(), name
        assert within(chart(name).solid, colours, 0.5).all(), name


def test_identity_does_not_depend_on_paths_or_titles(tmp_path: Path) -> None:
    file = tmp_path / "other-name.txt"
    shutil.copy(str(shipped() / "measurements" / "FOGRA39L.txt"), file)
    one, two = chart("FOGRA39L"), Paper.from_measurement(file, title="another title")
    assert one.fingerprint == two.fingerprint
    assert one != two
    assert patches() == patches()
    assert hash(patches()) == hash(patches())
    assert patches().fingerprint != patches(native_ppi=300.0).fingerprint
    assert patches().fingerprint != patches(surface="matte").fingerprint
    for paper in (one, patches()):
        _ = paper.solid
        copy = pickle.loads(pickle.dumps(paper))
        assert copy == paper
        assert copy.solid == paper.solid


def test_arrays_are_taken_for_colours() -> None:
    values = FOGRA["FOGRA39L"]
    solids = {name: np.array(lab, float) for name, lab in values["solids"].items()}
    assert Paper(white=np.array(values["white"]), black=np.array(values["black"]), solids=solids) == patches()  # type: ignore[arg-type]


def test_a_table_may_point_beside_itself() -> None:
    papers = shipped() / "papers"
    paper = Paper.from_table({"measurements": "../measurements/FOGRA29L.txt", "surface": "matte"}, papers)
    assert paper.fingerprint == Paper.from_measurement(
        shipped() / "measurements" / "FOGRA29L.txt", surface="matte"
    ).fingerprint
    with pytest.raises(InputError, match=r"none\.txt"):
        Paper.from_table({"measurements": "none.txt"}, papers)
    with pytest.raises(UnknownName, match="did you mean measurements"):
        Paper.from_table({"measurement": "x.txt"}, papers)


WHITE, SOLIDS = FOGRA["FOGRA39L"]["white"], FOGRA["FOGRA39L"]["solids"]


@pytest.mark.parametrize(
    ("change", "error", "message"),
    [
        ({"white": None}, PrintprepError, "white: missing"),
        ({"black": None}, PrintprepError, "black: missing"),
        ({"solids": None}, PrintprepError, "solids: missing"),
        ({"white": (95, 0)}, ParameterError, "white"),
        ({"white": (float("nan"), 0, 0)}, ParameterError, "white"),
        ({"white": (40.0, 0, 0)}, ParameterError, "must have L"),
        ({"black": (90.0, 0, 0)}, ParameterError, "darker than white"),
        ({"solids": {**SOLIDS, "cyan": (55, -370, 0)}}, ParameterError, "solids.cyan"),
        ({"solids": {**SOLIDS, "cyan": (99, 0, 0)}}, ParameterError, "between black and white"),
        ({"solids": {**SOLIDS, "orange": (55, 0, 0)}}, UnknownName, "orange"),
        ({"solids": {k: v for k, v in SOLIDS.items() if k != "red"}}, PrintprepError, "solids.red: missing"),
        ({"solids": 3}, ParameterError, "six colours"),
        ({"surface": "velvet"}, ParameterError, "surface"),
        ({"native_ppi": 5}, ParameterError, "native_ppi"),
        ({"profile": b"x"}, PrintprepError, "give one of them"),
    ],
)  # fmt: skip
def test_bad_values_are_refused(change: dict[str, Any], error: type[Exception], message: str) -> None:
    with pytest.raises(error, match=message) as caught:
        patches(**change)
    assert "\n" not in str(caught.value)


def test_a_paper_of_nothing_is_refused() -> None:
    with pytest.raises(PrintprepError, match="one of"):
        Paper(title="nothing")


def test_typical_is_what_a_paper_says_it_is_and_no_word_of_its_source() -> None:
    from printprep.check.basis import basis, cautions

    measured = patches(source="my own instrument; no typical values")
    assert basis(measured) == "own patches"
    assert cautions({"mine": measured}) == []
    assert basis(patches(typical=True)) == "typical values"
    assert "only typical values" in cautions({"mine": patches(typical=True)})[0]
