"""The light of a print in its room, for a screen: tint, black, pane, what less light leaves."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from printprep.colour.lab import D50, Lab, xyz_from_lab
from printprep.colour.visibility import jnd_index
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.viewing import hung

Pixels = NDArray[np.float32]

def light_from(lab: Lab, paper: Paper, room: Room, *, glazing: bool) -> Pixels:
    """Light from a print as a share of the screen's white.

    Parameters
    ----------
    lab : (..., 3) ndarray of float32
        Print-referred (media-relative) Lab.
    paper : Paper
        Its white tints and dims everything.
    room : Room
        Its pane, where asked for; canvas hangs without one.
    glazing : bool
        Whether the pane in front of the print is there: it takes light away and lays a veil over blacks.

    Returns
    -------
    (..., 3) ndarray of float32
        XYZ under D50, Y of the screen's white = 1.
    """
    assert paper.white is not None
    room = hung(paper, room)
    tint = xyz_from_lab(np.array(paper.white)) / np.array(D50)
    xyz = xyz_from_lab(lab.astype(np.float32, copy=False)) * tint.astype(np.float32)
    if glazing:
        xyz = xyz * np.float32(room.transmittance) + np.float32(room.veil) * np.asarray(D50, np.float32)
    return np.asarray(xyz, np.float32)


def as_in_reference_light(xyz: Pixels, paper: Paper, room: Room) -> Pixels:
    """Light that shows in the viewing of the edit the share of visible steps that a print shows in its room.

    Parameters
    ----------
    xyz : (..., 3) ndarray of float32
        Light from the print in its room, a perfect white in the same light = 1: `light_from`, with its pane.
    paper : Paper
        Its white is the top of both counts.
    room : Room
        Its light, and the viewing that the edit was made for.

    Returns
    -------
    (..., 3) ndarray of float32
        XYZ under D50, a perfect white in the reference light = 1; chromaticities as they were.

    Notes
    -----
    Just-noticeable differences are counted from no light at all (DICOM PS3.14, clause 7.1). A tone that has some
    share of those up to paper white in the room is given the luminance that has the same share of those up to
    paper white in the reference light, without a pane. No standard describes an eye that is only partly used to
    dim light: this is the view of the model that the tones are prepared by, not a photograph.
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
