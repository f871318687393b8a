"""Packages of steps as other people would install them: written into a folder that is put on the path."""

from __future__ import annotations

from pathlib import Path

STEP = """
from dataclasses import dataclass, field
from typing import ClassVar
import numpy as np
from printprep.adjust._base import Adjustment, Stage

@dataclass(frozen=True)
class {name}(Adjustment):
    stage: ClassVar[Stage] = Stage.{stage}
    amount: float = 5.0
{more}
    def __call__(self, lab, on):
        out = lab.copy()
        {body}
        return out
"""


def step(name: str, body: str, *, stage: str = "COLOUR", more: str = "") -> str:
    """The source of a step: `body` changes ``out``; `more` are lines of the class."""
    return STEP.format(name=name, body=body, stage=stage, more="\n".join(f"    {line}" for line in more.split("\n")))


def install(folder: Path, package: str, offers: dict[str, str], source: str, version: str = "1.0") -> None:
    """Write a package of one module, whose entry points offer classes by step name."""
    module = package.replace("-", "_")
    info = folder / f"{module}-{version}.dist-info"
    info.mkdir(parents=True, exist_ok=True)
    (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {package}\nVersion: {version}\n")
    points = "".join(f"{name} = {module}:{cls}\n" for name, cls in offers.items())
    (info / "entry_points.txt").write_text(f"[printprep.adjustments]\n{points}")
    (folder / f"{module}.py").write_text(source)
