"""How well a table stands for the chain it was compiled from: ``python -m benchmarks.tables [NODES...]``.

CIEDE2000 (by scikit-image) between table and exact evaluation, for every shipped paper under a dim room and
four source spaces, over 40,000 colours spread evenly in the source's L*, and 4001 greys.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks._measure import Bench, Line
from printprep.colour.icc import lab_from_device
from printprep.colour.profile import Profile
from printprep.compose import pipeline
from printprep.preset_files import names
from printprep.render.engine import Engine
from printprep.render.plan import Plan
from printprep.render.table import SIZE, compile_table, grey_curve
from tests.support.spaces import linear_profile

_MEAN, _MOST_OF_ALL, _GREY = 0.04, 0.5, 0.1


def spaces() -> dict[str, bytes]:
    """Source spaces, the widest last but one."""
    return {n: Profile.named(n).data for n in ("sRGB", "opRGB", "ROMM RGB")} | {"linear opRGB": linear_profile()}


@dataclass(frozen=True)
class Accuracy:
    """CIEDE2000 of one table."""

    mean: float
    most_of_all: float
    largest: float
    at: tuple[float, ...]
    grey: float

    @property
    def met(self) -> bool:
        """Whether it is as good as promised."""
        return self.mean <= _MEAN and self.most_of_all <= _MOST_OF_ALL and self.grey <= _GREY

    def __str__(self) -> str:
        lab = ", ".join(f"{v:.0f}" for v in self.at)
        return (
            f"mean {self.mean:.3f}  99.9 % {self.most_of_all:.2f}  max {self.largest:.2f} at Lab {lab}  "
            f"greys {self.grey:.3f}"
        )


def accuracy(plan: Plan, size: int = SIZE) -> Accuracy:
    """Measure a table of so many nodes a side."""
    from skimage.color import deltaE_ciede2000

    def lab(rgb: NDArray[np.floating]) -> NDArray[np.floating]:
        return lab_from_device(rgb.astype(np.float64), plan.chain.out_profile)

    profile = plan.profile
    even = np.random.default_rng(5).random((40_000, 3))
    rgb = np.interp(even, grey_curve(profile), np.linspace(0, 1, 65536)).astype(np.float32)
    greys = np.repeat(np.linspace(0, 1, 4001, dtype=np.float32)[:, None], 3, axis=1)
    engine = Engine(compile_table(plan.chain, size))
    errors = []
    for colours in (rgb, greys):
        got = np.ascontiguousarray(colours[None])
        got = got.copy()
        engine.apply(got)
        errors.append(deltaE_ciede2000(lab(plan.chain(colours)), lab(got[0])))
    worst = int(np.argmax(errors[0]))
    return Accuracy(
        float(errors[0].mean()), float(np.quantile(errors[0], 0.999)), float(errors[0][worst]),
        tuple(map(float, lab_from_device(rgb[worst].astype(np.float64), profile))), float(errors[1].max()),
    )  # fmt: skip


def lines(bench: Bench) -> list[Line]:
    """One row for each space: its worst paper."""
    papers = ["gloss"] if bench.quick else names("paper")
    found = []
    for space, profile in spaces().items():
        all_of_it = {paper: accuracy(_plan(paper, profile)) for paper in papers}
        name, worst = max(all_of_it.items(), key=lambda item: item[1].most_of_all)
        mean, grey = max(a.mean for a in all_of_it.values()), max(a.grey for a in all_of_it.values())
        largest = max(a.largest for a in all_of_it.values())
        found.append(
            Line(
                f"table of {SIZE}³, {space}, {len(papers)} papers", f"99.9 % {worst.most_of_all:.2f} dE00",
                f"worst on {name}", None, f"{_MOST_OF_ALL}; mean {_MEAN}; greys {_GREY}",
                all(a.met for a in all_of_it.values()), f"mean {mean:.3f}, greys {grey:.3f}, max {largest:.2f}",
            )
        )  # fmt: skip
    return found


def _plan(paper: str, profile: bytes) -> Plan:
    return pipeline(paper=paper, room="evening-sitting-room", settings={"gamut-fit.glow": 0}).plan(profile)


if __name__ == "__main__":
    for nodes in map(int, sys.argv[1:] or ["33", "49", "65", "97"]):
        for space, profile in spaces().items():
            for paper in names("paper"):
                found = accuracy(_plan(paper, profile), nodes)
                print(f"{nodes:3} nodes  {space:12}  {paper:15} {found}  {'' if found.met else 'MISSED'}", flush=True)
