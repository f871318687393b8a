from pathlib import Path

import numpy as np
import PyOpenColorIO as Ocio

from printprep.compose import pipeline
from tests.support.command import one_line_error, run


def test_the_table_read_by_opencolorio_gives_what_prepare_gives(tmp_path: Path) -> None:
    arguments = [
        "export-lut",
        "--paper",
        "gloss",
        "--room",
        "lux=50",
        "--set",
        "gamut-fit.glow=0",
        "--profile",
        "opRGB",
    ]
    assert run(*arguments, "-o", "wall.clf", cwd=tmp_path).returncode == 0
    file = Ocio.FileTransform(str(tmp_path / "wall.clf"), interpolation=Ocio.INTERP_TETRAHEDRAL)
    reader = Ocio.Config.CreateRaw().getProcessor(file).getDefaultCPUProcessor()
    rgb = np.random.default_rng(0).random((50, 3)).astype(np.float32)
    theirs = np.array([reader.applyRGB(colour) for colour in rgb.tolist()])
    ours = pipeline(paper="gloss", room="lux=50", settings={"gamut-fit.glow": 0}).apply(rgb, "opRGB")
    assert np.abs(theirs - ours).max() < 1e-3
    assert "exists already" in one_line_error(run(*arguments, "-o", "wall.clf", cwd=tmp_path))
    assert "wall.txt" in one_line_error(run(*arguments, "-o", "wall.txt", cwd=tmp_path))
