"""A printer with one paper, in numbers: what device values print as, and which values a colour is asked with.

The fault pictures need a whole chain, and a paper known by eight patches has no device values. So a
model stands in: full inks mixed by Neugebauer's equations with Yule and Nielsen's factor, greys
balanced as a driver's calibration leaves them. Where the paper has an RGB profile, that is used.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from printprep.colour.blackpoint import compensate
from printprep.colour.icc import device_from_lab, lab_from_device, model_of
from printprep.colour.lab import Array, absolute, media_relative, polar
from printprep.colour.neugebauer import cube, mix
from printprep.colour.profile import Profile
from printprep.colour.solid import Solid
from printprep.conditions.paper import Paper
from printprep.errors import InputError

Wanted = Literal["relative", "perceptual"]

_UNEVEN = (1.0, 1.02, 0.98)
"""Exponents on red, green and blue: no uncalibrated printer is neutral. Ours; about 2 dE in mid-tones."""

_INKS = {"cyan": (1, 0, 0), "magenta": (0, 1, 0), "yellow": (0, 0, 1),
         "red": (0, 1, 1), "green": (1, 0, 1), "blue": (1, 1, 0)}  # fmt: skip
"""Which of cyan, magenta and yellow each solid has."""

_KNEE = 0.6
"""Share of the way to the gamut's edge that our perceptual table leaves alone (our choice)."""

_AT_ONCE = 2048
"""Colours that are looked for together."""


@dataclass(frozen=True)
class ProfilePrinter:
    """A printer as its RGB profile describes it, and L* of its darkest neutral."""

    profile: bytes
    black: float

    def lab(self, device: ArrayLike, *, ink: float = 1.0) -> Array:
        """Colours that device values print as; more ink moves values towards black."""
        values = 1 - np.clip((1 - np.asarray(device, np.float64)) * ink, 0, 1)
        return np.asarray(lab_from_device(values, self.profile), np.float64)

    def ask(self, lab: ArrayLike, wanted: Wanted = "relative") -> Array:
        """Device values from the profile's own tables."""
        colours = np.asarray(lab, np.float64)
        return np.clip(np.asarray(device_from_lab(colours, self.profile, intent=wanted), np.float64), 0, 1)


