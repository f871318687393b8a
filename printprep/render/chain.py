"""The colour chain, exactly: source to print-referred Lab, steps, and one of two hand-overs."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from printprep.adjust._base import Steps
from printprep.colour.blackpoint import compensate, conversion_black, source_black, uncompensate
from printprep.colour.icc import device_from_lab, lab_from_device, model_of
from printprep.colour.lab import Lab
from printprep.conditions.conditions import Conditions, HandOver
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.sheet import Sheet
from printprep.errors import InputError, PrintprepError

if TYPE_CHECKING:
    from printprep.colour.solid import Solid

_SOLID_NODES = 17
"""Nodes a side of the cube whose surface bounds the source space; its faces are smooth, so few suffice."""

_ROUNDING = np.float32(1e-4)
"""a* and b* that greys have from rounding alone, which next to black is several codes where a profile is steep."""


_last: tuple[tuple[bytes, str, bytes, float], Lab] | None = None


@dataclass(frozen=True)
class Chain:
    """From device values of an edit, in its RGB profile, to those handed over, in floating point."""

    profile: bytes
    on: Conditions
    steps: Steps

    @cached_property
    def black(self) -> float:
        """L* of the source's black."""
        return source_black(self.profile)

    def to_print(self, rgb: NDArray[np.floating]) -> Lab:
        """Print-referred Lab of source values 0..1, (..., 3): media-relative, compensated to the paper's black."""
        return self.referred(lab_from_device(rgb, self.profile))

    def referred(self, lab: NDArray[np.floating]) -> Lab:
        """The same of the source's own media-relative Lab."""
        # roots of single precision differ between processors by more than steep gamuts forgive
        done: Lab = compensate(lab.astype(np.float64), self.black, self.on.black).astype(np.float32)
        chroma = done[..., 1:]
        none = np.abs(chroma) < _ROUNDING
        chroma[none[..., 0] & none[..., 1]] = 0  # quicker than to ask along so short an axis
        return done

    def small_to_print(self, codes: NDArray[np.float32]) -> Lab:
        """The same of a picture read small; the last is kept, for suiting the steps and every field ask for it anew."""
        import xxhash

        global _last
        digest = xxhash.xxh3_128_digest(codes.tobytes())
        key = (digest, f"{codes.dtype} {codes.shape}", self.profile, self.on.black)
        last = _last
        if last is None or last[0] != key:
            _last = last = key, self.to_print(codes)
        return last[1].copy()

    def hand_over(self, lab: Lab) -> NDArray[np.float32]:
        """Device values 0..1 of print-referred Lab, in the profile that is handed over."""
        lab = uncompensate(lab, self.black, self.on.black)
        if self.on.hand_over == "paper":  # compensated as the print dialogue's own conversion would
            lab = compensate(lab, conversion_black(self.profile), conversion_black(self.out_profile))
        device = device_from_lab(lab, self.out_profile)
        values: NDArray[np.float32] = np.clip(device, 0, 1).astype(np.float32, copy=False)
        return values

    @property
    def out_profile(self) -> bytes:
        """The profile of what is handed over."""
        if self.on.hand_over != "paper":  # greys of the edit's own profile become codes of a grey ramp when written
            return self.profile
        profile = self.on.paper.profile
        assert profile is not None  # conditions() saw to it
        return profile

    def __call__(self, rgb: NDArray[np.floating]) -> NDArray[np.float32]:
        """Source values 0..1 to handed-over values 0..1, (..., 3); a picture's own come exposed by its field."""
        return self.hand_over(self.steps(self.to_print(rgb), self.on))


def conditions(profile: bytes, paper: Paper, room: Room, sheet: Sheet, hand_over: HandOver) -> Conditions:
    """Conditions of a print of an edit in this profile; a `PrintprepError` where the paper lacks what it takes."""
    what = do = ""
    if hand_over == "paper" and paper.profile is None:
        what, do = "this paper has no ICC profile", "name one, or hand over source"
    elif hand_over == "paper" and paper.profile is not None and model_of(paper.profile) != "RGB":
        what, do = "the paper's profile is not RGB", "hand over source instead"
    elif hand_over == "grey" and paper.grey_ramp is None:
        what, do = "this paper has no grey ramp", "add one to its preset, or hand over source"
    if what:
        raise PrintprepError(what, where=f"hand-over {hand_over}", do=do)
    return Conditions(paper, room, sheet, _source_solid(profile, paper.neutral_black), hand_over)


@lru_cache(maxsize=16)
def _source_solid(profile: bytes, black: float) -> Solid:
    """What the source space holds, print-referred, compensated to a paper's black."""
    from printprep.colour.solid import kept

    name = hashlib.blake2b(profile, digest_size=16).hexdigest()
    return kept(f"source {name} {black!r}", lambda: _made_solid(profile, black))


def _made_solid(profile: bytes, black: float) -> Solid:
    from printprep.colour.solid import Solid

    grid = np.linspace(0, 1, _SOLID_NODES)
    cube = np.stack(np.meshgrid(grid, grid, grid, indexing="ij"), -1)
    try:
        return Solid.from_cube(compensate(lab_from_device(cube, profile), source_black(profile), black))
    except ValueError as error:  # whites beyond white and the like
        raise InputError("the edit's profile is damaged: it holds no plausible colours", do="embed it again") from error
