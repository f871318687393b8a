"""From a measured chart or an ICC profile to the gamut solid, and the ends of the paper."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, product

import numpy as np

from printprep.colour._boundary import cube_triangles, grid_triangles
from printprep.colour.blackpoint import destination_black
from printprep.colour.icc import device_from_lab, lab_from_device, model_of, tags
from printprep.colour.lab import Array, Floats, absolute, lab_from_xyz, media_relative
from printprep.colour.profile import Profile
from printprep.colour.solid import HUES, LEVELS, Solid
from printprep.conditions.measurement import Measurement
from printprep.errors import InputError

_STEPS = 25
"""Nodes along each edge of a face of the device cube."""


def chart_solid(measured: Measurement) -> Solid:
    """The solid of a chart, in media-relative Lab.

    Every colour on the boundary of what inks can mix has all but two of them at none or full: it
    lies on a two-dimensional face of the device cube. So the patches of each face are joined to
    triangles as neighbours in ink (Delaunay), and along every ray the outermost sheet counts. No
    convex hull is taken, so hollows stay hollow. A patch that still lies outside, on a ridge between
    two rays or by the will of a printer's driver, pulls the boundary out to itself.
    """
    lab = np.asarray(media_relative(measured.lab, measured.white), np.float64)
    if measured.channels == "GRAY":
        return grey(lab)
    return Solid.from_triangles(triangles(measured.device, lab)).including(lab)


def grey(lab: Array, black_L: float | None = None) -> Solid:
    """The solid of a grey scale: the neutral axis between its ends, and no chroma."""
    low = float(lab[:, 0].min()) if black_L is None else black_L
    return Solid(np.zeros((LEVELS, HUES), np.float32), low, 100.0)


def triangles(device: Array, lab: Array) -> Floats:
    """Triangles in Lab of all two-dimensional faces of the device cube, (m, 3, 3)."""
    from scipy.spatial import Delaunay, QhullError

    found = []
    for pair, others, ends in _sides(device.shape[1]):
        on = (device[:, others] == ends).all(axis=1)
        if on.sum() < 3:
            continue
        try:
            mesh = Delaunay(device[on][:, pair])
        except QhullError:
            continue  # patches in one line span no face
        found.append(lab[on][mesh.simplices])
    return np.concatenate(found)


def _sides(channels: int) -> Iterator[tuple[list[int], list[int], tuple[float, ...]]]:
    """The two-dimensional faces of a device cube: which two inks vary on each, which others stand, and at what."""
    for pair in combinations(range(channels), 2):
        others = [k for k in range(channels) if k not in pair]
        for ends in product((0.0, 1.0), repeat=len(others)):
            yield list(pair), others, ends


def profile_solid(profile: bytes) -> Solid:
    """What a profile's device holds, in media-relative Lab, down to the black that conversions use."""
    model = model_of(profile)
    black = min(destination_black(profile), 50.0)
    if model == "GRAY":
        return grey(_lab(np.linspace(0, 1, 65)[:, None], profile), black)
    if model == "RGB":
        step = np.linspace(0, 1, _STEPS)
        device = np.stack(np.meshgrid(step, step, step, indexing="ij"), axis=-1)
        triangles = cube_triangles(_lab(device, profile))
    else:
        triangles = np.concatenate([grid_triangles(_lab(f, profile)) for f in _faces(ink_limit(profile))])
    return Solid.from_triangles(triangles, black_L=black)


_TABLES = {b"A2B0", b"A2B1", b"A2B2"}
_OWN = "name the paper maker's own output profile"
_INSIST = f"{_OWN}, or insist with any_profile = true beside it in a preset"


