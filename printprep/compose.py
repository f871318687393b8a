"""Join a paper, a room and steps into a pipeline, and use it on photos and arrays."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from types import NoneType
from typing import Annotated, Any, get_args

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from printprep.adjust._base import Adjustment, Steps
from printprep.adjust._foreign import behaviour
from printprep.colour.profile import Profile
from printprep.conditions.conditions import Conditions, HandOver
from printprep.conditions.layout import Layout, laid_out
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.sheet import Sheet
from printprep.errors import AlreadyPrepared, InputError, ParameterError, PrintprepError, expect
from printprep.named import BARE_PAPER, Named, named_paper, named_room, stem
from printprep.parameters import Checked
from printprep.photo.fingerprint import Fingerprinted
from printprep.photo.photo import Photo
from printprep.photo.pixels import Pixels
from printprep.photo.resolution import Resolution
from printprep.preset import Preset, Setting, build_steps, join_steps, load, settled
from printprep.preset_files import names
from printprep.recall import Recalled, Told, recalled, recipe
from printprep.render.chain import Chain, conditions
from printprep.render.field import Field
from printprep.render.greys import in_grey
from printprep.render.plan import Plan
from printprep.stepwise import Stepwise
from printprep.stored import Stored
from printprep.ticket import pending


@dataclass(frozen=True)
class Overall(Checked):
    """The strength of a whole pipeline."""

    strength: Annotated[float, Meta(ge=0, le=1.5)] = 1.0


@dataclass(frozen=True)
class Pipeline(Stepwise, Stored):
    """Adjustments for one paper and one room, in stage order.

    A pipeline is a sequence of its steps, by place, name or class. Its ``repr`` evaluates where the paper is known
    from eight patches; `to_dict` keeps any.

    Parameters
    ----------
    steps : iterable of Adjustment
        In any order; each kind once.
    paper : Paper
        What it will be printed on.
    room : Room
        Where it will hang; the reference viewing if not given.
    sheet : Sheet
        Pixels per millimetre.
    hand_over : {"source", "paper", "grey"}
        Back to the edit's own profile, to the paper's, or to its grey ramp.
    strength : float, 0 to 1.5
        Of the whole: 0 does nothing, 1 what the steps say; steps of tone follow it beyond, the fit to the gamut
        does not.
    paper_name, room_name : str
        What they are called in file names and tickets.
    asked : mapping
        How paper, room and settings were named, for tickets alone; no part of the identity.

    Raises
    ------
    PrintprepError
        If a step occurs twice.
    """

    steps: Steps
    paper: Paper
    room: Room
    sheet: Sheet = field(default_factory=Sheet)
    hand_over: HandOver = "source"
    strength: float = 1.0
    paper_name: str = "paper"
    room_name: str = "room"
    asked: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    def __init__(
        self,
        steps: Iterable[Adjustment],
        *,
        paper: Paper,
        room: Room | None = None,
        sheet: Sheet | None = None,
        hand_over: HandOver = "source",
        strength: float = 1.0,
        paper_name: str = "paper",
        room_name: str = "room",
        asked: Mapping[str, Any] | None = None,
    ) -> None:
        given = tuple(steps)
        for step in given:
            expect("steps", step, Adjustment, "must hold adjustments only, such as ShadowLift()")
        expect("paper", paper, Paper, "must be a Paper", "printprep.paper finds one by name or path")
        expect("room", room, (Room, NoneType), "must be a Room", "printprep.room finds one by name or path")
        expect("sheet", sheet, (Sheet, NoneType), "must be a Sheet")
        expect("paper_name", paper_name, str, "must be text")
        expect("room_name", room_name, str, "must be text")
        ordered = Steps(given).ordered()
        kinds = [type(s) for s in ordered]
        for kind in kinds:
            if kinds.count(kind) > 1:
                raise PrintprepError("occurs twice in the pipeline", where=kind.__name__, do="keep one")
        known = "must be 'source', 'paper' or 'grey'"
        expect("hand_over", hand_over, str, known)
        if hand_over not in get_args(HandOver):
            raise ParameterError("hand_over", hand_over, known)
        for name, value in (
            ("steps", ordered),
            ("paper", paper),
            ("room", Room() if room is None else room),
            ("sheet", Sheet() if sheet is None else sheet),
            ("hand_over", hand_over),
            ("strength", Overall(strength).strength),
            ("paper_name", paper_name),
            ("room_name", room_name),
            ("asked", dict(asked or {})),
        ):
            object.__setattr__(self, name, value)

    @classmethod
    def from_ticket(cls, ticket: Told, *, paper: str | Path | Paper | None = None) -> Pipeline:
        """The pipeline that a prepared picture was made by, with nothing decided by that picture.

        Parameters
        ----------
        ticket : Ticket
            From `read_ticket`.
        paper : str, Path or Paper, optional
            In place of the paper that the ticket names.

        Raises
        ------
        InputError
            If the paper's profile or chart is not found, or has changed since.
        PrintprepError
            If a step is not known here.
        """
        expect("ticket", ticket, Told, "must be a Ticket", "printprep.read_ticket reads one")
        found = recalled(ticket, paper)
        if found.changed and paper is None:
            do = "keep it as it was, or take it as it is with {way}"
            raise InputError(f"{found.changed} of the job ticket has changed since", do=do, way="paper=PAPER")
        return cls.of(found)

    @classmethod
    def of(cls, found: Recalled) -> Pipeline:
        """The pipeline of what a ticket recalled."""
        return cls(
            found.steps, paper=found.paper, room=found.room, sheet=found.sheet, hand_over=found.hand_over,
            strength=found.strength, paper_name=found.paper_name, room_name=found.room_name, asked=found.asked,
        )  # fmt: skip

    def conditions(self, profile: str | Path | bytes | Profile) -> Conditions:
        """What the steps look at, for an edit in this profile."""
        return _conditions(_profile(profile).data, self)

    def plan(self, profile: str | Path | bytes | Profile) -> Plan:
        """What will run per pixel for an edit in this profile.

        Parameters
        ----------
        profile : str, Path, bytes or Profile
            A well-known name (sRGB, opRGB, ROMM RGB), a path, or the profile itself.
        """
        data = _profile(profile).data
        return _plan(data, self, behaviour(self.steps, lambda: _conditions(data, self)))

    def _repr_html_(self) -> str:
        from printprep.conditions._notebook import paper_rows, room_rows, table

        steps = [(type(step).__name__, repr(step)) for step in self.steps]
        rows = [("hand-over", self.hand_over), *paper_rows(self.paper)[:3], *room_rows(self.room), *steps]
        return table(f"{self.paper.title or self.paper_name}, {self.room_name}", rows)

    def layout(self, photo: Photo) -> Layout | None:
        """Where a photo will lie on its sheet; None where no size is asked for."""
        if self.sheet.size is None:
            return None
        try:
            return laid_out(
                self.sheet, photo.width, photo.height, self.paper.native_ppi, self.room.viewing_distance_m
            )
        except PrintprepError as error:
            raise error.within(repr(str(photo.path or "photo"))) from error

    def __call__(
        self, photo: Photo, *, again: bool = False, tap: Callable[[Pixels], Pixels] | None = None
    ) -> Photo:
        """Prepare a photo, lazily: it is read small now; nothing else is computed until pixels are read or written.

        Parameters
        ----------
        photo : Photo
            The edit.
        again : bool
            Prepare it even where it is prepared already.
        tap : callable, optional
            Given the prepared pixels before they are sized, as many as the edit has, returns those to go on with:
            a place to look at them as they pass.

        Returns
        -------
        Photo
            Whose file, when it is written, carries a job ticket.

        Raises
        ------
        AlreadyPrepared
            If its file carries a job ticket, or it comes from a pipeline.
        InputError
            If its profile does not lead back; or colour would be left for a grey ramp.
        """
        expect("photo", photo, Photo, "must be a Photo", "printprep.read opens one")
        if photo.prepared and not again:
            raise AlreadyPrepared(
                "is prepared already",
                where=repr(str(photo.path or "photo")),
                do="take the edit that it was made from, or pass {way}",
                way="again=True",
            )
        codes = photo.small if len(self.steps) else None
        ours, layout = self._suited(codes, photo.profile), self.layout(photo)
        plan = (replace(ours, sheet=layout.sheet) if layout else ours).plan(photo.profile)
        if not plan.idle and self.hand_over != "paper" and not photo.profile.two_way:
            raise InputError(
                "its profile has no way back from Lab (a scanner's?)",
                where=repr(str(photo.path or "photo")),
                do="convert the edit to a working space such as opRGB first",
            )
        edit = Fingerprinted(photo.pixels)
        try:
            pixels, out = in_grey(plan, plan.pixels(edit, codes, layout, tap), edit, photo.profile)
        except InputError as error:
            raise error.within(repr(str(photo.path or "photo"))) from None
        made = Fingerprinted(pixels)
        told = recipe(self.steps, self.paper, self.strength, self.asked)
        ticket = pending(photo, plan, edit, made, (self.paper_name, self.room_name), told, self.sheet, layout)
        resolution = Resolution(layout.ppi) if layout else photo.resolution
        return replace(photo, pixels=made, profile=out, ticket=ticket, resolution=resolution)

    def suited(self, photo: Photo) -> Pipeline:
        """The same for one picture: with what depends on it decided."""
        expect("photo", photo, Photo, "must be a Photo", "printprep.read opens one")
        return self._suited(photo.small, photo.profile)

    def _suited(self, codes: NDArray[np.float32] | None, profile: str | Path | bytes | Profile) -> Pipeline:
        if codes is None:
            return self
        on = self.conditions(profile)
        asked = Chain(_profile(profile).data, on, Steps()).asked(codes)
        steps = self.steps.suited(asked, on)
        return self if steps == self.steps else replace(self, steps=steps)

    def field(self, photo: Photo) -> Field:
        """What depends on a photo's surroundings, for `apply` on parts of it."""
        expect("photo", photo, Photo, "must be a Photo", "printprep.read opens one")
        plan = self._suited(photo.small, photo.profile).plan(photo.profile)
        return plan.field(photo.small, photo.height, photo.width)

    def apply(
        self,
        rgb: NDArray[Any],
        profile: str | Path | bytes | Profile,
        *,
        field: Field | None = None,
        at: tuple[int, int] = (0, 0),
    ) -> NDArray[Any]:
        """Prepare an array.

        Parameters
        ----------
        rgb : (..., 3) ndarray of uint8, uint16, float16, float32 or float64
            Device values; floats are 0..1. (height, width, 3) is a picture and (..., height, width, 3) are pictures,
            each with its own surroundings; colours in a list, a row or a column stand by themselves.
        profile : str, Path, bytes or Profile
            What the values mean.
        field : Field, optional
            Of the whole picture that the array is a part of, from `Pipeline.field`.
        at : (row, column)
            Where in that picture the array begins.

        Returns
        -------
        (..., 3) ndarray
            Prepared values in the same dtype.

        Raises
        ------
        ParameterError
            For another shape or dtype, or values that are not finite or outside 0..1.
        """
        from printprep.render.arrays import prepared

        array = np.asarray(rgb)
        if array.ndim == 0 or array.shape[-1] != 3:
            raise ParameterError("rgb", array.shape, "must have shape (..., 3)")
        if array.dtype not in (np.uint8, np.uint16, np.float16, np.float32, np.float64):
            raise ParameterError("rgb", str(array.dtype), "must be uint8, uint16 or a float between 0 and 1")
        if array.dtype.kind == "f" and not (np.isfinite(array).all() and (array >= 0).all() and (array <= 1).all()):
            raise ParameterError("rgb", "array", "floats must be finite and between 0 and 1")
        if field is not None:
            expect("field", field, Field, "must be a Field", "Pipeline.field makes one")
            if not (0 <= at[0] <= field.height - array.shape[0] and 0 <= at[1] <= field.width - array.shape[1]):
                raise ParameterError("at", at, f"must lie within the field's picture of {field.height} x {field.width}")
        return prepared(array, lambda codes: self._suited(codes, profile).plan(profile), field, at)




