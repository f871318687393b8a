import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

import numpy as np
import pytest

from printprep.adjust import _registry
from printprep.adjust._base import Adjustment, Stage, Steps
from printprep.colour.lab import Lab
from printprep.conditions.conditions import Conditions
from printprep.errors import PrintprepError, UnknownName
from printprep.testing import check_adjustment, plain


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A package of somebody else's that offers two steps, one of them broken."""
    info = tmp_path / "other_steps-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: other-steps\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text(
        "[printprep.adjustments]\nbrighten = other_steps:Brighten\n"
        "broken = other_steps:Missing\nno-step = other_steps:NotOne\n"
    )
    (tmp_path / "other_steps.py").write_text(
        "from dataclasses import dataclass\nfrom typing import ClassVar\n"
        "from printprep.adjust._base import Adjustment, Stage\n"
        "@dataclass(frozen=True)\nclass Brighten(Adjustment):\n"
        "    stage: ClassVar[Stage] = Stage.TONE\n    amount: float = 1.0\n"
        "    def __call__(self, lab, on):\n        out = lab.copy(); out[..., 0] += self.amount; return out\n"
        "class NotOne: pass\n"
    )
    monkeypatch.syspath_prepend(str(tmp_path))
    _registry._others.cache_clear()
    yield tmp_path
    sys.modules.pop("other_steps", None)
    _registry._others.cache_clear()


def test_others_steps_are_found_and_named(installed: Path) -> None:
    cls = _registry.adjustment("brighten")
    check_adjustment(cls())
    assert _registry.step_name(cls) == "brighten"
    assert "brighten" in _registry.names()


def test_a_broken_package_breaks_its_own_step_only(installed: Path) -> None:
    with pytest.raises(PrintprepError, match=r"cannot be loaded.*update or remove other-steps"):
        _registry.adjustment("broken")
    with pytest.raises(PrintprepError, match="is no adjustment"):
        _registry.adjustment("no-step")
    assert _registry.adjustment("shadow-lift").__name__ == "ShadowLift"


def test_two_packages_with_one_name_are_refused_naming_both(installed: Path) -> None:
    info = installed / "more_steps-2.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: more-steps\nVersion: 2.0\n")
    (info / "entry_points.txt").write_text("[printprep.adjustments]\nbrighten = more_steps:Brighten\n")
    _registry._others.cache_clear()
    with pytest.raises(PrintprepError, match="more-steps and other-steps"):
        _registry.adjustment("brighten")


def test_an_unknown_step_names_the_nearest() -> None:
    with pytest.raises(UnknownName, match=r"did you mean gamut-fit\?"):
        _registry.adjustment("gamut-fitt")


@pytest.mark.parametrize("name", sorted(_registry._own()))
def test_every_step_keeps_the_promises(name: str) -> None:
    cls = _registry.adjustment(name)
    assert _registry.step_name(cls) == name
    check_adjustment(cls(), plain())


@dataclass(frozen=True)
class Wrong(Adjustment):
    """Breaks one promise at a time."""

    stage: ClassVar[Stage] = Stage.TONE
    how: str = ""

    def reach(self, on: Conditions) -> int:
        return 3 if self.how == "short" else 0

    def idle(self, on: Conditions) -> bool:
        return self.how == "idle"

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        out = lab.copy()
        match self.how:
            case "writes":
                lab[..., 0] += 1
            case "idle":
                out[..., 0] += 1
            case "nan":
                out[out[..., 0] > 100] = np.nan
            case "looks":
                out[..., 0] = lab[..., 0].mean()
            case "falls":
                out[..., 0] = 100 - lab[..., 0]
            case "double":
                return out.astype(np.float64)
            case "short":
                for shift in (-4, 4):
                    out += np.roll(lab, shift, axis=0) if lab.ndim == 3 else lab
        return out


@pytest.mark.parametrize("how", ["writes", "idle", "nan", "looks", "falls", "double", "short"])
def test_the_check_catches_steps_that_break_their_promises(how: str) -> None:
    with pytest.raises(AssertionError):
        check_adjustment(Wrong(how=how))


def test_steps_order_by_stage() -> None:
    fit, lift = _registry.adjustment("gamut-fit")(), _registry.adjustment("shadow-lift")()
    assert (fit | lift).ordered() == Steps((lift, fit)) == (lift | fit)
    assert len(Steps()) == 0
