"""Join a paper, a room and steps into a pipeline, and use it on photos and arrays."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from types import NoneType
from typing import Annotated, Any, TypeVar, overload

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from printprep.adjust._base import Adjustment, Steps
from printprep.adjust._foreign import behaviour
from printprep.colour.profile import Profile
from printprep.conditions.conditions import Conditions, HandOver
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.sheet import Sheet
from printprep.errors import AlreadyPrepared, InputError, ParameterError, PrintprepError, expect
from printprep.named import BARE_PAPER, Named, named_paper, named_room, stem
from printprep.parameters import Checked
from printprep.photo.array import AnyArray
from printprep.photo.fingerprint import Fingerprinted
from printprep.photo.photo import Photo
from printprep.preset import Preset, Setting, build_steps, join_steps, load
from printprep.preset_files import names
from printprep.render.chain import Chain, conditions
from printprep.render.field import Field
from printprep.render.plan import Plan
from printprep.stepwise import Stepwise
from printprep.stored import Stored
from printprep.ticket import pending

Values = TypeVar("Values", bound=np.generic)


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
    hand_over : {"source", "paper"}
        Back to the edit's own profile, or to the paper's.
    strength : float, 0 to 1.5
        Of the whole: 0 does nothing, 1 what the steps say; steps of tone follow it beyond, the fit to the gamut
        does not.
    paper_name, room_name : str
        What they are called in file names and tickets.

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
        expect("hand_over", hand_over, str, "must be 'source' or 'paper'")
        if hand_over not in ("source", "paper"):
            raise ParameterError("hand_over", hand_over, "must be 'source' or 'paper'")
        for name, value in (
            ("steps", ordered),
            ("paper", paper),
            ("room", Room() if room is None else room),
            ("sheet", Sheet() if sheet is None else sheet),
            ("hand_over", hand_over),
            ("strength", Overall(strength).strength),
            ("paper_name", paper_name),
            ("room_name", room_name),
        ):
            object.__setattr__(self, name, value)

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

    def __call__(self, photo: Photo, *, again: bool = False) -> Photo:
        """Prepare a photo, lazily: it is read small now; nothing else is computed until pixels are read or written.

        Parameters
        ----------
        photo : Photo
            The edit.
        again : bool
            Prepare it even where it is prepared already.

        Returns
        -------
        Photo
            Whose file, when it is written, carries a job ticket.

        Raises
        ------
        AlreadyPrepared
            If its file carries a job ticket, or it comes from a pipeline.
        InputError
            If its profile does not lead back.
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
        plan = self._suited(codes, photo.profile).plan(photo.profile)
        if not plan.idle and self.hand_over == "source" and not photo.profile.two_way:
            raise InputError(
                "its profile has no way back from Lab (a scanner's?)",
                where=repr(str(photo.path or "photo")),
                do="convert the edit to a working space such as opRGB first",
            )
        out = photo.profile if self.hand_over == "source" else _profile(plan.chain.out_profile)
        edit = Fingerprinted(photo.pixels)
        made = Fingerprinted(plan.pixels(edit, codes))
        ticket = pending(photo, plan, edit, made, (self.paper_name, self.room_name))
        return replace(photo, pixels=made, profile=out, ticket=ticket)

    def suited(self, photo: Photo) -> Pipeline:
        """The same for one picture: with what depends on it decided."""
        expect("photo", photo, Photo, "must be a Photo", "printprep.read opens one")
        return self._suited(photo.small, photo.profile)

    def _suited(self, codes: NDArray[np.float32] | None, profile: str | Path | bytes | Profile) -> Pipeline:
        if codes is None:
            return self
        on = self.conditions(profile)
        asked = Chain(_profile(profile).data, on, Steps()).to_print(codes)
        steps = self.steps.suited(asked, on)
        return self if steps == self.steps else replace(self, steps=steps)

    def field(self, photo: Photo) -> Field:
        """What depends on a photo's surroundings, for `apply` on parts of it."""
        expect("photo", photo, Photo, "must be a Photo", "printprep.read opens one")
        plan = self._suited(photo.small, photo.profile).plan(photo.profile)
        return plan.field(photo.small, photo.height, photo.width)

    def reach(self, profile: str | Path | bytes | Profile) -> int:
        """Pixels that the steps look at on each side of one: the overlap of tiles, which may begin anywhere."""
        return self.plan(profile).reach

    @overload
    def apply(
        self, rgb: NDArray[Values], profile: str | Path | bytes | Profile, *,
        field: Field | None = None, at: tuple[int, int] = (0, 0), clip: bool = False,
    ) -> NDArray[Values]: ...  # fmt: skip

    @overload
    def apply(
        self, rgb: AnyArray, profile: str | Path | bytes | Profile, *,
        field: Field | None = None, at: tuple[int, int] = (0, 0), clip: bool = False,
    ) -> NDArray[Any]: ...  # fmt: skip

    def apply(
        self, rgb: AnyArray, profile: str | Path | bytes | Profile, *,
        field: Field | None = None, at: tuple[int, int] = (0, 0), clip: bool = False,
    ) -> NDArray[Any]:  # fmt: skip
        """Prepare an array.

        Parameters
        ----------
        rgb : (..., 3) array of uint8, uint16, float16, float32 or float64
            Device values; floats are 0..1. NumPy's, in either byte order, or what it can see into or DLPack can share.
            (height, width, 3) is a picture and (..., height, width, 3) are pictures,
            each with its own surroundings; colours in a list, a row or a column stand by themselves.
        profile : str, Path, bytes or Profile
            What the values mean.
        field : Field, optional
            Of the whole picture that the array is a part of, from `Pipeline.field`.
        at : (row, column)
            Where in that picture the array begins.
        clip : bool
            Take floats below 0 as 0 and those above 1 as 1, in place of refusing them.

        Returns
        -------
        (..., 3) ndarray
            Prepared values in the same dtype; a new array, and nothing is written into the one given.

        Raises
        ------
        ParameterError
            For another shape or dtype, or floats that are not finite or outside 0..1: which, how many and where.
        """
        from printprep.render.arrays import applied

        return applied(rgb, lambda codes: self._suited(codes, profile).plan(profile), field, at, clip=clip)


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
    hand_over : {"source", "paper"}
        Which profile to hand over in.
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
    for key, value in (settings or {}).items():
        step, parameter = _address(key)
        adjust.setdefault(step, {})[parameter] = Setting(_value(value), "")
    return Pipeline(
        build_steps(adjust),
        paper=own_paper,
        room=own_room,
        sheet=sheet,
        hand_over=hand_over,
        strength=_strength(strength, from_paper, from_room, bundle),
        paper_name=from_paper.name if from_paper else stem(bundle.name) if bundle else "paper",
        room_name=from_room.name if from_room else stem(bundle.name) if bundle else "reference",
    )


def _strength(given: float | None, paper: Named | None, room: Named | None, bundle: Preset | None) -> float:
    """The overall strength: as given, else the bundle's, else the paper's and the room's, which must not disagree."""
    for over in (given, bundle.strength if bundle else None):
        if over is not None:
            return over
    said = {named.strength for named in (paper, room) if named and named.strength is not None}
    if len(said) > 1:
        raise ParameterError("strength", sorted(said), "differs between the paper's preset and the room's", "give one")
    return said.pop() if said else 1.0


def _address(key: str) -> tuple[str, str]:
    expect("settings", key, str, "must have keys such as 'shadow-lift.strength'")
    step, dot, parameter = key.partition(".")
    if not (step and dot and parameter):
        raise ParameterError("settings", key, "must have keys such as 'shadow-lift.strength'")
    return step, parameter


def _value(value: object) -> object:
    if not isinstance(value, str):
        return value
    try:
        return tomllib.loads(f"v = {value}")["v"]
    except (tomllib.TOMLDecodeError, ValueError, RecursionError):
        return value
