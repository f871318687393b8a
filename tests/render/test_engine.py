from pathlib import Path

import numpy as np
import pytest

from printprep.render.engine import Engine
from printprep.render.table import Table


def identity(size: int = 9, *, unshape: bool = False) -> Table:
    grid = np.linspace(0, 1, size, dtype=np.float32)
    cube = np.stack(np.meshgrid(grid, grid, grid, indexing="ij"), -1)
    codes = np.linspace(0, 1, 65536)
    if unshape:  # a shaper and its reverse around the identity
        return Table(cube, np.sqrt(codes).astype(np.float32), np.square(codes).astype(np.float32))
    return Table(cube)


@pytest.mark.parametrize("unshape", [False, True])
def test_identity_changes_no_code(unshape: bool) -> None:
    codes = np.random.default_rng(0).integers(0, 65536, (40, 50, 3)).astype(np.uint16)
    buffer = codes.copy()
    Engine(identity(unshape=unshape)).apply(buffer)
    assert np.abs(buffer.astype(int) - codes).max() <= (1 if unshape else 0)


def test_tetrahedral_interpolation_keeps_greys_grey() -> None:
    table = identity()
    table.cube[...] = table.cube**2
    buffer = np.repeat(np.arange(0, 65536, 7, dtype=np.uint16)[None, :, None], 3, axis=2)
    Engine(table).apply(buffer := np.ascontiguousarray(buffer))
    assert np.array_equal(buffer[..., 0], buffer[..., 1])
    assert np.array_equal(buffer[..., 0], buffer[..., 2])
    assert (np.diff(buffer[0, :, 0].astype(int)) >= 0).all()


def test_values_and_codes_agree() -> None:
    table = identity()
    table.cube[...] = table.cube**1.5
    engine = Engine(table)
    codes = np.random.default_rng(1).integers(0, 65536, (10, 30, 3)).astype(np.uint16)
    values = codes.astype(np.float32) / np.float32(65535)
    engine.apply(codes)
    engine.apply(values)
    assert np.abs(values * 65535 - codes).max() < 1.0


def test_buffers_that_would_end_the_process_are_refused(tmp_path: Path) -> None:
    engine = Engine(identity())
    readonly = np.zeros((2, 2, 3), np.uint16)
    readonly.flags.writeable = False
    mapped = np.memmap(tmp_path / "map", np.uint16, "w+", shape=(4, 4, 3))
    for buffer in (readonly, mapped, mapped[1:3], np.zeros((4, 4, 3), np.uint16)[::2], np.zeros((4, 4), np.uint16)):
        with pytest.raises(ValueError, match="the buffer"):
            engine.apply(buffer)
    with pytest.raises(ValueError, match="uint16"):
        engine.apply(np.zeros((2, 2, 3), np.uint8))  # type: ignore[arg-type]
    engine.apply(np.zeros((0, 4, 3), np.uint16))


def test_exported_table_is_clf() -> None:
    text = Engine(identity(5)).clf("a-title")
    # SMPTE ST 2136-1 (Common LUT Format): the root element and its version
    assert "<ProcessList" in text
    assert 'compCLFversion="3' in text
    assert "<LUT3D" in text
