"""What a print will show, prepared and not: the colours of an edit, through paper and conversion, as tables."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields, replace
from functools import cache, cached_property, lru_cache
from pathlib import Path
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Lab, Stage, Steps
from printprep.colour.icc import device_from_device, lab_from_device
from printprep.colour.lab import polar
from printprep.colour.profile import Profile
from printprep.conditions.conditions import Conditions
from printprep.conditions.paper import Paper
from printprep.files import cache as _files
from printprep.photo.pixels import ArrayPixels
from printprep.photo.small import small
from printprep.pipe import Pipeline
from printprep.render.chain import Chain
from printprep.render.engine import Engine
from printprep.render.field import Field
from printprep.render.plan import Plan
from printprep.render.table import Table, grey_curve

NODES, FEWER_NODES = 41, 33
"""Nodes a side of the tables. Colours are interpolated between them, to 0.03 CIEDE2000 on average; for pictures on
a screen fewer do."""

_computing = Lock()
"""Pictures that are judged together wait for one set of tables."""

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
        What the prepared print shows where the colour fills its surroundings.
    placed : Lab
        What the prepared print shows of a picture's colours, given as its field has exposed them.
    """

    edit: Lab
    asked: Lab
    plain: Lab
    toned: Lab
    ready: Lab
    placed: Lab


def printed(lab: Lab, paper: Paper) -> Lab:
    """What comes out on paper of print-referred colours, as far as its gamut tells.

    Parameters
    ----------
    lab : (..., 3) ndarray of float32
        Media-relative Lab, already compensated to the paper's black.
    paper : Paper
        Colours that it holds stay; the others land on the nearest that it does, by dE*ab: what a relative
        colorimetric conversion means, where nothing better is known.

    Returns
    -------
    (..., 3) ndarray of float32
        Media-relative Lab.
    """
    solid, out = paper.solid, np.array(lab, np.float32)
    middle, half = (solid.white_L + solid.floor_L) / 2, (solid.white_L - solid.floor_L) / 2
    L, (chroma, hue) = out[..., 0], polar(out)
    most = solid.max_chroma(L, np.degrees(hue))
    beyond = (chroma > most + _ROUNDING) | (np.abs(L - middle) > half + _ROUNDING)
    out[beyond] = solid.nearest(out[beyond])
    return out


def before_gamut(steps: Steps, on: Conditions) -> Steps:
    """The pointwise steps of colour, tone and room: what they change is meant, not lost."""
    return Steps(tuple(s for s in steps if s.stage < Stage.GAMUT and not s.reach(on)))


