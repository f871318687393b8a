"""What runs per pixel: pointwise steps folded into one table, or bands where a step looks around."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Adjustment, Steps
from printprep.adjust._blame import blaming
from printprep.adjust._lightness import LightnessStep
from printprep.adjust._registry import step_name
from printprep.colour.profile import Profile
from printprep.conditions.conditions import Conditions
from printprep.conditions.layout import Layout
from printprep.errors import OutputError
from printprep.events import Clock, log
from printprep.files import cache
from printprep.files.names import printable
from printprep.parameters import checked_call
from printprep.photo.part import Part
from printprep.photo.pixels import Pixels
from printprep.render.chain import Chain
from printprep.render.engine import Engine
from printprep.render.export import Exported, Said, export
from printprep.render.field import Field, make_field
from printprep.render.fingerprint import table_key
from printprep.render.lightness import LightnessPixels
from printprep.render.pixels import BandPixels, FieldPixels, TablePixels
from printprep.render.placed import SheetPixels
from printprep.render.resample import resized
from printprep.render.table import SIZE, Table, compile_table
from printprep.results import Result, plain

_NEUTRAL = 0.02
"""a* and b* that are none."""

_compiling = Lock()
"""Files that are begun together wait for one table, instead of each compiling its own."""


@dataclass(frozen=True)
class Plan(Result):
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
    does : str
        What steps of other packages do, see `printprep.adjust._foreign.behaviour`: it tells plans in memory apart.

    Examples
    --------
    >>> import printprep as pp
    >>> pp.pipeline(paper="gloss").plan("sRGB").reach
    0
    """

    profile: bytes
    on: Conditions
    steps: Steps
    size: int = SIZE
    does: str = ""

    @cached_property
    def chain(self) -> Chain:
        """The same, exactly, in floating point: what the table is measured against."""
        return Chain(self.profile, self.on, self.steps)

    @property
    def reach(self) -> int:
        """Rows that all steps together look at above and below a pixel."""
        return sum(_reach(step, self.on) for step in self.steps)

    @property
    def idle(self) -> bool:
        """Whether the very pixels are handed over."""
        return len(self.steps) == 0 and self.on.hand_over == "source"

    @property
    def fingerprint(self) -> str | None:
        """The key of what is compiled from it; None where that may not outlive the process."""
        return table_key(self.profile, self.on, self.steps, self.size)

    @cached_property
    def table(self) -> Table:
        """What depends on the colour alone, as a table; found in the cache, or compiled and kept there."""
        key = self.fingerprint
        with _compiling:
            clock, table = Clock(), Table.of(cache.load(key))
            if table is not None:
                log.debug("table %s found, in %s", key, clock)
            else:
                table = compile_table(self.chain, self.size)
                cache.keep(key, *table.arrays())
                log.info("table %s made of %d steps, in %s", key or "of this process", len(self.steps), clock)
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

    def field(self, codes: NDArray[np.float32], height: int, width: int) -> Field:
        """What depends on the surroundings: exposure by place, for one picture; see `make_field`.

        Examples
        --------
        >>> import printprep as pp
        >>> photo = pp.read("edit.tif")
        >>> plan = pp.pipeline(paper="cotton-rag").plan(photo.profile)
        >>> plan.field(photo.small, photo.height, photo.width).height
        64
        """
        if self.idle or self.flat is self:
            return Field.nothing(height, width, codes)
        return make_field(self.chain, codes, height, width)

    def pixels(
        self,
        inner: Pixels,
        codes: NDArray[np.float32] | None = None,
        layout: Layout | None = None,
        tap: Callable[[Pixels], Pixels] | None = None,
        part: Part | None = None,
    ) -> Pixels:
        """The prepared pixels of a picture, computed as they are read.

        Parameters
        ----------
        inner : Pixels
            The picture.
        codes : (rows, columns, 3) ndarray of float32, optional
            The same read small, if that is at hand.
        layout : Layout, optional
            Where the picture lies on its sheet; it stays as many pixels as it has, if not given.
        tap : callable, optional
            Given the pixels that are handed over, before they are sized and sharpened, returns those to go on with.
        part : Part, optional
            What the picture is a part of; `codes` are then of that.

        Examples
        --------
        >>> import printprep as pp
        >>> photo = pp.read("edit.tif")
        >>> pp.pipeline(paper="gloss").plan(photo.profile).pixels(photo.pixels, photo.small).width
        96
        """
        coloured = self._coloured(inner, codes, part)
        done = tap(coloured) if tap else coloured
        if layout is not None:
            _, _, width, height = layout.picture
            done = resized(done, height, width, layout.part)
        if self.detail and not self.idle:
            done = LightnessPixels(done, self.chain, self.detail)
        return done if layout is None else SheetPixels(done, layout)

    def _coloured(self, inner: Pixels, codes: NDArray[np.float32] | None, part: Part | None) -> Pixels:
        """The pixels that are handed over, as many as the picture has."""
        if self.idle:
            return inner
        exposed = inner if self.flat is self else FieldPixels(inner, self.field, codes, part)
        if self.detail is None:
            return BandPixels(exposed, self.chain, self.reach)
        return inner if self.tabled.idle else TablePixels(exposed, self.tabled.engine)

    @cached_property
    def tabled(self) -> Plan:
        """The part that one table holds: without the steps that look at neighbours."""
        alone = tuple(step for step in self.steps if not _reach(step, self.on))
        return replace(self, steps=Steps(alone)) if self.reach else self

    @cached_property
    def detail(self) -> tuple[LightnessStep, ...] | None:
        """The steps to do after the table.

        None where one that looks around is not of lightness alone, or comes before others: then all run exactly.
        """
        count = sum(_reach(step, self.on) > 0 for step in self.steps)
        last = self.steps.items[len(self.steps) - count :]
        found = tuple(step for step in last if isinstance(step, LightnessStep) and _reach(step, self.on))
        return found if len(found) == count else None

    @property
    def neutral(self) -> bool:
        """Whether greys come back as greys of the edit's own profile."""
        return self._greys(np.linspace(0, 1, 257, dtype=np.float32)[:, None].repeat(3, axis=1))

    @property
    def monochrome(self) -> bool:
        """Whether all colours come back as greys of the edit's own profile."""
        grid = np.linspace(0, 1, 9, dtype=np.float32)
        return self._greys(np.stack(np.meshgrid(grid, grid, grid), axis=-1).reshape(-1, 3))

    def _greys(self, codes: NDArray[np.float32]) -> bool:
        if self.on.hand_over == "paper" or self.detail is None:
            return False
        chain = self.tabled.chain
        return bool(np.abs(chain.steps(chain.to_print(codes), self.on)[:, 1:]).max() < _NEUTRAL)

    @property
    def around(self) -> list[str]:
        """The steps that look at a colour's surroundings, by name: what they do there, no table can hold."""
        pairs = zip(self.steps, self.flat.steps, strict=True)
        return [step_name(step) for step, alone in pairs if step != alone or _reach(step, self.on)]

    @property
    def pointwise(self) -> Plan:
        """The same for colours without surroundings; itself where nothing looks at them."""
        flat = self.flat
        pairs = zip(self.steps, flat.steps, strict=True)
        steps = Steps(tuple(alone for step, alone in pairs if not _reach(step, self.on)))
        return flat if steps == flat.steps else replace(flat, steps=steps)

    @checked_call
    def export(self, path: str | Path, *, overwrite: bool = False, pointwise: bool = False) -> Exported:
        """Write the table for other programs, whole or not at all.

        What a picture decides is not in it: ``pipe.suited(photo).plan(photo.profile)`` has the table of one picture.

        Parameters
        ----------
        path : str or Path
            Ends in ``.clf`` for the open Common LUT Format, which holds the table as it is; or in ``.cube`` for
            programs that know only that, which loses a little where the table has shapers.
        overwrite : bool
            Replace an existing file.
        pointwise : bool
            Write the pointwise part where steps look at surroundings (see `around`); the file says
            what is missing.

        Returns
        -------
        Exported
            With the error of what was written, against the table.

        Raises
        ------
        OutputError
            If a step looks around and the pointwise part is not asked for, or nothing can be written there.

        Examples
        --------
        >>> import printprep as pp
        >>> made = pp.pipeline(paper="gloss").plan("sRGB").export("print.cube", pointwise=True)
        >>> print(made.path)
        print.cube
        """
        if self.around and not pointwise:
            raise OutputError(
                missing(self.around), where=repr(str(path)), do="pass {way} to write the rest", way="pointwise=True"
            )
        plan = self.pointwise
        said = Said(f"printprep:{plan.table.fingerprint}", *self._described())
        return export(path, plan.engine, plan.table, plan.chain.out_profile, said, overwrite=overwrite)

    def _described(self) -> tuple[list[str], str, str]:
        """What a table's file says of itself: descriptions, input, output."""
        from printprep import __version__

        paper = printable(self.on.paper.title) or "a paper"
        lines = [f"printprep {__version__}: prepares edits for {paper} under {self.on.room.prepared_lux:g} lx"]
        lines += _numbered(self.steps)
        if self.around:
            lines.append(f"pointwise part only: {missing(self.around)}")
        spaces = (Profile.from_bytes(data).description for data in (self.profile, self.chain.out_profile))
        given, wanted = (f"RGB, 0 to 1, in the profile {space}" for space in spaces)
        return lines, given, wanted

    def to_dict(self) -> dict[str, Any]:
        """What will be done, as plain values: profile by name, blacks in L*, steps resolved, overlap in pixels."""
        return {
            "profile": Profile.from_bytes(self.profile).description,
            "paper": self.on.paper.title,
            "lux": self.on.room.prepared_lux,
            "hand_over": self.on.hand_over,
            "source_black_L": plain(self.chain.black),
            "paper_black_L": plain(self.on.black),
            "steps": [{"step": step_name(s), **plain(asdict(s))} for s in self.steps],
            "reach": self.reach,
            "around": self.around,
            "idle": self.idle,
        }

    def __str__(self) -> str:
        on = self.on
        lines = [
            f"print-referred Lab: black L* {self.chain.black:.1f} compensated to the paper's L* {on.black:.1f}",
            *_numbered(self.steps),
            "nothing to do: the very pixels are handed over"
            if self.idle
            else f"in bands, {self.reach} rows of overlap"
            if self.detail is None
            else f"as one table of {self.size} nodes a side, after exposure by place"
            if self.flat is not self
            else f"as one table of {self.size} nodes a side",
            *([f"then lightness in bands, {self.reach} rows of overlap"] if self.detail else []),
            f"hand-over: {on.hand_over}",
        ]
        return "\n".join(lines)


def missing(around: list[str]) -> str:
    """What a table without these steps' view of surroundings lacks, in words."""
    names, verb = " and ".join(around), "does" if len(around) == 1 else "do"
    return f"no table holds what {names} {verb} by a colour's surroundings"


def _reach(step: Adjustment, on: Conditions) -> int:
    with blaming(step):
        return step.reach(on)


def _numbered(steps: Steps) -> list[str]:
    return [f"{n}. {step_name(step)}: {_parameters(step)}" for n, step in enumerate(steps, 1)]


def _parameters(step: Adjustment) -> str:
    inside = repr(step).partition("(")[2].rstrip(")")
    return inside or "no parameters"
