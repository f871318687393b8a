"""What a print will show, prepared and not: the colours of an edit, through paper and conversion, as tables."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
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
from printprep.render.table import Table, grey_curve, on_nodes

_NODES = 41
"""Nodes a side of the tables. Colours are interpolated between them, to 0.03 CIEDE2000 on average."""

_computing = Lock()
"""Pictures that are judged together wait for one table."""

_CODES = 65536
_ROUNDING = np.float32(0.05)
"""Lab units by which a colour may lie outside by rounding alone, on its way through a profile and back."""


@dataclass(frozen=True)
class Shown:
    """The same colours at each point of the way, Lab D50, (..., 3) float32."""

    edit: Lab
    """As the edit has them, relative to its own white."""
    asked: Lab
    """Print-referred: compensated to the paper's black, what an unprepared print asks of the paper."""
    plain: Lab
    """What the unprepared print shows: relative colorimetric, black point compensation on."""
    toned: Lab
    """What the prepared print asks of the paper: after the steps of tone and room, before gamut-fit."""
    ready: Lab
    """What the prepared print shows; where no surroundings are known, of an even area."""


def printed(lab: Lab, paper: Paper) -> Lab:
    """What comes out on paper of print-referred colours, (..., 3), as far as its gamut tells.

    Colours that it holds stay; the others land on the nearest that it does, by dE*ab: what a relative colorimetric
    conversion means, where nothing better is known.
    """
    solid, out = paper.solid, np.array(lab, np.float32)
    middle, half = (solid.white_L + solid.floor_L) / 2, (solid.white_L - solid.floor_L) / 2
    L, (chroma, hue) = out[..., 0], polar(out)
    most = solid.max_chroma(L, np.degrees(hue))
    beyond = (chroma > most + _ROUNDING) | (np.abs(L - middle) > half + _ROUNDING)
    out[beyond] = solid.nearest(out[beyond])
    return out


@dataclass(frozen=True)
class Simulation:
    """Colours of edits in one profile, on one paper in one room; `does` as in `Plan`.

    Device values are 0..1, Lab is print-referred but of the edit itself, both of any shape (..., 3).
    """

    profile: bytes
    pipe: Pipeline
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
        """Each colour by itself, in floating point: slow, and what the tables are measured against."""
        shown = self.asks(rgb)
        if not len(self.steps) and self.on.hand_over == "source":
            return shown
        return replace(shown, ready=self.after(self._chain.hand_over(self.steps(shown.asked, self.on))))

    def asks(self, rgb: NDArray[np.floating]) -> Shown:
        """What is asked for, and what is shown where nothing is done: `exactly` but for what is prepared."""
        values = np.asarray(rgb, np.float32)
        edit = lab_from_device(values, self.profile).astype(np.float32)
        asked = self._chain.referred(edit)
        # what pointwise steps of colour, tone and room change is meant, not lost
        meant = Steps(tuple(s for s in self.steps if s.stage < Stage.GAMUT and not s.reach(self.on)))
        toned = meant(asked, self.on)
        plain = self._printed(values, asked)
        return Shown(edit, asked, plain, toned, plain)

    def picture(
        self, name: str, codes: NDArray[np.uint16], shown: Callable[[Lab], NDArray[np.floating]]
    ) -> NDArray[np.uint8]:
        """What is shown of an edit's codes as a picture, at the speed of a table.

        `name` is "edit", "plain" (its print left alone) or "placed" (prepared, where the field has exposed the codes
        already); `shown` makes screen values 0..1 of Lab, (n, 3), and is asked of the table's nodes only.
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
                _files.made(f"{key} {name} {stamp()}", lambda: (made(),))[0] if key else made()
            )
        return self._cubes[name]

    @cached_property
    def _cubes(self) -> dict[str, Lab]:
        return {}

    def _on_nodes(self, name: str) -> Lab:
        axis = np.interp(np.linspace(0, 1, _NODES), self._shaper, np.linspace(0, 1, _CODES)).astype(np.float32)
        chain, steps = self._chain, self.plan.tabled.steps

        def slab(rgb: NDArray[np.float32]) -> NDArray[np.floating]:
            if name == "edit":
                return lab_from_device(rgb, self.profile)
            asked = chain.to_print(rgb)
            return self._printed(rgb, asked) if name == "plain" else self.after(chain.hand_over(steps(asked, self.on)))

        self.on.gamut  # noqa: B018  one thread builds what all share
        return on_nodes(slab, axis, axis, axis).astype(np.float32)

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


def simulation(profile: bytes, pipe: Pipeline) -> Simulation:
    """The simulation of a profile and a pipeline; kept, because several checks ask for it.

    Steps that undo what the paper does are left out: with them it shows what is shown here.
    """
    pipe = replace(pipe, steps=Steps(tuple(s for s in pipe.steps if not s.undoes_paper)))
    return _simulation(profile, pipe, pipe.plan(Profile.from_bytes(profile)).does)


@lru_cache(maxsize=3)  # each takes some 40 MB, and who compares many papers needs one after another
def _simulation(profile: bytes, pipe: Pipeline, does: str) -> Simulation:
    return Simulation(profile, pipe, does)
