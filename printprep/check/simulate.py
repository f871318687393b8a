"""What a print will show, prepared and not: the colours of an edit, through paper and conversion, as tables."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cache, cached_property, lru_cache, partial
from pathlib import Path
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Stage, Steps
from printprep.colour.icc import device_from_device, lab_from_device
from printprep.colour.lab import Lab, polar
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

NODES = 41
"""Nodes a side of the tables. Colours are interpolated between them, to 0.03 CIEDE2000 on average."""

_computing = Lock()
"""Pictures that are judged together wait for one table."""

_CODES = 65536
_ROUNDING = np.float32(0.05)
"""Lab units by which a colour may lie outside by rounding alone, on its way through a profile and back."""


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
        What the prepared print shows; where no surroundings are known, of an even area.
    """

    edit: Lab
    asked: Lab
    plain: Lab
    toned: Lab
    ready: Lab


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
        shown = self.asks(rgb)
        if not len(self.steps) and on.hand_over == "source":
            return shown
        return replace(shown, ready=self.after(chain.hand_over(self.steps(shown.asked, on))))

    def asks(self, rgb: NDArray[np.floating]) -> Shown:
        """What is asked for, and what is shown where nothing is done: `exactly`, but for what preparation makes of it.

        Parameters
        ----------
        rgb : (..., 3) ndarray
            Device values of the edit, 0..1.
        """
        values = np.asarray(rgb, np.float32)
        edit = lab_from_device(values, self.profile).astype(np.float32)
        asked = self._chain.referred(edit)
        toned = before_gamut(self.steps, self.on)(asked, self.on)
        plain = self._printed(values, asked)
        return Shown(edit, asked, plain, toned, plain)

    def picture(
        self, name: str, codes: NDArray[np.uint16], shown: Callable[[Lab], NDArray[np.floating]]
    ) -> NDArray[np.uint8]:
        """What is shown as a picture, at the speed of a table.

        Parameters
        ----------
        name : {"edit", "plain", "placed"}
            The edit, its print left alone, or prepared where the field has exposed the pixels already.
        codes : (rows, columns, 3) ndarray of uint16
            Pixels of the edit.
        shown : callable
            Screen values 0..1 of Lab, (n, 3); asked of the table's nodes only.

        Returns
        -------
        (rows, columns, 3) ndarray of uint8
        """
        import cv2

        with _computing:
            cube = self._cube(name)
        table = Table(shaper=self._shaper, cube=np.ascontiguousarray(shown(cube.reshape(-1, 3)).reshape(cube.shape)))
        out = np.array(codes, np.uint16, order="C")
        Engine(table).apply(out)
        return np.asarray(cv2.convertScaleAbs(out, alpha=1 / 257), np.uint8)  # rounds

    def handed(self, device: NDArray[np.floating]) -> Lab:
        """What prepared device values, as handed over, ask of the print; (..., 3)."""
        if self.on.hand_over == "paper":
            return lab_from_device(device, self._chain.out_profile).astype(np.float32)
        return self._chain.to_print(device)

    def after(self, device: NDArray[np.floating], handed: Lab | None = None) -> Lab:
        """What prepared device values, as handed over, show on the print; (..., 3). `handed` is what they ask of it."""
        if handed is None:
            handed = self.handed(device)
        return handed if self.on.hand_over == "paper" else self._printed(device, handed)

    def _printed(self, device: NDArray[np.floating], asked: Lab) -> Lab:
        """What device values of the edit's profile print as, by relative colorimetric with black compensation.

        Through a paper's own profile LittleCMS compensates too, as a print dialogue does: it keeps the
        tint of the paper's black, where `Chain.to_print`, which made `asked` of them, has neutral greys.
        """
        profile = self.on.paper.profile
        if profile is None:
            return printed(asked, self.on.paper)
        values = np.ascontiguousarray(device, np.float32)
        ink = device_from_device(values, self.profile, profile, black_compensation=True)
        return lab_from_device(np.clip(ink, 0, 1), profile).astype(np.float32)

    def field(self, codes: NDArray[np.uint16]) -> Field:
        """The field of a reduced copy."""
        pixels = ArrayPixels(codes)
        return self.plan.field(small(pixels), pixels.height, pixels.width)

    def _cube(self, name: str) -> Lab:
        """What is shown at the nodes, (n, n, n, 3); kept between runs."""
        if name == "placed" and not len(self.plan.steps) and self.on.hand_over == "source":
            name = "plain"
        if name not in self._cubes:
            key, made = self.plan.fingerprint, partial(self._on_nodes, name)
            self._cubes[name] = (
                _files.made(f"{key} {name} {self.nodes} {stamp()}", lambda: (made(),))[0] if key else made()
            )
        return self._cubes[name]

    @cached_property
    def _cubes(self) -> dict[str, Lab]:
        return {}

    def _on_nodes(self, name: str) -> Lab:
        axis = np.interp(np.linspace(0, 1, self.nodes), self._shaper, np.linspace(0, 1, _CODES)).astype(np.float32)
        step = -(-self.nodes // 4)
        chain, steps = self._chain, self.plan.tabled.steps

        def slab(first: int) -> NDArray[np.floating]:
            rgb = np.stack(np.meshgrid(axis[first : first + step], axis, axis, indexing="ij"), -1)
            if name == "edit":
                return lab_from_device(rgb, self.profile)
            asked = chain.to_print(rgb)
            return self._printed(rgb, asked) if name == "plain" else self.after(chain.hand_over(steps(asked, self.on)))

        self.on.gamut  # noqa: B018  one thread builds what all share
        with ThreadPoolExecutor(2) as pool:
            return np.concatenate(list(pool.map(slab, range(0, self.nodes, step)))).astype(np.float32)

    @cached_property
    def _shaper(self) -> NDArray[np.float32]:
        return greys(self.profile)


@cache
def stamp() -> str:
    """Changes when this module does, or the one that counts tones: what they make is kept between runs."""
    here = Path(__file__)
    code = here.read_bytes() + here.with_name("_tone.py").read_bytes()
    return hashlib.blake2b(code, digest_size=8).hexdigest()


@lru_cache(maxsize=8)
def greys(profile: bytes) -> NDArray[np.float32]:
    """`printprep.render.table.grey_curve`, kept: every look at a picture asks for it."""
    name = hashlib.blake2b(profile, digest_size=16).hexdigest()
    (curve,) = _files.made(f"greys {name}", lambda: (grey_curve(profile).astype(np.float32),))
    return np.asarray(curve, np.float32)


def simulation(profile: bytes, pipe: Pipeline, nodes: int = NODES) -> Simulation:
    """The simulation of a profile and a pipeline; kept, because several checks ask for it.

    Steps that undo what the paper does are left out: with them it shows what is shown here.
    """
    pipe = replace(pipe, steps=Steps(tuple(s for s in pipe.steps if not s.undoes_paper)))
    return _simulation(profile, pipe, nodes, pipe.plan(Profile.from_bytes(profile)).does)


@lru_cache(maxsize=3)  # each takes some 40 MB, and who compares many papers needs one after another
def _simulation(profile: bytes, pipe: Pipeline, nodes: int, does: str) -> Simulation:
    return Simulation(profile, pipe, nodes, does)