@lru_cache(maxsize=8)
def _plan(profile: bytes, pipe: Pipeline, does: str) -> Plan:
    on = _conditions(profile, pipe)
    return Plan(profile, on, pipe.steps.live(on, pipe.strength), does=does)


def _conditions(profile: bytes, pipe: Pipeline) -> Conditions:
    return conditions(profile, pipe.paper, pipe.room, pipe.sheet, pipe.hand_over)


def _profile(profile: str | Path | bytes | Profile) -> Profile:
    return profile if isinstance(profile, Profile) else Profile.load(profile)


def pipeline(
    *,
    paper: str | Path | Paper | None = None,
    room: str | Path | Room | None = None,
    preset: str | Path | Preset | None = None,
    settings: Mapping[str, object] | None = None,
    sheet: Sheet | None = None,
    hand_over: HandOver = "source",
    strength: float | None = None,
) -> Pipeline:
    """Make a pipeline from presets.

    Parameters
    ----------
    paper : str, Path or Paper
        Preset name, path (preset, ICC profile, measurement), or object.
    room : str, Path or Room, optional
        Preset name, path, ``lux=85``, or object; the reference viewing, 500 lx, if nothing names one.
    preset : str, Path or Preset, optional
        A saved bundle; `paper` and `room`, where given too, replace its own. Its steps override theirs.
    settings : mapping of str to object, optional
        ``{"shadow-lift.strength": 0.7}``; wins over all presets. Text is read as a TOML value.
    sheet : Sheet, optional
        Pixels per millimetre.
    hand_over : {"source", "paper", "grey"}
        Which profile to hand over in; ``grey`` is the paper's grey ramp, for black and white.
    strength : float, 0 to 1.5, optional
        Of the whole; as the presets say, 1 where none says, if not given.

    Raises
    ------
    PrintprepError
        If no paper is named, names are unknown, values are wrong, or presets disagree.
    """
    expect("preset", preset, (str, Path, Preset, NoneType), "must be a preset, or its name or path")
    expect("settings", settings, (Mapping, NoneType), "must be a mapping such as {'shadow-lift.strength': 0.7}")
    bundle = load(preset) if isinstance(preset, (str, Path)) else preset
    from_paper = named_paper(paper) if paper is not None else None
    from_room = named_room(room) if room is not None else None
    adjust: dict[str, dict[str, Setting]] = {}
    own_paper = from_paper.paper if from_paper else bundle.paper if bundle else None
    if own_paper is None:
        raise PrintprepError("no paper is named", do="name one of: " + ", ".join(names("paper")))
    own_room = from_room.room if from_room else bundle.room if bundle else None
    for named in (from_paper, from_room):
        if named:
            join_steps(adjust, named.adjust)
    if bundle:
        for step, values in (bundle.adjust or (BARE_PAPER if not from_paper else {})).items():
            adjust[step] = {**adjust.get(step, {}), **values}
    for step, parameter, setting in settled(settings or {}):
        adjust.setdefault(step, {})[parameter] = setting
    return Pipeline(
        build_steps(adjust),
        paper=own_paper,
        room=own_room,
        sheet=sheet,
        hand_over=hand_over,
        strength=_strength(strength, from_paper, from_room, bundle),
        paper_name=from_paper.name if from_paper else stem(bundle.name) if bundle else "paper",
        room_name=from_room.name if from_room else stem(bundle.name) if bundle else "reference",
        asked=_asked(settings, strength, paper=paper, room=room, preset=preset),
    )


def _asked(settings: Mapping[str, object] | None, strength: float | None, **names: object) -> dict[str, Any]:
    """How a pipeline was asked for, in text: objects have no name to ask for them by."""
    asked: dict[str, Any] = {k: os.fsdecode(v) for k, v in names.items() if isinstance(v, (str, Path))}
    if strength is not None:
        asked["strength"] = float(strength)
    if settings:
        asked["settings"] = {k: v if isinstance(v, str) else json.dumps(v, default=str) for k, v in settings.items()}
    return asked


def _strength(given: float | None, paper: Named | None, room: Named | None, bundle: Preset | None) -> float:
    """The overall strength: as given, else the bundle's, else the paper's and the room's, which must not disagree."""
    for over in (given, bundle.strength if bundle else None):
        if over is not None:
            return over
    said = {named.strength for named in (paper, room) if named and named.strength is not None}
    if len(said) > 1:
        raise ParameterError("strength", sorted(said), "differs between the paper's preset and the room's", "give one")
    return said.pop() if said else 1.0