@dataclass(frozen=True)
class Simulation:
    """Colours of edits in one profile, on one paper in one room.

    Parameters
    ----------
    profile : bytes
        ICC profile of the edit.
    pipe : Pipeline
        Paper, room and what is done.
    nodes : int
        Nodes a side of the tables.
    does : str
        As in `Plan`.
    """

    profile: bytes
    pipe: Pipeline
    nodes: int = NODES
    does: str = ""

    @cached_property
    def plan(self) -> Plan:
        """What runs when a file is prepared."""
        return self.pipe.plan(Profile.from_bytes(self.profile))

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
        return self.plan.flat.chain

    def exactly(self, rgb: NDArray[np.floating]) -> Shown:
        """Each colour by itself, in floating point: slow, and what the tables are measured against.

        Parameters
        ----------
        rgb : (..., 3) ndarray
            Device values of the edit, 0..1.
        """
        chain, on = self._chain, self.on
        shown = self.asks(rgb, exact=True)
        if not len(self.steps) and on.hand_over == "source":
            return shown
        ready = placed = self.after(chain.hand_over(self.steps(shown.asked, on)), exact=True)
        if self.plan.flat is not self.plan:
            placed = self.after(chain.hand_over(self.plan.steps(shown.asked, on)), exact=True)
        return replace(shown, ready=ready, placed=placed)

    def asks(self, rgb: NDArray[np.floating], *, exact: bool = False) -> Shown:
        """What is asked for, and what is shown where nothing is done: `exactly`, but for what preparation makes of it.

        Parameters
        ----------
        rgb : (..., 3) ndarray
            Device values of the edit, 0..1.
        exact : bool
            Whether what is shown is worked out colour by colour, and not looked up.
        """
        values = np.asarray(rgb, np.float32)
        edit = lab_from_device(values, self.profile).astype(np.float32)
        asked = self._chain.to_print(values)
        toned = before_gamut(self.steps, self.on)(asked, self.on)
        plain = self._printed(values, exact)
        return Shown(edit, asked, plain, toned, plain, plain)

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
        self._engine(name).apply_values(values.reshape(1, -1, 3))
        return (values - _SHIFT) / _SCALE

    def picture(
        self, name: str, codes: NDArray[np.uint16], shown: Callable[[Lab], NDArray[np.floating]]
    ) -> NDArray[np.uint8]:
        """A field of `Shown` as a picture, at the speed of a table.

        Parameters
        ----------
        name : str
            Of the field.
        codes : (rows, columns, 3) ndarray of uint16
            Pixels of the edit.
        shown : callable
            Screen values 0..1 of Lab, (n, 3); asked of the table's nodes only.

        Returns
        -------
        (rows, columns, 3) ndarray of uint8
        """
        import cv2

        cube = self.cubes[name]
        table = Table(shaper=self._shaper, cube=np.ascontiguousarray(shown(cube.reshape(-1, 3)).reshape(cube.shape)))
        out = np.array(codes, np.uint16, order="C")
        Engine(table).apply(out)
        return np.asarray(cv2.convertScaleAbs(out, alpha=1 / 257), np.uint8)  # rounds

    def handed(self, device: NDArray[np.floating]) -> Lab:
        """What prepared device values, as handed over, ask of the print; (..., 3)."""
        if self.on.hand_over == "paper":
            return lab_from_device(device, self._chain.out_profile).astype(np.float32)
        return self._chain.to_print(device)

    def after(self, device: NDArray[np.floating], *, exact: bool = False) -> Lab:
        """What prepared device values, as handed over, show on the print; (..., 3)."""
        if self.on.hand_over == "paper":
            return lab_from_device(device, self._chain.out_profile).astype(np.float32)
        return self._printed(device, exact)

    def _printed(self, device: NDArray[np.floating], exact: bool) -> Lab:
        """What device values of the edit's profile print as, by relative colorimetric with black compensation.

        Through a paper's own profile LittleCMS compensates too, as a print dialogue does: it keeps the
        tint of the paper's black, where `Chain.to_print` asks for neutral greys.
        """
        profile = self.on.paper.profile
        if profile is None and exact:
            return printed(self._chain.to_print(device), self.on.paper)
        if profile is None:
            values = np.array(device, np.float32, order="C")
            self._press.apply_values(values.reshape(1, -1, 3))
            return (values - _SHIFT) / _SCALE
        values = np.ascontiguousarray(device, np.float32)
        ink = device_from_device(values, self.profile, profile, black_compensation=True)
        return lab_from_device(np.clip(ink, 0, 1), profile).astype(np.float32)

    @cached_property
    def _press(self) -> Engine:
        """What device values print as, as a table that is kept: to search for nearest colours takes much longer."""
        paper, black = self.on.paper, self._chain.black
        profile = hashlib.blake2b(self.profile, digest_size=16).hexdigest()
        name = f"press {profile} {paper.fingerprint} {black!r} {self.nodes} {stamp()}"
        (cube,) = _files.made(name, lambda: (self._on_nodes(lambda rgb: [self._printed(rgb, exact=True)])[0],))
        return Engine(Table(shaper=self._shaper, cube=np.ascontiguousarray(cube * _SCALE + _SHIFT)))

    def around(self, rgb: NDArray[np.float32]) -> Lab:
        """What the prepared print shows of a picture read small, (rows, columns, 3), in view of surroundings."""
        codes = np.rint(rgb * np.float32(65535)).astype(np.uint16)
        return self.only("placed", self.field(codes).exposed(rgb))

    def field(self, codes: NDArray[np.uint16]) -> Field:
        """The field of a reduced copy."""
        pixels = ArrayPixels(codes)
        return self.plan.field(small(pixels), pixels.height, pixels.width)

    @property
    def cubes(self) -> dict[str, Lab]:
        """Each field of `Shown` at the tables' nodes, (n, n, n, 3): found among what is kept, or computed."""
        with _computing:
            return self._cubes

    @cached_property
    def _cubes(self) -> dict[str, Lab]:
        names = [f.name for f in fields(Shown)]
        key = self.plan.fingerprint
        key = key and f"{key[:40]}.shown{self.nodes}.{stamp()}"
        kept = _files.load(key)
        if kept is None or [k.shape for k in kept] != [(self.nodes,) * 3 + (3,)] * len(names):
            kept = self._computed()
            _files.keep(key, *kept)
        return dict(zip(names, kept, strict=True))

    def _computed(self) -> list[Lab]:
        def all_of(rgb: NDArray[np.float32]) -> list[Lab]:
            shown = self.exactly(rgb)
            return [getattr(shown, f.name) for f in fields(Shown)]

        return self._on_nodes(all_of)

    def _on_nodes(self, of: Callable[[NDArray[np.float32]], list[Lab]]) -> list[Lab]:
        """Functions of device values at the tables' nodes, (n, n, n, 3)."""
        axis = np.interp(np.linspace(0, 1, self.nodes), self._shaper, np.linspace(0, 1, _CODES)).astype(np.float32)
        step = -(-self.nodes // 4)

        def slab(first: int) -> list[Lab]:
            return of(np.stack(np.meshgrid(axis[first : first + step], axis, axis, indexing="ij"), -1))

        self.on.gamut  # noqa: B018  one thread builds what all share
        with ThreadPoolExecutor(2) as pool:
            slabs = list(pool.map(slab, range(0, self.nodes, step)))
        return [np.concatenate(parts).astype(np.float32) for parts in zip(*slabs, strict=True)]

    @cached_property
    def _shaper(self) -> NDArray[np.float32]:
        return greys(self.profile).astype(np.float32)

    @cached_property
    def _ready(self) -> dict[str, Engine]:
        return {}

    def _engine(self, name: str) -> Engine:
        if name not in self._ready:
            cube = np.ascontiguousarray(self.cubes[name] * _SCALE + _SHIFT)
            self._ready[name] = Engine(Table(shaper=self._shaper, cube=cube))
        return self._ready[name]


@cache
def stamp() -> str:
    """Changes when this module does, or the one that counts tones: what they make is kept between runs."""
    here = Path(__file__)
    code = here.read_bytes() + here.with_name("_tone.py").read_bytes()
    return hashlib.blake2b(code, digest_size=8).hexdigest()


@lru_cache(maxsize=8)
def greys(profile: bytes) -> NDArray[np.float64]:
    """`printprep.render.table.grey_curve`, kept: every look at a picture asks for it."""
    return grey_curve(profile)


def simulation(profile: bytes, pipe: Pipeline, nodes: int = NODES) -> Simulation:
    """The simulation of a profile and a pipeline; kept, because several checks ask for it.

    Steps that undo what the paper does are left out: with them it shows what is shown here.
    """
    pipe = replace(pipe, steps=Steps(tuple(s for s in pipe.steps if not s.undoes_paper)))
    return _simulation(profile, pipe, nodes, pipe.plan(Profile.from_bytes(profile)).does)


@lru_cache(maxsize=8)
def _simulation(profile: bytes, pipe: Pipeline, nodes: int, does: str) -> Simulation:
    return Simulation(profile, pipe, nodes, does)
