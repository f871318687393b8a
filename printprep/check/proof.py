"""Soft proof: how the print will look, for a screen, prepared and as it would have been printed before."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep.arguments import output_path, whole_side
from printprep.check._tone import lights
from printprep.check._words import notes
from printprep.check.basis import basis
from printprep.check.seen import OnScreen
from printprep.check.simulate import simulation
from printprep.colour.profile import Profile
from printprep.conditions.viewing import hung
from printprep.errors import InputError
from printprep.files.names import AnyPath, printable
from printprep.files.png import png
from printprep.page.pictures import fitted, look, save
from printprep.page.sheet import Captioned, sheet
from printprep.parameters import checked_call
from printprep.photo.photo import Photo
from printprep.pipe import Pipeline
from printprep.results import Result

_SIDE = 1600
"""Longer side of a proof, pixels."""

_MODEL = "a model's view (DICOM PS3.14)"


@dataclass(frozen=True)
class Proof(Result):
    """A picture of a print, for a screen.

    Parameters
    ----------
    picture : (rows, columns, 3) ndarray of uint8
        Screen values.
    screen : Profile or None
        What they mean; None for sRGB.
    source : Path or None
        The edit's file, which is never replaced.

    Examples
    --------
    >>> import printprep as pp
    >>> print(pp.proof(pp.read("edit.tif"), pp.pipeline(paper="gloss")))
    proof of edit.tif: 96 x 64 pixels, sRGB
    """

    picture: NDArray[np.uint8] = field(repr=False)
    screen: Profile | None = None
    source: Path | None = None

    _kept_out = ("picture",)
    _also = ("size",)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height, pixels."""
        height, width = self.picture.shape[:2]
        return width, height

    def __str__(self) -> str:
        of, to = self.source.name if self.source else "a picture", self.screen.description if self.screen else "sRGB"
        return f"proof of {printable(of)}: {self.size[0]} x {self.size[1]} pixels, {to}"

    def write(self, path: AnyPath, *, overwrite: bool = False) -> None:
        """Write a PNG or, where the name ends in .tif or .tiff, a 16-bit TIFF; whole or not at all.

        Raises
        ------
        OutputError, OutsideError
            Nothing was written.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.proof(pp.read("edit.tif"), pp.pipeline(paper="gloss"), side=64).write("proof.png")
        """
        if output_path(path).lower().endswith((".tif", ".tiff")):
            photo = Photo.from_array(self.picture, self.screen or "sRGB")
            replace(photo, path=self.source).write(path, overwrite=overwrite)
        else:
            save(path, self._repr_png_(), (".png", ".tif", ".tiff"), overwrite=overwrite, source=self.source)

    def _repr_png_(self) -> bytes:
        return png(self.picture, self.screen.data if self.screen else None)


@checked_call
def proof(
    photo: Photo,
    pipe: Pipeline,
    *,
    pair: bool = False,
    screen: AnyPath | Profile | None = None,
    light: bool = False,
    glazing: bool = True,
    side: int = _SIDE,
    threads: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Proof:
    """Show a print on a screen.

    Parameters
    ----------
    photo : Photo
        The edit; a reduced copy is made in bands.
    pipe : Pipeline
        Paper, room and what is done.
    pair : bool
        The edit, the print left alone and the prepared print side by side, with labels, the prints with a strip of
        the bare sheet. Left alone is relative colorimetric with black point compensation, as the edit would have
        been printed.
    screen : str, path, bytes or Profile, optional
        Profile of the screen; sRGB if not given.
    light : bool
        Show what the room's light leaves to be seen, of two lights each: see
        `printprep.check.seen.as_in_reference_light`. The pane is part of it.
    glazing : bool
        Show the pane that the room has in front of the print; canvas hangs without one.
    side : int, pixels, 16 to 16384
        Longer side of each picture, at most.
    threads : int, optional
        All cores if not given.
    progress : callable, optional
        Told of pixels done, and of all there are; may raise to stop.

    Raises
    ------
    ParameterError
        For an argument of another kind, or out of its range.
    InputError
        If the profile is not one of an RGB screen, or the picture cannot be read.

    Examples
    --------
    >>> import printprep as pp
    >>> proof = pp.proof(pp.read("edit.tif"), pp.pipeline(paper="cotton-rag", room="office"), pair=True)
    >>> proof.write("proof.png")
    """
    side = whole_side(side)
    profile = _screen_profile(screen)
    picture = look(photo, 2 * side, threads=threads, progress=progress)
    small = fitted(picture, side)
    view = OnScreen(simulation(photo.profile.data, pipe.suited(photo)), light, glazing, profile)
    rooms = lights(pipe.room) if light else (pipe.room,)
    if not pair and len(rooms) == 1:
        return Proof(view.prepared(small), profile, photo.path)
    panels = []
    for room, when in zip(rooms, ("by day", "by evening"), strict=False):
        view = replace(view, room=room)
        lit = f"{when}, {room.illuminance_lux:g} lx" if len(rooms) > 1 else ""
        if not pair:
            panels.append(Captioned(view.prepared(small), lit.capitalize()))
            continue
        comma = f", {lit}" if lit else ""
        how, what = "relative colorimetric, black point compensation", "for this paper and this room"
        panels += [
            Captioned(view.edit(small), "Edit", "as on a screen"),
            Captioned(_with_sheet(view.left_alone(small), view.bare_sheet), f"Left alone{comma}", how),
            Captioned(_with_sheet(view.prepared(small), view.bare_sheet), f"Prepared{comma}", what),
        ]
    name = printable(photo.path.name, 120) if photo.path else "the picture"
    parts = [name, caption(pipe, light=light, glazing=glazing), *(["right edge: the bare sheet"] if pair else [])]
    foot = "  ·  ".join([*parts, f"computed; {basis(pipe.paper)}", *notes(photo)])
    return Proof(sheet(panels, foot=foot, across=3 if pair and len(rooms) > 1 else None), profile, photo.path)


def _with_sheet(picture: NDArray[np.uint8], bare: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """A picture with a strip of the bare sheet at its right."""
    high, wide = picture.shape[:2]
    strip = np.empty((high, max(4, wide // 24), 3), np.uint8)
    strip[:] = bare
    return np.concatenate([picture, strip], axis=1)


def _screen_profile(screen: AnyPath | Profile | None) -> Profile | None:
    """The screen's profile; None for sRGB. Refused where it is not for RGB, or has no way back from Lab."""
    if screen is None or (isinstance(screen, str) and screen.replace(" ", "").lower() == "srgb"):
        return None
    profile = Profile.load(screen)
    if profile.model != "RGB" or not profile.two_way:
        do = "name one for RGB that converts both ways"
        raise InputError("is no screen's profile", where=repr(profile.description), do=do)
    return profile


def caption(pipe: Pipeline, *, light: bool = False, glazing: bool = True) -> str:
    """One line that says what a proof shows."""
    room = pipe.room
    lux = f"{room.illuminance_lux:g} lx"
    if room.evening_illuminance_lux is not None:
        lux += f" by day, {room.evening_illuminance_lux:g} by evening"
    parts = [
        f"{pipe.paper.title or pipe.paper_name}",
        f"{pipe.room_name}, {lux}",
        "paper white and black shown",
        *(["pane shown"] if (glazing or light) and hung(pipe.paper, room).glazing != "none" else []),
        *([f"as it would have to look in the edit's light to show the same share of visible steps: {_MODEL}"] * light),
    ]
    return "  ·  ".join(parts)