@dataclass(frozen=True)
class ModelPrinter:
    """Cyan, magenta and yellow on a paper, driven by RGB."""

    paper: Paper

    @property
    def black(self) -> float:
        """L* of the darkest neutral."""
        return self.paper.neutral_black

    def lab(self, device: ArrayLike, *, ink: float = 1.0) -> Array:
        """Colours that device values print as."""
        even = np.clip(np.asarray(device, np.float64), 0, 1) ** _UNEVEN
        at, shares = self._balance
        dots = np.stack([np.interp(even[..., i], at, shares[:, i]) for i in range(3)], -1)
        return self._mixed(np.clip(dots * ink, 0, 1))

    def ask(self, lab: ArrayLike, wanted: Wanted = "relative") -> Array:
        """Device values of the nearest printable colour (dE*ab), or of the perceptual table's answer."""
        colours = np.asarray(lab, np.float64)
        flat = colours.reshape(-1, 3)
        if wanted == "perceptual":
            flat = self._squeezed(flat)
        unique, back = np.unique(flat.round(3), axis=0, return_inverse=True)
        at, shares = self._balance
        dots = self._nearest_dots(unique)
        even = np.stack([np.interp(dots[:, i], shares[::-1, i], at[::-1]) for i in range(3)], -1)
        return (even ** (1 / np.array(_UNEVEN)))[back.ravel()].reshape(colours.shape)

    # --- inks -------------------------------------------------------------------------------

    @cached_property
    def _corners(self) -> Array:
        """Lab of the eight overprints, index 0 of each axis being full cyan, magenta, yellow."""
        corners = np.empty((2, 2, 2, 3))
        corners[1, 1, 1] = 100.0, 0.0, 0.0
        corners[0, 0, 0] = self.black, 0.0, 0.0
        for name, solid in _solids(self.paper).items():
            cyan, magenta, yellow = _INKS[name]
            corners[1 - cyan, 1 - magenta, 1 - yellow] = media_relative(np.array(solid), np.array(self.paper.white))
        return corners

    def _mixed(self, dots: Array) -> Array:
        return mix(self._corners, 1 - dots)

    @cached_property
    def _balance(self) -> tuple[Array, Array]:
        """Device value 0..1 and the dot areas that print it as a neutral, L* even between the ends."""
        at = np.linspace(0, 1, 65)
        grey = np.zeros((65, 3))
        grey[:, 0] = self.black + (100 - self.black) * at
        dots = self._nearest_dots(grey)
        dots[0], dots[-1] = 1.0, 0.0
        return at, np.minimum.accumulate(dots, axis=0)

    # --- asking -----------------------------------------------------------------------------

    def _nearest_dots(self, lab: Array) -> Array:
        """Dot areas whose colour is nearest by dE*ab: Levenberg and Marquardt's method inside the cube."""
        grid, known = self._grid
        dots = np.empty_like(lab)
        for start in range(0, len(lab), _AT_ONCE):
            far = np.square(known).sum(-1) - 2 * lab[start : start + _AT_ONCE] @ known.T
            dots[start : start + _AT_ONCE] = grid[far.argmin(1)]
        damping = np.full(len(lab), 0.01)
        todo = np.arange(len(lab))
        for _ in range(30):
            if not len(todo):
                break
            here, want = dots[todo], lab[todo]
            slope, got = self._slope(here)
            miss = want - got
            down = np.einsum("nij,ni->nj", slope, miss)
            free = ~(((here <= 0) & (down < 0)) | ((here >= 1) & (down > 0)))
            normal = np.einsum("pij,pik->pjk", slope, slope)
            normal += damping[todo, None, None] * (np.einsum("njj->nj", normal) + 1.0)[:, :, None] * np.eye(3)
            normal = np.where(free[:, :, None] & free[:, None, :], normal, np.eye(3))
            step = np.linalg.solve(normal, (down * free)[..., None])[..., 0]
            moved = np.clip(here + step, 0, 1)
            better = ((want - self._mixed(moved)) ** 2).sum(-1) < (miss**2).sum(-1)
            dots[todo[better]] = moved[better]
            damping[todo] *= np.where(better, 0.2, 8.0)
            settled = (np.abs(moved - here).max(-1) < 1e-5) | (damping[todo] > 1e6)
            todo = todo[~settled]
        return dots

    @cached_property
    def _grid(self) -> tuple[Array, Array]:
        """Dot areas to begin from, and their colours: few enough to be all looked at, sooner than SciPy is loaded."""
        steps = np.linspace(0, 1, 11)
        grid = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), -1).reshape(-1, 3)
        return grid, self._mixed(grid)

    def _slope(self, dots: Array) -> tuple[Array, Array]:
        """Change of Lab with each dot area, (n, 3, 3), and Lab itself."""
        got = self._mixed(dots)
        slope = np.empty((len(dots), 3, 3))
        for i in range(3):
            other = dots.copy()
            step = np.where(dots[:, i] > 0.5, -1e-4, 1e-4)
            other[:, i] += step
            slope[:, :, i] = (self._mixed(other) - got) / step[:, None]
        return slope, got

    @cached_property
    def _reach(self) -> tuple[Solid, Solid]:
        """What this printer holds, and what its perceptual table expects: opRGB, black on black."""
        steps = np.linspace(0, 1, 17)
        device = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), -1)
        asked = compensate(lab_from_device(device, Profile.named("opRGB").data), 0, self.black)
        return Solid.from_cube(cube(self._corners)), Solid.from_cube(asked)

    def _squeezed(self, lab: Array) -> Array:
        """A perceptual table: straight towards the grey of the cusp's lightness, more the further out.

        A knee as in CIE 156:2004's SGCK, but with a larger share of the gamut given to what is
        outside, as makers' tables do.
        """
        own, source = self._reach
        chroma, turn = polar(lab)
        hue = np.degrees(turn)
        centre = np.zeros((len(lab), 3))
        centre[:, 0] = own.cusp(hue)[0]
        ray = lab - centre
        edge, start = _exit(own, centre, ray), _exit(source, centre, ray)
        start = np.maximum(start, edge * 1.0001)
        knee = _KNEE * edge
        far = np.clip((np.minimum(1, start) - knee) / (start - knee), 0, 1)
        scale = np.where(knee >= 1, 1.0, knee + far * (edge - knee))
        scale = np.where(chroma < 1e-3, 1.0, scale)
        return np.asarray(centre + scale[:, None] * ray, np.float64)


def _exit(solid: Solid, centre: Array, ray: Array) -> Array:
    """How many times a ray fits inside a solid, by halving."""
    low, high = np.zeros(len(ray)), np.full(len(ray), 100.0)
    for _ in range(30):
        middle = (low + high) / 2
        inside = solid.contains(centre + middle[:, None] * ray)
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    return low


def _solids(paper: Paper) -> Mapping[str, ArrayLike]:
    """Absolute Lab of the six solids, however the paper is known."""
    if paper.solids is not None:
        return paper.solids
    inks = np.array(list(_INKS.values()), np.float64)
    if paper.measured is not None and paper.measured.channels != "GRAY":
        device = paper.measured.device
        wanted = 1 - inks if paper.measured.channels == "RGB" else inks
        wanted = np.pad(wanted, ((0, 0), (0, device.shape[1] - 3)))
        rows = [int(np.abs(device - one).sum(1).argmin()) for one in wanted]
        return dict(zip(_INKS, paper.measured.lab[rows], strict=True))
    if paper.profile is not None and model_of(paper.profile) == "CMYK":
        relative = lab_from_device(np.pad(inks, ((0, 0), (0, 1))), paper.profile)
        return dict(zip(_INKS, absolute(relative, np.array(paper.white)), strict=True))
    raise InputError("a grey paper has no colours to show faults with", do="give a paper with colour solids")


Printer = ProfilePrinter | ModelPrinter


def printer_for(paper: Paper) -> Printer:
    """The printer that a paper is in: its RGB profile where it has one, otherwise the model."""
    if paper.profile is not None and model_of(paper.profile) == "RGB":
        return ProfilePrinter(paper.profile, paper.neutral_black)
    return ModelPrinter(paper)
