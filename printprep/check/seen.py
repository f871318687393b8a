"""What the eye gets of a print in its room, and how a screen shows it: tint, black, pane, what less light leaves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.check.simulate import Simulation
from printprep.colour.icc import device_from_lab
from printprep.colour.lab import D50, Lab, lab_from_xyz, xyz_from_lab
from printprep.colour.profile import Profile
from printprep.colour.visibility import jnd_index
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.viewing import hung

_Light = NDArray[np.float32]
"""XYZ under D50, (..., 3), Y of white = 1: the screen's, or a perfect white in the light that is meant."""

_SRGB_FROM_XYZ_D50 = np.array(  # IEC 61966-2-1 primaries, D65 to D50 by Bradford; test: colour-science
    [
        [3.1341864, -1.6172090, -0.4906941],
        [-0.9787485, 1.9161301, 0.0334334],
        [0.0719639, -0.2289939, 1.4057537],
    ]
)


@dataclass(frozen=True)
class OnScreen:
    """How a screen shows an edit and its prints, as 8-bit values of small copies.

    `light` shows what the room's light leaves to be seen (`as_in_reference_light`), its pane included; `glazing` the
    pane alone. `screen` is sRGB and `room` that of the pipeline, where not given.
    """

    sim: Simulation
    light: bool = False
    glazing: bool = True
    screen: Profile | None = None
    room: Room | None = None

    def edit(self, codes: NDArray[np.uint16]) -> NDArray[np.uint8]:
        """The edit itself, its white the screen's white."""
        return self.sim.picture("edit", codes, lambda lab: self._on_screen(xyz_from_lab(lab).astype(np.float32)))

    def left_alone(self, codes: NDArray[np.uint16]) -> NDArray[np.uint8]:
        """Its print as it is."""
        return self.sim.picture("plain", codes, self._of_print)

    def prepared(self, codes: NDArray[np.uint16], *, exposed: bool = False) -> NDArray[np.uint8]:
        """Its prepared print; `exposed` where the field has exposed these codes already."""
        if not exposed:
            field, codes = self.sim.field(codes), np.array(codes, order="C")
            field.expose(codes)
        return self.sim.picture("placed", codes, self._of_print)

    @property
    def bare_sheet(self) -> NDArray[np.uint8]:
        """The bare sheet beside a print; (3,)."""
        return np.asarray(np.rint(self._of_print(np.array([[100, 0, 0]], np.float32))[0] * 255), np.uint8)

    def _of_print(self, lab: Lab) -> NDArray[np.float32]:
        paper, room = self.sim.on.paper, self.room or self.sim.pipe.room
        xyz = light_from(lab, paper, room, glazing=self.glazing or self.light)
        return self._on_screen(as_in_reference_light(xyz, paper, room) if self.light else xyz)

    def _on_screen(self, xyz: _Light) -> NDArray[np.float32]:
        if self.screen is None:
            return srgb(xyz)
        return np.asarray(np.clip(device_from_lab(lab_from_xyz(xyz), self.screen.data), 0, 1), np.float32)


def light_from(lab: Lab, paper: Paper, room: Room, *, glazing: bool) -> _Light:
    """Light from a print of media-relative Lab: paper white tints and dims everything.

    With `glazing` the pane in front, where the room has one, takes light away and lays a veil over blacks; canvas hangs
    without.
    """
    assert paper.white is not None
    room = hung(paper, room)
    tint = xyz_from_lab(np.array(paper.white)) / np.array(D50)
    xyz = xyz_from_lab(lab.astype(np.float32, copy=False)) * tint.astype(np.float32)
    if glazing:
        xyz = xyz * np.float32(room.transmittance) + np.float32(room.veil) * np.asarray(D50, np.float32)
    return np.asarray(xyz, np.float32)


def as_in_reference_light(xyz: _Light, paper: Paper, room: Room) -> _Light:
    """Light that shows in the viewing of the edit the share of visible steps that a print shows in its room.

    `xyz` is the light from the print, its pane included (`light_from`); chromaticities stay. Just-noticeable
    differences are counted from no light at all (DICOM PS3.14, clause 7.1). A tone that has some share of those up to
    paper white in the room is given the luminance that has the same share of those up to paper white in the reference
    light, without a pane. No standard describes an eye that is only partly used to dim light: this is the view of the
    model that the tones are prepared by, not a photograph.
    """
    here = hung(paper, room)
    rho = paper.white_reflectance
    light = here.prepared_lux / np.pi
    reference = here.reference.white_luminance(rho) / rho
    levels = np.linspace(0, 1, 1025) ** 3

    def counted(Y: NDArray[np.floating], of: float) -> NDArray[np.float64]:
        return np.asarray(jnd_index(of * Y) - jnd_index(0.0), np.float64)

    white = light * (here.transmittance * rho + here.veil)
    Y = np.maximum(xyz[..., 1].astype(np.float64), 1e-6)
    share = counted(Y, light) / float(jnd_index(white) - jnd_index(0.0))
    top = counted(np.array(rho), reference)
    shown = np.interp(share * top, counted(levels, reference), levels)
    return np.asarray(xyz * (shown / Y)[..., None], np.float32)


def srgb(xyz: _Light) -> NDArray[np.float32]:
    """Encoded sRGB (IEC 61966-2-1), 0..1.

    Colours outside are drawn towards the grey of the same luminance until they fit, so that texture in them stays.
    """
    linear = xyz @ _SRGB_FROM_XYZ_D50.T.astype(np.float32)
    grey = np.clip(xyz[..., 1:2], 0, 1)
    away = linear - grey
    most = np.where(away > 0, (1 - grey) / np.maximum(away, 1e-9), grey / np.maximum(-away, 1e-9))
    fit = np.minimum(1.0, most.min(axis=-1, keepdims=True))
    linear = np.clip(grey + fit * away, 0, 1)
    curved = 1.055 * linear ** np.float32(1 / 2.4) - 0.055
    return np.asarray(np.where(linear <= 0.0031308, 12.92 * linear, curved), np.float32)
