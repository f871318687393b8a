"""Steps of other packages: named in every error they cause, and asked for by nobody, never imported."""

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
import pytest

import printprep as pp
from printprep.adjust import _registry
from printprep.adjust._base import Adjustment, Stage
from printprep.colour.lab import Lab
from printprep.conditions.conditions import Conditions
from printprep.errors import PrintprepError
from tests.support.command import one_line_error, run
from tests.support.plugins import install, step


@dataclass(frozen=True)
class Faulty(Adjustment):
    """Breaks one promise at a time."""

    stage: ClassVar[Stage] = Stage.TONE
    how: str = ""

    def reach(self, on: Conditions) -> int:
        return 1 // 0 if self.how == "reach" else 0

    def idle(self, on: Conditions) -> bool:
        return bool(1 // 0) if self.how == "idle" else False

    def resolved(self, on: Conditions) -> Adjustment:
        return 1 // 0 if self.how == "resolved" else self  # type: ignore[return-value]

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        out: Any = lab.copy()
        match self.how:
            case "raises":
                raise KeyError("no such thing")
            case "refuses":
                raise PrintprepError("needs a darker paper; name one")
            case "nan":
                out[out[..., 0] > 80] = np.nan
            case "infinity":
                out[0, ..., 0] = np.inf
            case "shape":
                return out[..., :2]  # type: ignore[no-any-return]
            case "flat":
                return out.reshape(-1, 3)  # type: ignore[no-any-return]
            case "dtype":
                return out.astype(np.float64)  # type: ignore[no-any-return]
            case "nothing":
                return None  # type: ignore[return-value]
            case "scale":
                out *= 2.55
            case "runaway":
                out[..., 1:] *= 10
        return out  # type: ignore[no-any-return]


@dataclass(frozen=True)
class Fit(Adjustment):
    """A gamut step that keeps every colour, held or not."""

    stage: ClassVar[Stage] = Stage.GAMUT

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        return lab.copy()


@dataclass(frozen=True)
class Vivid(Adjustment):
    """A last step that takes fitted colours out of the gamut again."""

    stage: ClassVar[Stage] = Stage.DETAIL
    factor: float = 1.5

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        return lab * np.array([1, self.factor, self.factor], np.float32)


@dataclass(frozen=True, eq=False)
class Listed(Adjustment):
    """Cannot be told from others."""

    __hash__ = None  # type: ignore[assignment]
    stage: ClassVar[Stage] = Stage.TONE

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        return lab.copy()


def pipe(*steps: Adjustment) -> pp.Pipeline:
    return pp.Pipeline(steps, paper=pp.paper("cotton-rag"), room=pp.Room(illuminance_lux=50))


WORDS = {
    "raises": r"raises KeyError \('no such thing'\)",
    "refuses": "needs a darker paper; name one$",
    "nan": "returns NaN",
    "infinity": "returns NaN or infinity",
    "shape": "shape",
    "flat": "shape",
    "dtype": "returns float64, must return float32",
    "nothing": "returns NoneType",
    "scale": "no Lab",
    "runaway": "no Lab",
    "reach": "raises ZeroDivisionError",
    "idle": "raises ZeroDivisionError",
    "resolved": "raises ZeroDivisionError",
}


@pytest.mark.parametrize("how", WORDS)
def test_a_step_that_breaks_a_promise_is_named_when_the_plan_is_made(how: str) -> None:
    with pytest.raises(PrintprepError, match=rf"^step Faulty of .*test_foreign: .*{WORDS[how]}") as caught:
        pipe(Faulty(how=how)).plan("sRGB")
    assert "\n" not in str(caught.value)


def test_a_step_that_keeps_them_is_not() -> None:
    codes = np.full((2, 2, 3), 30000, np.uint16)
    assert pipe(Faulty()).apply(codes, "sRGB").shape == codes.shape


def test_from_the_gamut_stage_on_results_must_be_held() -> None:
    with pytest.raises(PrintprepError, match=r"step Fit of .* out of the gamut"):
        pipe(Fit()).plan("sRGB")
    with pytest.raises(PrintprepError, match=r"step Vivid of .* out of the gamut"):
        pipe(pp.GamutFit(), Vivid()).plan("sRGB")
    pipe(pp.GamutFit(), Vivid(factor=0.5)).plan("sRGB")


def test_a_step_that_cannot_be_hashed_is_named() -> None:
    with pytest.raises(PrintprepError, match=r"step Listed of .*raises TypeError"):
        pipe(Listed()).plan("sRGB")


@dataclass(frozen=True)
class Rare(Adjustment):
    """Fails for a few colours, which are found only when all are computed."""

    stage: ClassVar[Stage] = Stage.TONE
    looks: int = 0

    def reach(self, on: Conditions) -> int:
        return self.looks

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        out = lab.copy()
        out[np.abs(lab[..., 1] - 3.5) < 0.5] = np.nan
        return out


@pytest.mark.parametrize("looks", [0, 2])
def test_a_fault_in_a_few_colours_is_named_when_they_are_met(looks: int) -> None:
    """When the table is compiled; in the picture itself, where the step looks around."""
    made = pipe(Rare(looks=looks))
    grid = np.linspace(0, 65535, 65).astype(np.uint16)
    codes = np.stack(np.meshgrid(grid, grid, grid, indexing="ij"), -1).reshape(-1, 65, 3)
    with pytest.raises(PrintprepError, match=r"step Rare of .*NaN"):
        made.apply(codes, "sRGB")


# ---------------------------------------------------------------- installed packages


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Three packages: one that leaves a mark when it is imported, one that cannot be, one with faults."""
    folder = tmp_path / "site"
    mark = f"open({str(tmp_path / 'imported')!r}, 'w').close()\n"
    install(folder, "marked-steps", {"marked": "Marked"}, mark + step("Marked", "out[..., 2] += self.amount"))
    install(folder, "broken-steps", {"broken": "Broken"}, "raise SystemExit('one line\\nand another')\n")
    source = (
        step("Warm", "out[..., 2] /= (out[..., 0] != 100)")
        + "class Bare(Warm):\n    def __init__(self, amount): 1 / 0\n"
    )
    install(folder, "faulty-steps", {"warm": "Warm", "bare": "Bare"}, source, "2.5")
    monkeypatch.syspath_prepend(str(folder))
    _registry._others.cache_clear()
    yield folder
    for name in ("marked_steps", "broken_steps", "faulty_steps"):
        sys.modules.pop(name, None)
    for name in ("Marked", "Warm", "Bare"):
        vars(pp).pop(name, None)
    _registry._others.cache_clear()


def test_a_name_that_cannot_be_loaded_is_not_there(installed: Path) -> None:
    """`hasattr` passes everything on but AttributeError (the language's own rule)."""
    assert not hasattr(pp, "Broken")
    assert hasattr(pp, "Marked")
    with pytest.raises(AttributeError, match=r"'broken': cannot be loaded.*remove broken-steps$"):
        pp.Broken  # type: ignore[attr-defined]  # noqa: B018


@pytest.mark.filterwarnings("ignore:divide by zero", "ignore:invalid value")
def test_errors_name_the_package_and_its_version(installed: Path) -> None:
    with pytest.raises(PrintprepError, match=r"^step Warm of faulty-steps 2\.5: returns NaN"):
        pp.pipeline(paper="gloss", settings={"warm.amount": 3}).plan("sRGB")
    with pytest.raises(PrintprepError, match=r"step Bare of faulty-steps 2\.5: raises ZeroDivisionError"):
        pp.pipeline(paper="gloss", settings={"bare.amount": 3})


def test_what_no_preset_asks_for_is_not_imported(installed: Path, tmp_path: Path) -> None:
    pp.Photo.from_array(np.zeros((8, 8, 3), np.uint16), "sRGB").write(tmp_path / "edit.tif")
    said = run("prepare", "edit.tif", "-p", "gloss", "-o", "out.tif", cwd=tmp_path, PYTHONPATH=path(installed))
    assert said.returncode == 0, said.stderr
    said = run("presets", "list", cwd=tmp_path, PYTHONPATH=path(installed))
    assert said.returncode == 0, said.stderr
    assert not (tmp_path / "imported").exists()
    arguments = ("prepare", "edit.tif", "-p", "gloss", "--overwrite", "-o", "out.tif", "--set", "marked.amount=3")
    assert run(*arguments, cwd=tmp_path, PYTHONPATH=path(installed)).returncode == 0
    assert (tmp_path / "imported").exists()


def test_the_command_says_it_in_one_line(installed: Path, tmp_path: Path) -> None:
    pp.Photo.from_array(np.zeros((8, 8, 3), np.uint16), "sRGB").write(tmp_path / "edit.tif")
    arguments = ("prepare", "edit.tif", "-p", "gloss", "-o", "out.tif", "--set")
    for value, words in (("warm.amount=3", "returns NaN"), ("broken.amount=3", "cannot be loaded (one line)")):
        assert words in one_line_error(run(*arguments, value, cwd=tmp_path, PYTHONPATH=path(installed)))
        assert not (tmp_path / "out.tif").exists()


def path(folder: Path) -> str:
    return f"{folder}:{Path(pp.__file__).parents[1]}"
