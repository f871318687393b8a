"""What runs per pixel: pointwise steps folded into one table, or bands where a step looks around."""

from __future__ import annotations

import hashlib
import sys
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from threading import Lock

from printprep.adjust._base import Adjustment, Steps
from printprep.adjust._registry import step_name
from printprep.conditions import _store
from printprep.conditions.conditions import Conditions
from printprep.errors import OutputError
from printprep.photo._sink import Sink
from printprep.photo.photo import Pixels
from printprep.render.chain import Chain
from printprep.render.engine import Engine
from printprep.render.field import Field, make_field
from printprep.render.pixels import BandPixels, FieldPixels, TablePixels
from printprep.render.table import SIZE, Table, compile_table

_compiling = Lock()
"""Files that are begun together wait for one table, instead of each compiling its own."""


@dataclass(frozen=True)
class Plan:
    """A pipeline made ready for one source profile.

    Printing it tells what will happen; `export` writes its table.

    Parameters
    ----------
    profile : bytes
        ICC profile of the edit.
    on : Conditions
        Paper, room, sheet, hand-over.
    steps : Steps
        The steps that change anything, in order.
    size : int
        Nodes a side of the table.
    """

    profile: bytes
    on: Conditions
    steps: Steps
    size: int = SIZE

    @cached_property
    def chain(self) -> Chain:
        """The same, exactly, in floating point: what the table is measured against."""
        return Chain(self.profile, self.on, self.steps)

    @property
    def reach(self) -> int:
        """Rows that all steps together look at above and below a pixel."""
        return sum(step.reach(self.on) for step in self.steps)

    @property
    def idle(self) -> bool:
        """Whether the very pixels are handed over."""
        return len(self.steps) == 0 and self.on.hand_over == "source"

    @property
    def fingerprint(self) -> str:
        """A hash of all that shapes the result."""
        on = self.on
        parts = (
            _store.code_stamp(),
            hashlib.blake2b(self.profile, digest_size=32).hexdigest(),
            on.paper.fingerprint,
            repr(on.room),
            repr(on.sheet),
            on.hand_over,
            repr(self.steps),
            [_module_stamp(s) for s in self.steps],
            self.size,
        )
        return hashlib.blake2b(repr(parts).encode(), digest_size=32).hexdigest()

    @cached_property
    def table(self) -> Table:
        """What depends on the colour alone, as a table; found in the cache, or compiled and kept there."""
        key = self.fingerprint
        with _compiling:
            table = Table.of(_store.load(key))
            if table is None:
                table = compile_table(self.chain, self.size)
                _store.keep(key, *table.arrays())
        return table

    @cached_property
    def flat(self) -> Plan:
        """The same for colours that have no surroundings; itself where that makes no difference."""
        steps = self.steps.flat(self.on)
        return self if steps == self.steps else replace(self, steps=steps)

    @cached_property
    def engine(self) -> Engine:
        """The table, ready to run."""
        return Engine(self.table)

    def field(self, pixels: Pixels) -> Field:
        """What depends on the surroundings: exposure by place, for one picture."""
        if self.idle or self.flat is self:
            return Field.nothing(pixels.height, pixels.width)
        return make_field(self.chain, pixels)

    def pixels(self, inner: Pixels) -> Pixels:
        """The prepared pixels of a picture, computed as they are read."""
        if self.idle:
            return inner
        exposed = inner if self.flat is self else FieldPixels(inner, self.field)
        return BandPixels(exposed, self.chain, self.reach) if self.reach else TablePixels(exposed, self.engine)

    def export(self, path: str | Path, *, overwrite: bool = False) -> None:
        """Write the table in the open Common LUT Format, whole or not at all.

        Parameters
        ----------
        path : str or Path
            Ends in ``.clf``.
        overwrite : bool
            Replace an existing file.

        Raises
        ------
        OutputError
            If a step looks around (no table can hold it), or nothing can be written there.
        """
        if self.flat.reach:
            raise OutputError(f"{str(path)!r}: a step looks at neighbouring pixels, which no table holds; leave it out")
        with Sink(path, overwrite=overwrite, endings=(".clf",)) as sink:
            sink.write(self.engine.clf(f"printprep:{self.fingerprint[:32]}").encode(), 0)
            sink.publish()

    def __str__(self) -> str:
        on = self.on
        lines = [
            f"print-referred Lab: black L* {self.chain.black:.1f} compensated to the paper's L* {on.black:.1f}",
            *(f"{n}. {step_name(s)}: {_parameters(s)}" for n, s in enumerate(self.steps, 1)),
            "nothing to do: the very pixels are handed over"
            if self.idle
            else f"in bands, {self.reach} rows of overlap"
            if self.reach
            else f"as one table of {self.size} nodes a side, after exposure by place"
            if self.flat is not self
            else f"as one table of {self.size} nodes a side",
            f"hand-over: {on.hand_over}",
        ]
        return "\n".join(lines)


def _parameters(step: Adjustment) -> str:
    inside = repr(step).partition("(")[2].rstrip(")")
    return inside or "no parameters"


def _module_stamp(step: Adjustment) -> tuple[str, int]:
    """Changes when the file of a step from another package does."""
    file = getattr(sys.modules.get(type(step).__module__), "__file__", None)
    try:
        return type(step).__qualname__, Path(file).stat().st_mtime_ns if file else 0
    except OSError:
        return type(step).__qualname__, 0
