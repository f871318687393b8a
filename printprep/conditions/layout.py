"""Where a picture lies on its sheet, to the pixel, and what that means to whoever looks at it."""

from __future__ import annotations

from dataclasses import dataclass

from printprep.conditions import lengths
from printprep.conditions.sheet import STAPLED_MM, Sheet
from printprep.errors import PrintprepError

CLOSE_PPI, ARM_PPI = 240.0, 100.0
"""Pixels of the edit per inch of print that look sharp close to, and those under which pixels show when one steps up:
an eye of acuity 1.0 tells 60 lines a degree apart, 220 pixels per inch at 40 cm, 90 at 1 m (common practice)."""

_LEAST_PIXELS = 16
_SIDE_MM, _FEED_MM = 5.0, 15.0
"""Margins under which some printers smear or cut, at the sides and at the ends of the feed (common practice, no
source)."""

Box = tuple[int, int, int, int]
"""Left, top, width, height."""


@dataclass(frozen=True)
class Layout:
    """A picture on its sheet, of which resolution and distance are decided.

    Width and height of the sheet as it lies are in mm and pixels; of stretched canvas, with what goes over the bars.
    `picture` is where the picture is on it, or the canvas's face, in pixels; `wrap` by how many pixels it goes on,
    mirrored, on each side. `edit` is the edit's width and height in its own pixels, and `part` what of it is shown.
    """

    sheet: Sheet
    sheet_mm: tuple[float, float]
    width: int
    height: int
    picture: Box
    wrap: int
    part: tuple[float, float, float, float]
    edit: tuple[int, int]

    @property
    def ppi(self) -> float:
        """Pixels per inch that the printer is fed with."""
        assert self.sheet.ppi is not None
        return self.sheet.ppi

    @property
    def picture_mm(self) -> tuple[float, float]:
        """Width and height of the picture, or of the canvas's face."""
        per_mm = self.ppi / 25.4 * (1 + self.sheet.shrink / 100)
        return self.picture[2] / per_mm, self.picture[3] / per_mm

    @property
    def edit_ppi(self) -> float:
        """Pixels of the edit per inch of print."""
        return self.part[2] / self.picture_mm[0] * 25.4

    def __str__(self) -> str:
        width, height = self.picture_mm
        said = f"{self.edit_ppi:.0f} ppi from your pixels"
        if self.edit_ppi >= CLOSE_PPI:
            good = "sharp close to"
        elif self.edit_ppi >= ARM_PPI:
            good = "good at arm's length" if self.edit_ppi >= 150 else "pixels may show when one steps up"
        else:
            good = "pixels show"
        cut = 1 - self.part[2] * self.part[3] / (self.edit[0] * self.edit[1])
        lost = f", {100 * cut:.0f} % of the picture cut away" if cut > 0.005 else ""
        return f"{self.sheet.size}, {width:.0f} x {height:.0f} mm picture{lost}, {said}: {good}"

    @property
    def told(self) -> dict[str, object]:
        """What a job ticket says of it: pixels per inch, metres, millimetres."""
        assert self.sheet.distance_m is not None
        return {
            "ppi": self.ppi,
            "distance_m": round(self.sheet.distance_m, 3),
            "picture_mm": [round(side, 1) for side in self.picture_mm],
            "edit_ppi": round(self.edit_ppi, 1),
        }

    @property
    def warnings(self) -> list[str]:
        """What may go wrong, one sentence each, with what to do."""
        found = []
        if self.edit_ppi < ARM_PPI:
            good = {name: mm for name, mm in lengths.SIZES.items() if self._fits(mm)}
            largest = max(good, key=lambda name: good[name]) if good else ""
            do = f"the largest sheet that is good is {largest}" if good else "it is too small for any usual sheet"
            found.append(f"{self.edit_ppi:.0f} of its pixels an inch are too few, they show; {do}")
        left, top, right, foot = self.sheet.margins
        if self.sheet.wrap_mm == 0 and (min(left, right) < _SIDE_MM or min(top, foot) < _FEED_MM):
            what = f"margins under {_SIDE_MM:g} mm at the sides or {_FEED_MM:g} mm at the ends may be smeared or cut"
            found.append(f"{what}; see what your printer can")
        return found

    def _fits(self, millimetres: tuple[float, float]) -> bool:
        """Whether the picture would have enough pixels on such a sheet."""
        left, top, right, foot = self.sheet.margins
        long, short = max(millimetres) - (top + foot), min(millimetres) - (left + right)
        scale = min(long / max(self.part[2:]), short / min(self.part[2:]))
        return scale > 0 and 25.4 / scale >= ARM_PPI


def laid_out(sheet: Sheet, width: int, height: int, native_ppi: float, room_distance_m: float) -> Layout:
    """Lay a picture of so many pixels out on a sheet that has a size; one too small for any print is refused.

    Resolution and distance are the sheet's, if it has them: else the paper's `native_ppi`, and from how far away the
    print is looked at in its room, metres.
    """
    if min(width, height) < _LEAST_PIXELS:
        raise PrintprepError(f"has {width} x {height} pixels, too few for a print", do="take a larger picture")
    ppi = sheet.ppi or native_ppi
    per_mm = ppi / 25.4 * (1 + sheet.shrink / 100)
    across, down = sheet.millimetres
    lies = width > height if sheet.orientation == "auto" else sheet.orientation == "landscape"
    if lies != (across > down) and across != down:
        across, down = down, across
    around = sheet.wrap_mm + STAPLED_MM if sheet.wrap_mm else 0.0
    left, top, right, foot = sheet.margins
    room_px = (across - left - right) * per_mm, (down - top - foot) * per_mm
    fill = sheet.fill or sheet.wrap_mm > 0
    scale = (max if fill else min)(room_px[0] / width, room_px[1] / height)
    box = [max(1, round(min(side * scale, most))) for side, most in zip((width, height), room_px, strict=True)]
    part = box[0] / scale, box[1] / scale
    part = min(part[0], float(width)), min(part[1], float(height))
    x, y = sheet.at
    sheet_mm = across + 2 * around, down + 2 * around
    size = round(sheet_mm[0] * per_mm), round(sheet_mm[1] * per_mm)
    place = (
        round((around + left) * per_mm + (room_px[0] - box[0]) / 2),
        round((around + top) * per_mm + (room_px[1] - box[1]) / 2),
    )
    diagonal = (box[0] ** 2 + box[1] ** 2) ** 0.5 / per_mm / 1000
    distance = sheet.distance_m or max(min(room_distance_m, diagonal, 1.0), 0.05)
    return Layout(
        Sheet(**{**vars(sheet), "ppi": ppi, "distance_m": distance}),
        sheet_mm,
        max(size[0], place[0] + box[0]),
        max(size[1], place[1] + box[1]),
        (place[0], place[1], box[0], box[1]),
        0 if sheet.wrap_plain else round(sheet.wrap_mm * per_mm),
        ((width - part[0]) * x, (height - part[1]) * y, part[0], part[1]),
        (width, height),
    )
