import os
import shutil
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import PyOpenColorIO as Ocio
import pytest

import printprep
from printprep.compose import pipeline
from printprep.errors import OutputError
from printprep.preset_files import shipped
from tests.support.command import one_line_error, run

ARGUMENTS = ["export-lut", "--paper", "gloss", "--room", "lux=50", "--profile", "opRGB"]


def described(file: Path) -> dict[str, str]:
    """The texts at the head of a CLF file, by element (SMPTE ST 2136-1)."""
    found: dict[str, str] = {}
    for element in ET.parse(file).getroot():
        name = element.tag.rpartition("}")[2]
        if name.endswith(("Description", "Descriptor")):
            found[name] = f"{found.get(name, '')}{element.text}\n"
    return found


def test_the_table_read_by_opencolorio_gives_what_prepare_gives(tmp_path: Path) -> None:
    arguments = [*ARGUMENTS, "--set", "gamut-fit.glow=0"]
    done = run(*arguments, "-o", "wall.clf", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    file = Ocio.FileTransform(str(tmp_path / "wall.clf"), interpolation=Ocio.INTERP_TETRAHEDRAL)
    reader = Ocio.Config.CreateRaw().getProcessor(file).getDefaultCPUProcessor()
    rgb = np.random.default_rng(0).random((50, 3)).astype(np.float32)
    theirs = np.array([reader.applyRGB(colour) for colour in rgb.tolist()])
    ours = pipeline(paper="gloss", room="lux=50", settings={"gamut-fit.glow": 0}).apply(rgb, "opRGB")
    assert np.abs(theirs - ours).max() < 1e-3
    assert "exists already" in one_line_error(run(*arguments, "-o", "wall.clf", cwd=tmp_path))
    assert "wall.txt" in one_line_error(run(*arguments, "-o", "wall.txt", cwd=tmp_path))
    said = described(tmp_path / "wall.clf")
    assert printprep.__version__ in said["Description"]
    assert "shadow-lift" in said["Description"]
    assert "pointwise" not in said["Description"]
    assert "opRGB" in said["InputDescriptor"]
    assert "opRGB" in said["OutputDescriptor"]


def test_what_no_table_holds_is_left_out_only_when_asked_for_and_said(tmp_path: Path) -> None:
    refused = one_line_error(run(*ARGUMENTS, "-o", "wall.clf", cwd=tmp_path))
    assert "gamut-fit" in refused
    assert "--pointwise" in refused
    assert not (tmp_path / "wall.clf").exists()
    done = run(*ARGUMENTS, "--pointwise", "-o", "wall.clf", cwd=tmp_path)
    assert done.returncode == 0
    assert done.stderr.count("\n") == 1
    assert "gamut-fit" in done.stderr
    description = described(tmp_path / "wall.clf")["Description"]
    assert "pointwise part only: no table holds what gamut-fit does by a colour's surroundings" in description
    with pytest.raises(OutputError, match=r"gamut-fit.*pointwise=True"):
        pipeline(paper="gloss", room="lux=50").plan("opRGB").export(tmp_path / "other.clf")


def test_the_same_version_writes_the_same_bytes_whatever_its_files_times(tmp_path: Path) -> None:
    package = Path(printprep.__file__).parent
    copy = tmp_path / "copy"
    shutil.copytree(package, copy / "printprep", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(str(shipped()), copy / "presets")
    written = []
    for name, time in (("one.clf", 1_600_000_000), ("two.clf", 1_700_000_000)):
        for file in copy.rglob("*"):
            os.utime(file, (time, time))
        cache = str(tmp_path / f"cache-{name}")
        arguments = (*ARGUMENTS, "--pointwise", "-o", name)
        done = run(*arguments, cwd=tmp_path, PYTHONPATH=str(copy), PRINTPREP_CACHE=cache)
        assert done.returncode == 0, done.stderr
        written.append((tmp_path / name).read_bytes())
    assert written[0] == written[1]
