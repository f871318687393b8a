import logging
import subprocess
import sys
from pathlib import Path

import pytest

import printprep as pp
from tests.support.tiffs import picture


def messages(caplog: pytest.LogCaptureFixture, level: int) -> list[str]:
    return [r.getMessage() for r in caplog.records if r.name == "printprep" and r.levelno == level]


def test_files_tables_and_seconds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "tables"))
    pp.Photo.from_array(picture(30, 40), "opRGB").write(tmp_path / "edit.tif")
    caplog.set_level(logging.DEBUG, "printprep")
    caplog.clear()
    pipe = pp.pipeline(paper="gloss", room=pp.Room(illuminance_lux=123))
    pipe(pp.read(tmp_path / "edit.tif")).write(tmp_path / "out.tif")
    told = messages(caplog, logging.INFO)
    assert f"read '{tmp_path / 'edit.tif'}': 40 x 30 pixels, profile opRGB" in told
    assert any(m.startswith("table ") and "made of" in m and m.endswith(" s") for m in told)
    assert any(m.startswith(f"written '{tmp_path / 'out.tif'}'") and m.endswith(" s") for m in told)
    assert any(m.startswith("preset ") and m.endswith("gloss.toml") for m in messages(caplog, logging.DEBUG))
    caplog.clear()
    from printprep.pipe import _plan

    _plan.cache_clear()  # as another process would find it
    pipe(pp.read(tmp_path / "edit.tif")).write(tmp_path / "again.tif")
    assert not any("made of" in m for m in messages(caplog, logging.INFO))
    assert any(m.startswith("table ") and "found" in m for m in messages(caplog, logging.DEBUG))


def test_a_folder_that_keeps_nothing_is_warned_of(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "file" / "tables"))
    pp.pipeline(paper="gloss", room=pp.Room(illuminance_lux=124)).apply(picture(3, 4), "opRGB")
    assert any("nothing can be kept in" in m for m in messages(caplog, logging.WARNING))


def test_silent_by_default(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    script = f"""
import os, numpy as np
os.environ["PRINTPREP_CACHE"] = {str(tmp_path / "file" / "tables")!r}
import printprep as pp
photo = pp.Photo.from_array(np.zeros((9, 9, 3), np.uint16))
pp.pipeline(paper="gloss", room="office")(photo).write({str(tmp_path / "a.tif")!r})
pp.read({str(tmp_path / "a.tif")!r})
"""
    done = subprocess.run([sys.executable, "-W", "error", "-c", script], capture_output=True, text=True, check=True)
    assert (done.stdout, done.stderr) == ("", "")
