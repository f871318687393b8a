"""Compiling a plan from nothing: gamut solids, adjustments at the table's nodes, and the way back."""

from __future__ import annotations

import shutil
import subprocess
import sys

from benchmarks._measure import Bench, Line
from printprep.colour.profile import Profile
from tests.support.lutprofile import MatrixInk, output_profile

_SCRIPT = """
import sys, time
from printprep.cli.main import settle
settle()
import PyOpenColorIO, imagecodecs, printprep.jobs.prepare_many
from printprep.compose import pipeline
profile = open(sys.argv[1], "rb").read()
start = time.perf_counter()
pipe = pipeline(paper=sys.argv[2], room="hallway", settings={"gamut-fit.glow": 0})
pipe.plan(profile).engine.prepare()
print(time.perf_counter() - start)
"""


def lines(bench: Bench) -> list[Line]:
    """A source of three primaries and curves, and one of tables; papers of patches, chart and profile."""
    matrix, table = bench.folder / "matrix.icc", bench.folder / "table.icc"
    matrix.write_bytes(Profile.named("opRGB").data)
    device = MatrixInk(0.0, saturation=1.0)
    table.write_bytes(output_profile(device.lab, device.rgb, white=(0.9642, 1.0, 0.8249)))
    paper = bench.folder / "paper.icc"
    ink = MatrixInk(16.0)
    paper.write_bytes(output_profile(ink.lab, ink.rgb))
    cases = [
        ("matrix profile", str(matrix), "cotton-rag", 0.5),
        ("table profile", str(table), "cotton-rag", 0.9),
        ("table profile, paper by its profile", str(table), str(paper), 0.9),
    ]
    found = []
    for name, profile, of, most in cases:
        seconds = min(_once(bench, profile, of) for _ in range(bench.runs))
        found.append(Line(f"compile, {name}", f"{seconds:.2f} s", "", None, f"at most {most} s", seconds <= most))
    return found


def _once(bench: Bench, *arguments: str) -> float:
    shutil.rmtree(bench.folder / "none", ignore_errors=True)
    done = subprocess.run(
        [sys.executable, "-c", _SCRIPT, *arguments], capture_output=True, text=True, check=True,
        env=bench.environment("none"),
    )  # fmt: skip
    return float(done.stdout)
