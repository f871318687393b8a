"""What a print will show, prepared and not: the colours of an edit, through paper and conversion, as tables."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Adjustment, Lab, Stage, Steps
from printprep.colour.icc import device_from_lab, lab_from_device, model_of
from printprep.compose import Pipeline
from printprep.conditions.conditions import Conditions
from printprep.conditions.paper import Paper
from printprep.photo.profile import Profile
from printprep.render.chain import Chain
from printprep.render.engine import Engine
from printprep.render.table import Table, grey_curve

NODES = 33
"""Nodes a side of the tables. Colours are interpolated between them; benchmarks/losses.py says how well."""

_CODES = 65536
_ROUNDING = np.float32(0.05)
"""Lab units by which a colour may lie outside by rounding alone, on its way through a profile and back."""
_SCALE = np.array([1 / 110, 1 / 400, 1 / 400], np.float32)
_SHIFT = np.array([0.02, 0.5, 0.5], np.float32)
"""Lab within 0..1, as tables hold it; wide enough for every colour of ROMM RGB."""


@dataclass(frozen=True)
class Shown:
    """The same colours at each point of the way, Lab D50, (..., 3) float32.

    Parameters
    ----------
    edit : Lab
        As the edit has them, relative to its own white.
    asked : Lab
        Print-referred: compensated to the paper's black, what an unprepared print asks of the paper.
    plain : Lab
        What the unprepared print shows: relative colorimetric, black point compensation on.
    toned : Lab
        What the prepared print asks of the paper: after the steps of tone and room, before gamut-fit.
    ready : Lab
        What the prepared print shows.
    """

    edit: Lab
    asked: Lab
    plain: Lab
    toned: Lab
    ready: Lab


def printed(lab: Lab, paper: Paper) -> Lab:
    """What comes out on paper of print-referred colours, by a relative colorimetric conversion.

    Parameters
    ----------
    lab : (..., 3) ndarray of float32
        Media-relative Lab, already compensated to the paper's black.
    paper : Paper
        With a profile, colours go through its tables to the device and back. Without one, those that
        the paper holds stay and the others land on the nearest that it does, by dE*ab.

    Returns
    -------
    (..., 3) ndarray of float32
        Media-relative Lab.
    """
    if paper.profile is not None:
        model = model_of(paper.profile)
        device = np.clip(device_from_lab(lab, paper.profile, model=model), 0, 1)
        return lab_from_device(device, paper.profile, model=model).astype(np.float32)
    solid, out = paper.solid, np.array(lab, np.float32)
    middle, half = (solid.white_L + solid.black_L) / 2, (solid.white_L - solid.black_L) / 2
    L, chroma = out[..., 0], np.hypot(out[..., 1], out[..., 2])
    most = solid.max_chroma(L, np.degrees(np.arctan2(out[..., 2], out[..., 1])))
    beyond = (chroma > most + _ROUNDING) | (np.abs(L - middle) > half + _ROUNDING)
    out[beyond] = solid.nearest(out[beyond])
    return out


def pointwise(steps: Steps, on: Conditions) -> Steps:
    """The steps as they act on an even area, so that they can be asked of single colours."""
    flat = (_even(step, on) for step in steps)
    return Steps(tuple(s for s in flat if s is not None))


def _even(step: Adjustment, on: Conditions) -> Adjustment | None:
    if step.reach(on) == 0:
        return step
    if any(f.name == "detail" for f in fields(step)):  # gives detail back; an even area has none
        even = replace(step, detail=0.0)  # type: ignore[call-arg]
        return even if even.reach(on) == 0 else None
    return None  # sharpening and local contrast leave an even area as it is


def before_gamut(steps: Steps) -> Steps:
    """The steps of colour, tone and room: what they change is meant, not lost."""
    return Steps(tuple(s for s in steps if s.stage < Stage.GAMUT))


@dataclass(frozen=True)
class Simulation:
    """Colours of edits in one profile, on one paper in one room.

    Parameters
    ----------
    profile : bytes
        ICC profile of the edit.
    pipe : Pipeline
        Paper, room and what is done.
    """

    profile: bytes
    pipe: Pipeline

    @cached_property
    def on(self) -> Conditions:
        """Paper, room, sheet."""
        return self._chain.on

    @cached_property
    def steps(self) -> Steps:
        """What is done, as it acts on even areas."""
        return self._chain.steps

    @cached_property
    def _chain(self) -> Chain:
        plan = self.pipe.plan(Profile.from_bytes(self.profile))
        return Chain(self.profile, plan.on, pointwise(plan.steps, plan.on))

    def exactly(self, rgb: NDArray[np.floating]) -> Shown:
        """Each colour by itself, in floating point: slow, and what the tables are measured against.

        Parameters
        ----------
        rgb : (..., 3) ndarray
            Device values of the edit, 0..1.
        """
        chain, on = self._chain, self.on
        values = np.asarray(rgb, np.float32)
        edit = lab_from_device(values, self.profile, model="RGB").astype(np.float32)
        asked = chain.to_print(values)
        plain = printed(asked, on.paper)
        if not len(self.steps) and on.hand_over == "source":
            return Shown(edit, asked, plain, asked, plain)
        toned = before_gamut(self.steps)(asked, on)
        return Shown(edit, asked, plain, toned, self.after(chain.hand_over(self.steps(asked, on))))

    def __call__(self, rgb: NDArray[np.floating]) -> Shown:
        """Colours by the tables.

        Parameters
        ----------
        rgb : (..., 3) ndarray
            Device values of the edit, 0..1.
        """
        return Shown(*(self.only(f.name, rgb) for f in fields(Shown)))

    def only(self, name: str, rgb: NDArray[np.floating]) -> Lab:
        """One field of `Shown` by its table, (..., 3)."""
        values = np.array(rgb, np.float32, order="C")
        self._engines[name].apply_values(values.reshape(1, -1, 3))
        return (values - _SHIFT) / _SCALE

    def ready(self) -> None:
        """Build the tables now, so that threads find them."""
        self(np.zeros((1, 3), np.float32))

    def after(self, device: NDArray[np.floating]) -> Lab:
        """What prepared device values, as handed over, show on the print; (..., 3)."""
        if self.on.hand_over == "paper":
            return lab_from_device(device, self._chain.out_profile).astype(np.float32)
        return printed(self._chain.to_print(device), self.on.paper)

    @cached_property
    def _engines(self) -> dict[str, Engine]:
        curve = grey_curve(self.profile)
        axis = np.interp(np.linspace(0, 1, NODES), curve, np.linspace(0, 1, _CODES)).astype(np.float32)
        step = -(-NODES // 4)

        def slab(first: int) -> list[Lab]:
            shown = self.exactly(np.stack(np.meshgrid(axis[first : first + step], axis, axis, indexing="ij"), -1))
            return [getattr(shown, f.name) for f in fields(Shown)]

        self.on.gamut  # noqa: B018  one thread builds what all share
        with ThreadPoolExecutor(2) as pool:
            slabs = list(pool.map(slab, range(0, NODES, step)))
        shaper = curve.astype(np.float32)
        cubes = [np.concatenate(parts) * _SCALE + _SHIFT for parts in zip(*slabs, strict=True)]
        tables = (Table(shaper=shaper, cube=np.ascontiguousarray(cube, np.float32)) for cube in cubes)
        return {f.name: Engine(table) for f, table in zip(fields(Shown), tables, strict=True)}


@lru_cache(maxsize=8)
def simulation(profile: bytes, pipe: Pipeline) -> Simulation:
    """The simulation of a profile and a pipeline; kept, because several checks ask for it."""
    return Simulation(profile, pipe)