def refuse_no_paper(profile: Profile, *, any_kind: bool = False) -> None:
    """Refuse a profile that is no paper's: an input profile always.

    Unless the user insists by `any_kind`, also one of a display, a working space or greys alone, or without tables,
    which output profiles of colours have (ISO 15076-1, 8.5).
    """
    kind = profile.device_class
    if kind == "input":
        what, do = "a camera's or scanner's profile, which nothing prints by", _OWN
    elif any_kind:
        return
    elif kind != "output":
        what, do = f"a {kind} profile, not a paper's: of a screen or a working space", _INSIST
    elif profile.model == "GRAY":
        what, do = "a profile for greys alone, by which no colour prints", _INSIST
    elif not tags(profile.data).keys() & _TABLES:
        what, do = "a profile without tables, as screens and working spaces have, not a paper's", _INSIST
    else:
        return
    raise InputError(f"is {what} ({profile.description})", do=do)


def described(profile: bytes) -> str:
    """What a profile's gamut is taken from, in a few words."""
    model = model_of(profile)
    if model == "CMYK":
        return f"own tables, CMYK, at most {100 * ink_limit(profile):.0f} % of ink"
    tables = bool(tags(profile).keys() & _TABLES)
    return f"own {'tables' if tables else 'matrix or curves'}, {model}"


def ends(profile: bytes) -> tuple[Array, Array]:
    """Absolute Lab of bare paper and of the darkest colour that conversions reach."""
    model = model_of(profile)
    white = media_white(profile)
    if model == "CMYK":
        device = np.concatenate([f.reshape(-1, 4) for f in _faces(ink_limit(profile), 5)])
    else:
        step = np.linspace(0, 1, 5)
        device = np.stack(np.meshgrid(*[step] * (3 if model == "RGB" else 1), indexing="ij"), axis=-1)
    lab = _lab(device, profile).reshape(-1, 3)
    return white, np.asarray(absolute(lab[lab[:, 0].argmin()], white), np.float64)


def ink_limit(profile: bytes) -> float:
    """Largest sum of inks that the profile's own B2A table asks for, 1 a full ink.

    A CMYK profile's A2B answers for every mix, also for those never printed. What is printed comes out of B2A, so
    colours all over Lab, far outside the gamut too, are sent through it.
    """
    across = np.linspace(-120, 120, 17)
    lab = np.stack(np.meshgrid(np.linspace(0, 100, 21), across, across, indexing="ij"), axis=-1)
    try:
        device = device_from_lab(lab, profile)
    except InputError:
        return 4.0  # no way back in the profile: nothing limits it
    return float(np.clip(device, 0, 1).sum(axis=-1).max())


def media_white(profile: bytes) -> Array:
    """Absolute Lab of the paper: the media white point tag (ICC.1, wtpt), D50 where there is none."""
    if profile[12:16] != b"prtr":  # of a screen, the tag states the screen's own white
        return np.array([100.0, 0.0, 0.0])
    xyz = np.frombuffer(tags(profile).get(b"wtpt", b"")[8:20], ">i4").astype(np.float64) / 65536
    if len(xyz) == 3 and xyz[1] > 0.1:
        white = lab_from_xyz(xyz)
        white[0] = min(white[0], 100.0)
        return np.asarray(white)
    return np.array([100.0, 0.0, 0.0])


def _lab(device: Array, profile: bytes) -> Array:
    return np.asarray(lab_from_device(device, profile), np.float64)


def _faces(limit: float, steps: int = _STEPS) -> list[Array]:
    """The 24 two-dimensional faces of the ink cube, inks over the limit taken back (black last)."""
    step = np.linspace(0, 1, steps)
    one, two = np.meshgrid(step, step, indexing="ij")
    faces = []
    for pair, others, ends in _sides(4):
        face = np.empty((steps, steps, 4))
        face[..., pair[0]], face[..., pair[1]] = one, two
        face[..., others] = ends
        colour, black = face[..., :3].sum(axis=-1), face[..., 3]
        face[..., :3] *= np.minimum(1, np.maximum(limit - black, 0) / np.maximum(colour, 1e-9))[..., None]
        faces.append(face)
    return faces
