"""The paper: its white, its black, and the colours it can hold; from a profile, a measurement or eight patches."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, Self

from msgspec import Meta

from printprep.colour.lab import luminance_from_lightness
from printprep.colour.profile import Profile
from printprep.colour.solid import Solid, kept
from printprep.conditions import _inline
from printprep.conditions import measurement as _measurement
from printprep.conditions._eight import SOLIDS, Colour, eight, is_eight, mixed, patches, plain_numbers
from printprep.conditions._gamut import chart_solid, described, ends, profile_solid, refuse_no_paper
from printprep.conditions._inline import CHART
from printprep.conditions._inline import PROFILE as PROFILE
from printprep.conditions.grey_ramp import Ramp, checked
from printprep.conditions.measurement import Measurement
from printprep.errors import InputError, ParameterError, PrintprepError, UnknownName, expect
from printprep.files.names import printable
from printprep.files.source import contents, place
from printprep.parameters import Checked
from printprep.results import html_table

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

Surface = Literal["gloss", "lustre", "matte", "canvas"]
"""How the sheet's surface looks."""

_DERIVED = ("white", "black", "solids")
"""Found in the profile or the chart, where a paper has one."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Paper(Checked):
    """A paper with the ink that goes on it.

    Give either a profile, or a measurement, or white, black and the six solids.

    Parameters
    ----------
    title : str
        A name for people.
    surface : {"gloss", "lustre", "matte", "canvas"}, optional
        By default guessed from the black: under L* 9 gloss, under 12 lustre, else matte (common
        practice, no source).
    white, black : (L*, a*, b*), optional
        Absolute Lab, D50, of bare paper and of the darkest mix.
    solids : mapping, optional
        Absolute Lab of cyan, magenta, yellow, red, green, blue at full ink.
    measured : Measurement, optional
        A measured chart.
    profile : bytes, optional
        An ICC profile of the paper.
    native_ppi : float, pixels per inch, 72 to 2880
        What the printer wants to be fed with.
    ink_black : {"matte", "photo"}, optional
        Which black ink the printer must have in use.
    media : str
        What is to be chosen in the print dialogue, in the user's own words.
    side : str
        Which side takes the ink.
    dry_hours : float, hours, 0 to 240, optional
        How long a print dries before it is judged, stacked or framed.
    source : str
        Where the values come from.
    typical : bool
        Whether they are common figures for such papers, and not of this very paper.
    grey_ramp : sequence of (code, L*) or (code, L*, a*, b*), optional
        What the driver's own grey mode prints, from code 0 (black) to 255 (white), both rising; at least five. Absolute
        Lab, D50; a* and b* are only reported.
    grey_mode : str
        Which mode and settings of the driver that is.
    any_profile : bool
        Take a profile that is hardly a paper's: of a display, a working space or greys alone, or one without
        tables.

    Raises
    ------
    ParameterError, PrintprepError, InputError
        For values out of range, or two kinds of description at once, or none; for a profile that is no paper's.

    Examples
    --------
    >>> import printprep as pp
    >>> paper = pp.paper("cotton-rag")
    >>> paper.kind, paper.surface, round(paper.neutral_black, 1)
    ('eight patches', 'matte', 17.6)
    """

    title: str = ""
    surface: Surface | None = None
    white: Colour | None = None
    black: Colour | None = None
    solids: Mapping[str, Colour] | None = field(default=None, metadata={"unchecked": True})
    measured: Measurement | None = field(default=None, metadata={"unchecked": True})
    profile: bytes | None = field(default=None, metadata={"unchecked": True}, repr=False)
    native_ppi: Annotated[float, Meta(ge=72, le=2880, description="pixels per inch")] = 360.0
    ink_black: Literal["matte", "photo"] | None = None
    media: Annotated[str, Meta(max_length=100)] = ""
    side: Annotated[str, Meta(max_length=100)] = ""
    dry_hours: Annotated[float, Meta(ge=0, le=240, description="hours")] | None = None
    source: str = ""
    typical: bool = False
    any_profile: bool = False
    grey_ramp: Ramp | None = field(default=None, metadata={"unchecked": True})
    grey_mode: str = ""

    def __post_init__(self) -> None:
        put = partial(object.__setattr__, self)
        for name in ("white", "black"):
            put(name, plain_numbers(getattr(self, name)))
        super().__post_init__()
        put("grey_ramp", checked(self.grey_ramp, self.grey_mode))
        typed = self.white is not None or self.black is not None or self.solids is not None
        if typed + (self.measured is not None) + (self.profile is not None) != 1:
            raise PrintprepError(
                "a paper needs a profile, or measurements, or white, black and solids", do="give one of them"
            )
        if typed:
            put("solids", patches(self.white, self.black, self.solids))
        else:
            if self.profile is not None:
                do = "Paper.from_profile reads a file"
                expect("profile", self.profile, bytes, "must be the bytes of a profile", do)
                usable = Profile.from_bytes(self.profile)  # without what may follow its end
                refuse_no_paper(usable, any_kind=self.any_profile)
                put("profile", usable.data)
                white, black = ends(usable.data)
            else:
                do = "Paper.from_measurement reads one"
                expect("measured", self.measured, Measurement, "must be a Measurement", do)
                assert self.measured is not None
                white, black = self.measured.white, self.measured.darkest
            put("white", tuple(white.tolist()))
            put("black", tuple(black.tolist()))
        if self.surface is None:
            dark = self.neutral_black
            put("surface", "gloss" if dark < 9 else "lustre" if dark < 12 else "matte")

    # --- building -------------------------------------------------------------------------

    @classmethod
    def from_profile(cls, profile: bytes | Path | Traversable | str, **more: Any) -> Self:
        """A paper from its ICC profile (RGB, CMYK or grey).

        Parameters
        ----------
        profile : bytes or path
            The profile.
        **more
            Other fields, such as ``surface``.

        Raises
        ------
        InputError
            If it cannot be read, or is no paper's; ``any_profile=True`` takes one that is hardly a paper's.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.Paper.from_profile(pp.Profile.named("sRGB").data, any_profile=True).kind
        'profile'
        """
        if isinstance(profile, bytes):
            return cls(profile=profile, **more)
        file = place(profile)
        data = contents(file, "profile")
        more.setdefault("title", Path(file.name).stem)
        try:
            return cls(profile=data, **more)
        except InputError as error:
            raise error.within(repr(str(profile))) from None

    @classmethod
    def from_measurement(cls, path: Path | Traversable | str, **more: Any) -> Self:
        """A paper from a CGATS.17 measurement, or its eight patches as lines; errors as `measurement.read_chart`.

        Examples
        --------
        >>> from pathlib import Path
        >>> import printprep as pp
        >>> patches = "white,96,0,2 black,16,0,1 cyan,55,-36,-46 magenta,49,72,-3 yellow,89,-4,90 red,48,66,46 "
        >>> patches += "green,50,-62,26 blue,26,20,-45"
        >>> _ = Path("mine.csv").write_text(patches.replace(" ", "\\n"))
        >>> pp.Paper.from_measurement("mine.csv").kind
        'eight patches'
        """
        file = place(path)
        more.setdefault("title", Path(file.name).stem)
        data = contents(file, "measurement")
        if not is_eight(data):
            return cls(measured=_measurement.parse_chart(data, str(file)), **more)
        solids = eight(data, str(file))
        white, black = solids.pop("white"), solids.pop("black")
        try:
            return cls(white=white, black=black, solids=solids, **more)
        except PrintprepError as error:
            raise InputError(error.fault, where=repr(str(file)), do=error.do) from None

    @classmethod
    def from_table(cls, table: object, folder: Path | Traversable | None = None) -> Self:
        """A paper from the ``[paper]`` table of a preset.

        Parameters
        ----------
        table : dict
            The fields of this class; ``profile`` and ``measurements`` are paths from `folder`. In place of a path,
            ``profile_base64`` or ``chart`` holds all of it, see `to_table`.
        folder : Path or Traversable
            Where the preset lies.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.Paper.from_table(pp.paper("gloss").to_table()) == pp.paper("gloss")
        True
        """
        if not isinstance(table, dict):
            raise PrintprepError("is no table", do="give keys and values")
        known = [f.name for f in fields(cls) if f.name != "measured"] + ["measurements", PROFILE, CHART]
        for key in table:
            if key not in known:
                raise UnknownName("key", key, known)
        given, where = _inline.taken(table), ""
        for key in ("profile", "measurements"):
            if key not in table:
                continue
            name = given.pop(key)
            if not isinstance(name, str) or not name:
                raise ParameterError(key, name, "must be a path")
            file = _beside(folder, name)
            if key == "profile":
                given["profile"], where = contents(file, "profile"), repr(str(file))
            else:
                given["measured"] = _measurement.read_chart(file)
        try:
            return cls(**given)
        except InputError as error:
            raise (error.within(where) if where else error) from None

    def to_table(self, *, whole: bool = True) -> dict[str, Any]:
        """The same as a table of plain values, for `from_table`: its profile or chart is in it.

        Where it is not to be `whole`, a hash of either is, as ``profile_sha256`` or ``chart``.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.paper("gloss").to_table()["surface"]
        'gloss'
        """
        inline = ("profile", "measured")
        left_out = inline if self.solids is not None else (*inline, *_DERIVED)
        found = {f.name: getattr(self, f.name) for f in fields(self) if f.name not in left_out}
        found = {name: value for name, value in found.items() if value is not None}
        if self.grey_ramp is not None:
            found["grey_ramp"] = [list(step) for step in self.grey_ramp]
        if self.solids is not None:
            found |= {"white": list(self.white or ()), "black": list(self.black or ())}
            found["solids"] = {name: list(colour) for name, colour in self.solids.items()}
        return found | _inline.packed(self.profile, self.measured, whole=whole)

    # --- asking ---------------------------------------------------------------------------

    @property
    def kind(self) -> Literal["profile", "measurement", "eight patches"]:
        """What the paper was built from."""
        if self.profile is not None:
            return "profile"
        return "measurement" if self.measured is not None else "eight patches"

    @property
    def by_hand(self) -> list[str]:
        """What is to be seen to at the printer, in a few words each."""
        return [
            *([f"{self.ink_black} black ink"] if self.ink_black else []),
            *([f"media setting {printable(self.media)}"] if self.media else []),
            *([f"print on {printable(self.side)}"] if self.side else []),
            *([f"let it dry {self.dry_hours:g} h before it is judged"] if self.dry_hours else []),
        ]

    @property
    def certainty(self) -> str:
        """How sure the gamut boundary is, in one sentence."""
        if self.measured is not None:
            return (
                f"gamut from {len(self.measured.lab)} measured {self.measured.channels} patches "
                f"({self.measured.basis}, {_measurement.UNDERSTOOD}): exact at the patches, straight between them"
            )
        if self.profile is not None:
            return f"gamut from the ICC profile's {described(self.profile)}: as sure as the profile"
        return (
            "gamut mixed from eight patches: the largest chroma of a hue is off by 1 C* on average and 3 in the "
            "worst hues, judged by nine measured offset papers"
        )

    @cached_property
    def solid(self) -> Solid:
        """What the paper holds, in media-relative Lab."""
        return kept(f"paper {self._colours}", self._made_solid)

    def _made_solid(self) -> Solid:
        if self.profile is not None:
            return profile_solid(self.profile)
        if self.measured is not None:
            return chart_solid(self.measured)
        assert self.white is not None and self.black is not None and self.solids is not None
        return mixed(self.white, self.black, self.solids)

    @property
    def neutral_black(self) -> float:
        """L*, media-relative, of the darkest neutral the paper holds, where compensation puts black."""
        return self.solid.black_L

    @property
    def white_reflectance(self) -> float:
        """Luminous reflectance Y of bare paper, 0..1."""
        assert self.white is not None
        return float(luminance_from_lightness(self.white[0]))

    @cached_property
    def fingerprint(self) -> str:
        """A stable hash of all that bears on a print; titles and paths do not."""
        known = repr((self.surface, self.native_ppi, self._colours, *((self.grey_ramp,) if self.grey_ramp else ())))
        return hashlib.blake2b(known.encode(), digest_size=16).hexdigest()

    @cached_property
    def _colours(self) -> str:
        """A stable hash of what the solid is made from."""
        digest = hashlib.blake2b(repr((self.white, self.black)).encode(), digest_size=16)
        if self.solids is not None:
            digest.update(repr([self.solids[name] for name in SOLIDS]).encode())
        if self.measured is not None:
            digest.update(self.measured.fingerprint.encode())
        if self.profile is not None:
            digest.update(self.profile)
        return digest.hexdigest()

    def __eq__(self, other: object) -> bool:
        same = isinstance(other, Paper) and self.fingerprint == other.fingerprint
        return same and (self.title, self.source) == (other.title, other.source)  # type: ignore[attr-defined]

    def __hash__(self) -> int:
        return hash(self.fingerprint)

    def _repr_html_(self) -> str:
        return html_table(self.title or "Paper", self.rows)

    @property
    def rows(self) -> list[tuple[str, str]]:
        """What it is, in words and units."""
        assert self.white is not None and self.black is not None
        return [
            ("surface", str(self.surface)),
            ("white, Lab D50", ", ".join(f"{v:.1f}" for v in self.white)),
            ("black, Lab D50", ", ".join(f"{v:.1f}" for v in self.black)),
            ("darkest neutral, relative to white", f"L* {self.neutral_black:.1f}"),
            ("gamut", f"{self.solid.volume / 1000:.0f} thousand cubic dE*ab"),
            ("fed with", f"{self.native_ppi:g} pixels per inch"),
            ("certainty", self.certainty),
            *([("source", self.source)] if self.source else []),
        ]

    def __getstate__(self) -> dict[str, Any]:
        return {k: v for k, v in self.__dict__.items() if k != "solid"}  # rebuilt where it is needed


def _beside(folder: Path | Traversable | None, name: str) -> Path | Traversable:
    """A file named from a preset's folder; ``..`` steps up, also within an installed package."""
    path = Path(name)
    if path.is_absolute() or folder is None or isinstance(folder, Path):
        return path if path.is_absolute() else (folder or Path()) / path
    here: Any = folder
    for part in path.parts:
        here = here.parent if part == ".." else here / part
    return here  # type: ignore[no-any-return]
