"""The sheet: how large the print is, where the picture lies on it, and how many pixels a millimetre holds."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import Annotated, Literal

from msgspec import Meta

from printprep.conditions import lengths
from printprep.errors import ParameterError
from printprep.parameters import Checked

Millimetres = Annotated[float, Meta(ge=0, le=2_000, description="millimetres")]

MARGIN_MM, FOOT_MM = 15.0, 25.0
"""Margins where none are asked for; the foot is wider, as mats are cut (common practice, no source)."""

STAPLED_MM = 10.0
"""Canvas beyond the bar's depth, to staple (common practice, no source)."""

ANCHORS: dict[str, tuple[float, float]] = {
    "centre": (0.5, 0.5), "center": (0.5, 0.5), "top": (0.5, 0.0), "bottom": (0.5, 1.0), "left": (0.0, 0.5),
    "right": (1.0, 0.5), "top-left": (0.0, 0.0), "top-right": (1.0, 0.0), "bottom-left": (0.0, 1.0),
    "bottom-right": (1.0, 1.0),
}  # fmt: skip
"""Which place of the picture stays where some of it must go, across and down."""


@dataclass(frozen=True, kw_only=True)
class Sheet(Checked):
    """What the picture is printed on, and how.

    Parameters
    ----------
    size : str, optional
        Of the sheet: a name of ISO 216 (A4), A3+, or sides with their unit (300x450mm, 8x10in); for canvas, of its
        face. Not given: the picture stays as many pixels as it has.
    margin_mm : float, optional
        White on all four sides; 15, and 25 at the foot, if not given. On stretched canvas there is none.
    fill : bool
        The picture fills what the margins leave and is cut to it; otherwise all of it is shown.
    anchor : str
        What stays where it is cut: centre, top, bottom, left, right, top-left ..., or ``x,y`` from 0,0 (top left) to
        1,1.
    orientation : {"auto", "portrait", "landscape"}
        How the sheet lies; as the picture does, if not asked.
    ppi : float, pixels per inch, 1 to 10000, optional
        What the printer is fed with; what the paper says if not given.
    distance_m : float, metres, 0.05 to 50, optional
        From where the print is looked at. Not given: the room's, but no more than the picture's diagonal and 1 m, for
        people step up; None where no size is known.
    wrap_mm : float
        Depth of the bars that canvas is stretched over; the picture goes on over them.
    wrap_plain : bool
        White over the bars, in place of the picture mirrored.
    shrink : float, percent
        By how much canvas shrinks as it dries and is stretched: it is printed larger by as much.
    keyline : bool
        A thin grey line round the picture, for pictures whose edge is as white as the paper.
    caption : str
        A line of text under the picture, outside it. In it ``{file}``, ``{paper}``, ``{room}`` and ``{date}`` stand
        for what they name; with the date, the same file made tomorrow has other bytes.

    Raises
    ------
    ParameterError
        If a value is none of these, or margins leave no room.

    Examples
    --------
    >>> Sheet(size="A4").millimetres
    (210.0, 297.0)
    """

    size: str | None = None
    margin_mm: Millimetres | None = None
    fill: bool = False
    anchor: str = "centre"
    orientation: Literal["auto", "portrait", "landscape"] = "auto"
    ppi: Annotated[float, Meta(ge=1, le=10_000, description="pixels per inch")] | None = None
    distance_m: Annotated[float, Meta(ge=0.05, le=50, description="metres")] | None = None
    wrap_mm: Annotated[float, Meta(ge=0, le=200, description="millimetres")] = 0.0
    wrap_plain: bool = False
    shrink: Annotated[float, Meta(ge=0, le=5, description="percent")] = 0.0
    keyline: bool = False
    caption: Annotated[str, Meta(max_length=300)] = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        self.at  # noqa: B018  (a wrong one is reported now)
        if self.size is None:
            for key in ("margin_mm", "fill", "wrap_mm", "shrink", "keyline", "caption"):
                if getattr(self, key) not in (None, False, 0.0, ""):
                    raise ParameterError(key, getattr(self, key), "needs a size", "say how large the sheet is")
            return
        width, height = self.millimetres
        if not (25 <= width <= 20_000 and 25 <= height <= 20_000):
            raise ParameterError("size", self.size, "must be 25 mm to 20 m each way")
        if self.wrap_mm and (self.margin_mm or self.keyline or self.caption):
            what = "stretched canvas has no margins, nothing lies beside the picture"
            raise ParameterError("wrap_mm", self.wrap_mm, what, "leave those out")
        left, top, right, foot = self.margins
        if left + right > width - 10 or top + foot > height - 10:
            what = f"leaves no picture on a sheet of {width:g} x {height:g} mm"
            raise ParameterError("margin_mm", left, what, "take smaller margins")

    @property
    def millimetres(self) -> tuple[float, float]:
        """Width and height of the sheet as written."""
        return lengths.size(self.size)

    @property
    def margins(self) -> tuple[float, float, float, float]:
        """Left, top, right and foot, millimetres."""
        if self.wrap_mm:
            return 0.0, 0.0, 0.0, 0.0
        side = MARGIN_MM if self.margin_mm is None else self.margin_mm
        return side, side, side, FOOT_MM if self.margin_mm is None else side

    def captioned(self, file: str, paper: str, room: str) -> Sheet:
        """The same with what its caption names put in.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.Sheet(size="A4", caption="{file} on {paper}").captioned("harbour", "Gloss", "office").caption
        'harbour on Gloss'
        """
        words = {"{file}": file, "{paper}": paper, "{room}": room}
        if "{date}" in self.caption:
            words["{date}"] = date.today().isoformat()
        caption = self.caption
        for key, word in words.items():
            caption = caption.replace(key, word)
        return self if caption == self.caption else replace(self, caption=caption[:300])

    @property
    def at(self) -> tuple[float, float]:
        """The anchor, across and down, 0..1."""
        if (named := self.anchor.strip().lower()) in ANCHORS:
            return ANCHORS[named]
        try:
            x, y = (float(part) for part in self.anchor.split(","))
        except ValueError:
            x = y = -1.0
        if not (0 <= x <= 1 and 0 <= y <= 1):
            raise ParameterError("anchor", self.anchor, "must be centre, top, bottom, left, right, top-left ... or x,y")
        return x, y

    @property
    def pixels_per_mm(self) -> float:
        """Pixels per millimetre of paper; of 360 pixels per inch where nothing is said."""
        return (self.ppi or 360.0) / 25.4
