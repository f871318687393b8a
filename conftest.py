"""Examples in docstrings run in a folder of their own, where an edit lies."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest


@pytest.fixture(autouse=True)
def _examples(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if not isinstance(request.node, pytest.DoctestItem):
        return
    import printprep

    np.set_printoptions(legacy=False)  # colour-science, once imported, has arrays printed as long ago
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PRINTPREP_PRESETS", str(tmp_path / "presets"))
    ramp = np.linspace(0, 1, 96, dtype=np.float32)
    picture = np.stack(np.broadcast_arrays(ramp, ramp[:64, None], np.float32(0.4)), axis=-1)
    printprep.Photo.from_array(picture, "opRGB").write("edit.tif")
