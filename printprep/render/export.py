"""A compiled table written for other programs: in the Common LUT Format, or as a ``.cube`` with its error stated."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.colour.icc import lab_from_device
from printprep.files.sink import Sink
from printprep.render.engine import Engine
from printprep.render.table import Table, on_nodes
from printprep.results import Result

ENDINGS = (".clf", ".cube")
_NODES = 65
"""Nodes a side of a ``.cube``; what software commonly reads, no source."""
_PROBES = 41
"""Colours a side that its error is measured at; none of them but the ends lies on a node."""


@dataclass(frozen=True)
class Said:
    """What a table's file says of itself: its identity, descriptions, and what its values are before and after."""

    name: str
    lines: list[str]
    given: str
    wanted: str


@dataclass(frozen=True)
class Exported(Result):
    """A table that has been written for other programs.

    Parameters
    ----------
    path : Path
        The file.
    mean_error, most_error : float, CIEDE2000
        Of the file against the table itself, over 68,921 evenly spaced colours, by whichever of the two usual ways to
        read it (tetrahedral, trilinear) is worse; 0 for the Common LUT Format, which holds the table as it is.
    """

    path: Path
    mean_error: float = 0.0
    most_error: float = 0.0

    def __str__(self) -> str:
        return f"{self.path}: {error_words(self.mean_error, self.most_error)}"


def error_words(mean: float, most: float) -> str:
    """The error of a file, in words."""
    if not most:
        return "the table as it is"
    return f"within {most:.2g} CIEDE2000 of the table, {mean:.2g} on average, by tetrahedral or trilinear reading"


def export(
    path: str | Path, engine: Engine, table: Table, out_profile: bytes, said: Said, *, overwrite: bool
) -> Exported:
    """Write a table; the ending chooses the format. See `printprep.render.plan.Plan.export`."""
    with Sink(path, overwrite=overwrite, endings=ENDINGS) as sink:
        if str(path).lower().endswith(".clf"):
            text, mean, most = engine.clf(said.name, said.lines, said.given, said.wanted), 0.0, 0.0
        else:
            text, mean, most = _cube(engine, table, out_profile, said)
        sink.write(text.encode(), 0)
        sink.publish()
    return Exported(Path(path), mean, most)


def _cube(engine: Engine, table: Table, out_profile: bytes, said: Said) -> tuple[str, float, float]:
    body = engine.baked(_NODES)
    start = body.index("LUT_3D_SIZE")
    nodes = np.array(body[start:].split("\n", 1)[1].split(), np.float32).reshape(_NODES, _NODES, _NODES, 3)
    mean, most = _error(engine, np.ascontiguousarray(nodes.transpose(2, 1, 0, 3)), out_profile)
    head = [*said.lines, f"input: {said.given}", f"output: {said.wanted}", error_words(mean, most)]
    title = said.lines[0].replace('"', "'")
    return "".join(f"# {line}\n" for line in head) + f'TITLE "{title}"\n' + body[start:], mean, most


def _error(engine: Engine, cube: NDArray[np.float32], out_profile: bytes) -> tuple[float, float]:
    """Mean and largest CIEDE2000 of a cube against the table, by the worse of two ways to read it."""
    from skimage.color import deltaE_ciede2000

    axis = np.linspace(0, 1, _PROBES, dtype=np.float32)
    colours = np.ascontiguousarray(on_nodes(lambda rgb: rgb, axis, axis, axis), np.float32).reshape(1, -1, 3)

    def seen(reader: Engine) -> NDArray[Any]:
        values = colours.copy()
        reader.apply(values)
        return lab_from_device(np.clip(values, 0, 1), out_profile)

    exact = seen(engine)
    readers = (Engine(Table(cube)), Engine(Table(cube), trilinear=True))
    found = [deltaE_ciede2000(exact, seen(reader)) for reader in readers]
    return max(float(each.mean()) for each in found), max(float(each.max()) for each in found)
