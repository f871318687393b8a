"""Adjustments for one paper and one room: a pipeline, and its use on photos and arrays."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from types import NoneType
from typing import Annotated, Any, TypeVar, get_args, overload

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
from printprep.parameters import Checked, checked_call
from printprep.photo.array import AnyArray
from printprep.photo.fingerprint import Fingerprinted
from printprep.photo.photo import Photo
from printprep.photo.pixels import Pixels
from printprep.photo.resolution import Resolution
from printprep.render.chain import Chain, conditions
from printprep.render.field import Field
from printprep.render.greys import in_grey
from printprep.render.plan import Plan
from printprep.results import html_table
from printprep.stepwise import Stepwise
from printprep.stored import Asked, Stored

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

    Examples
    --------
    >>> import printprep as pp
    >>> steps = pp.ShadowLift(strength=0.8) | pp.GamutFit()
    >>> pipe = pp.Pipeline(steps, paper=pp.paper("gloss"), room=pp.room("office"))
    >>> pipe(pp.read("edit.tif")).write("print.tif").path
    PosixPath('print.tif')
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

    @checked_call
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
        expect("steps", steps, Iterable, "must hold adjustments, such as ShadowLift()")
        expect("asked", asked, (Mapping, NoneType), "must be a mapping")
        given = tuple(steps)
        for step in given:
            expect("steps", step, Adjustment, "must hold adjustments only, such as ShadowLift()")
        ordered = Steps(given).ordered()
        kinds = [type(s) for s in ordered]
        for kind in kinds:
            if kinds.count(kind) > 1:
                raise PrintprepError("occurs twice in the pipeline", where=kind.__name__, do="keep one")
        known = "must be 'source', 'paper' or 'grey'"
        expect("hand_over", hand_over, str, known)
        if hand_over not in get_args(HandOver):
            raise ParameterError("hand_over", hand_over, known)
        room, strength = Room() if room is None else room, Overall(strength).strength
        vars(self).update(
            steps=ordered,
            paper=paper,
            room=room,
            sheet=Sheet() if sheet is None else sheet,
            hand_over=hand_over,
            strength=strength,
            paper_name=paper_name,
            room_name=room_name,
            asked=Asked.of(asked, (ordered, paper, room, strength)),
        )

    def conditions(self, profile: str | Path | bytes | Profile) -> Conditions:
        """What the steps look at, for an edit in this profile.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.pipeline(paper="gloss").conditions("sRGB").hand_over
        'source'
        """
        return _conditions(_profile(profile).data, self)

    def plan(self, profile: str | Path | bytes | Profile) -> Plan:
        """What will run per pixel for an edit in this profile.

        Parameters
        ----------
        profile : str, Path, bytes or Profile
            A well-known name (sRGB, opRGB, ROMM RGB), a path, or the profile itself.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.pipeline(paper="gloss").plan("sRGB").idle
        False
        """
        data = _profile(profile).data
        return _plan(data, self, behaviour(self.steps, lambda: _conditions(data, self)))

    def _repr_html_(self) -> str:
        steps = [(type(step).__name__, repr(step)) for step in self.steps]
        rows = [("hand-over", self.hand_over), *self.paper.rows[:3], *self.room.rows, *steps]
        return html_table(f"{self.paper.title or self.paper_name}, {self.room_name}", rows)

    @checked_call
    def layout(self, photo: Photo) -> Layout | None:
        """Where a photo will lie on its sheet; None where no size is asked for.

        Examples
        --------
        >>> import printprep as pp
        >>> pipe = pp.pipeline(paper="gloss", sheet=pp.Sheet(size="A4"))
        >>> layout = pipe.layout(pp.read("edit.tif"))
        >>> layout.ppi
        360.0
        """
        if self.sheet.size is None:
            return None
        try:
            named = self.sheet.captioned(
                photo.path.stem if photo.path else "", self.paper.title or self.paper_name, self.room_name
            )
            return laid_out(named, photo.width, photo.height, self.paper.native_ppi, self.room.viewing_distance_m)
        except PrintprepError as error:
            raise error.within(repr(str(photo.path or "photo"))) from error

    @checked_call
    def __call__(self, photo: Photo, *, again: bool = False, tap: Callable[[Pixels], Pixels] | None = None) -> Photo:
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
            pixels, out = in_grey(plan, plan.pixels(edit, codes, layout, tap, photo.part), edit, photo.profile)
        except InputError as error:
            raise error.within(repr(str(photo.path or "photo"))) from None
        made = Fingerprinted(pixels)
        ticket = self._ticket(photo, plan, edit, made, layout)
        resolution = Resolution(layout.ppi) if layout else photo.resolution
        return replace(photo, pixels=made, profile=out, ticket=ticket, resolution=resolution)

    @checked_call
    def suited(self, photo: Photo) -> Pipeline:
        """The same for one picture: with what depends on it decided.

        Examples
        --------
        >>> import printprep as pp
        >>> pipe = pp.pipeline(paper="cotton-rag")
        >>> pipe["shadow-lift"].worth, pipe.suited(pp.read("edit.tif"))["shadow-lift"].worth
        (None, 0.0)
        """
        return self._suited(photo.small, photo.profile)

    def _suited(self, codes: NDArray[np.float32] | None, profile: str | Path | bytes | Profile) -> Pipeline:
        if codes is None:
            return self
        on = self.conditions(profile)
        asked = Chain(_profile(profile).data, on, Steps()).small_to_print(codes)
        steps = self.steps.suited(asked, on)
        return self if steps == self.steps else replace(self, steps=steps)

    @checked_call
    def field(self, photo: Photo) -> Field:
        """What depends on a photo's surroundings, for `apply` on parts of it.

        Examples
        --------
        >>> import printprep as pp
        >>> photo, pipe = pp.read("edit.tif"), pp.pipeline(paper="cotton-rag")
        >>> field, part = pipe.field(photo), photo.rows(16, 48)
        >>> right = pipe.apply(part, photo.profile, field=field, at=(16, 0))
        >>> bool((right == pipe(photo).rows(16, 48)).all())
        True
        """
        plan = self._suited(photo.small, photo.profile).plan(photo.profile)
        whole = photo.part or photo
        return plan.field(photo.small, whole.height, whole.width)

    def reach(self, profile: str | Path | bytes | Profile) -> int:
        """Pixels that the steps look at on each side of one: the overlap of tiles, which may begin anywhere.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.pipeline(paper="gloss").reach("opRGB")
        0
        """
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

        Examples
        --------
        >>> import numpy as np
        >>> import printprep as pp
        >>> pipe = pp.pipeline(paper="cotton-rag", room="office")
        >>> pipe.apply(np.full((40, 60, 3), 0.25, np.float32), "sRGB").shape
        (40, 60, 3)
        >>> bool(pipe.apply(np.full((40, 60, 3), 1.5), "sRGB", clip=True).max() <= 1)
        True
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
