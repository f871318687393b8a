"""Whether the screen is set sensibly: the white that agrees with a print in its room, and a picture to check it."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from math import pi
from pathlib import Path
from typing import Annotated

import numpy as np
from msgspec import Meta
from numpy.typing import NDArray

from printprep import named
from printprep.arguments import output_path
from printprep.colour.icc import lab_from_device
from printprep.colour.profile import Profile
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.viewing import luminance, white_luminance
from printprep.files.names import AnyPath
from printprep.files.png import png
from printprep.page.pictures import save
from printprep.parameters import Checked
from printprep.results import Result, html_table
from printprep.targets.shapes import Block, Label, LabTuple, Lines, Raster, Shape

COMMON = (80.0, 120.0)
"""White of a screen for print work, cd/m2: common practice, no source."""

ISO_ALONE = 80.0
"""Least white of a screen looked at without a print beside it, cd/m2: ISO 3664:2009."""

ISO_BESIDE = 160.0
"""Least white of a screen compared with a print under P2 (500 lx), cd/m2: ISO 3664, ISO 12646."""

DIM_LUX = (32.0, 64.0)
"""Light around a screen looked at alone, lux: should be and must be at most; ISO 3664, from memory."""


DARK_CODES = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 18, 22)
"""8-bit codes on black (0)."""
LIGHT_CODES = (254, 253, 252, 251, 250, 249, 247, 245, 243, 240, 237, 233)
"""8-bit codes on white (255)."""
HALF_LIGHT = 188
"""The code that gives half the light of white: sRGB, IEC 61966-2-1, encodes 0.5 as 187.5."""


@dataclass(frozen=True)
class _Size(Checked):
    width: Annotated[int, Meta(ge=640, le=16_384, description="pixels")]
    height: Annotated[int, Meta(ge=400, le=16_384, description="pixels")]


@dataclass(frozen=True)
class ScreenAdvice(Result):
    """What the screen should be set to, and what to do where that will not do.

    Parameters
    ----------
    paper, room : str
        What they are called.
    white_cd_m2 : float, cd/m2
        Luminance of paper white in the room, which the screen's white would have to equal.
    black_cd_m2 : float, cd/m2
        Luminance of the print's black there.
    illuminance_lux : float, lux
        Light on the print.
    reflectance : float, 0..1
        Of the bare paper.
    glazed : bool
        Whether a pane is in front, which takes light and adds a veil; both are in the figures.
    common_cd_m2 : (float, float), cd/m2
        What is common practice.
    common_lux : (float, float), lux
        Light on this paper, without a pane, that would agree with either end of that.
    warning : str
        What conflicts; empty if nothing does.
    advice : tuple of str
        What to do, one sentence each.
    """

    paper: str
    room: str
    white_cd_m2: float
    black_cd_m2: float
    illuminance_lux: float
    reflectance: float
    glazed: bool
    common_cd_m2: tuple[float, float]
    common_lux: tuple[float, float]
    warning: str
    advice: tuple[str, ...]

    _also = ("contrast",)

    @property
    def contrast(self) -> float:
        """White of the print over its black, as the eye gets them."""
        return self.white_cd_m2 / self.black_cd_m2

    def __str__(self) -> str:
        low, high = self.common_cd_m2
        pane = ", through the pane" if self.glazed else ""
        lines = [
            f"{self.white_cd_m2:.0f} cd/m2  white of {self.paper} at {self.illuminance_lux:.0f} lx{pane}; "
            "a screen with this white agrees with the print",
            f"{low:.0f} to {high:.0f} cd/m2  common practice for print work; "
            f"prints under {self.common_lux[0]:.0f} to {self.common_lux[1]:.0f} lx agree with it",
            f"{self.contrast:.0f} : 1  white to black of the print there",
        ]
        return "\n".join(lines + ([f"warning: {self.warning}"] if self.warning else []) + list(self.advice))

    def _repr_html_(self) -> str:
        low, high = self.common_cd_m2
        rows = [
            ("White that agrees", f"{self.white_cd_m2:.0f} cd/m²"),
            ("Common practice", f"{low:.0f} to {high:.0f} cd/m²"),
            ("Light that agrees with it", f"{self.common_lux[0]:.0f} to {self.common_lux[1]:.0f} lx"),
            ("Print, white to black", f"{self.contrast:.0f} : 1"),
        ]
        said = [f"<b>{escape(self.warning)}</b>"] if self.warning else []
        said += [escape(line) for line in self.advice]
        return html_table(f"{self.paper}, {self.room}", rows) + "".join(f"<p>{line}</p>" for line in said)


def screen(paper: Paper | str | Path, room: Room | str | Path) -> ScreenAdvice:
    """The white luminance that makes a screen agree with a print in its room.

    Parameters
    ----------
    paper : Paper, str or Path
        The paper, or its name or path.
    room : Room, str or Path
        The room, its name or path, or ``lux=85``.

    Returns
    -------
    ScreenAdvice

    Raises
    ------
    PrintprepError
        If paper or room cannot be found or read.

    Notes
    -----
    ``L = E rho / pi`` for a matte (Lambertian) sheet of reflectance rho under E lux; a pane passes
    part of the light and adds a veil.

    Examples
    --------
    >>> round(screen("cotton-rag", "lux=500").white_cd_m2)
    144
    """
    sheet = paper if isinstance(paper, Paper) else named.paper(paper)
    place = room if isinstance(room, Room) else named.room(room)
    rho = sheet.white_reflectance
    white = white_luminance(sheet, place)
    low, high = (pi * end / rho for end in COMMON)
    warning, advice = _advice(white, place.prepared_lux, (low, high))
    return ScreenAdvice(
        paper=sheet.title or (paper if isinstance(paper, str) else "the paper"),
        room=room if isinstance(room, str) else f"{place.prepared_lux:.0f} lx",
        white_cd_m2=white,
        black_cd_m2=float(luminance(sheet.neutral_black, sheet, place)),
        illuminance_lux=place.prepared_lux,
        reflectance=rho,
        glazed=place.glazing != "none",
        common_cd_m2=COMMON,
        common_lux=(low, high),
        warning=warning,
        advice=tuple(advice),
    )


def _advice(white: float, lux: float, common_lux: tuple[float, float]) -> tuple[str, list[str]]:
    low, high = COMMON
    if white < low:
        warning = (
            f"{white:.0f} cd/m2 is darker than any screen should be set for editing "
            f"(ISO 3664: at least {ISO_ALONE:.0f} cd/m2)"
        )
        return warning, [
            f"Leave the screen at {low:.0f} to {high:.0f} cd/m2 and let printprep prepare the print for the room.",
            f"To compare print and screen side by side, light the print with {common_lux[0]:.0f} to "
            f"{common_lux[1]:.0f} lx; then judge it once more where it will hang.",
        ]
    if white <= high:
        return "", [
            f"Set the screen's white to {white:.0f} cd/m2.",
            f"Keep the light around the screen under {DIM_LUX[1]:.0f} lx, better {DIM_LUX[0]:.0f} (ISO 3664).",
        ]
    warning = f"{white:.0f} cd/m2 is brighter than common practice ({low:.0f} to {high:.0f} cd/m2)"
    beside = (
        f"To compare print and screen side by side, set the screen to {white:.0f} cd/m2 if it can "
        f"(ISO 12646: at least {ISO_BESIDE:.0f} beside a print under 500 lx), or dim the print's light to "
        f"{common_lux[1]:.0f} lx."
    )
    alone = (
        f"To edit without a print beside it, stay at {low:.0f} to {high:.0f} cd/m2: a screen that is too bright is the "
        "commonest cause of prints that look too dark (common practice)."
    )
    return warning, [beside, alone]


def write_check(path: AnyPath, *, width: int = 1920, height: int = 1080, overwrite: bool = False) -> Path:
    """Write the picture to check near-black and near-white with, an 8-bit sRGB PNG, whose name is given back.

    Width and height are the screen's, since it must be shown unscaled: 640 by 400 to 16384 pixels each way.
    """
    data = png(check_picture(width, height), level=9)
    save(path, data, (".png",), overwrite=overwrite)
    return Path(output_path(path))


def _grey(code: float) -> LabTuple:
    """The colour of an 8-bit code of sRGB."""
    return float(lab_from_device([code / 255] * 3, Profile.named("sRGB").data)[0]), 0.0, 0.0


def check_picture(width: int, height: int) -> NDArray[np.uint8]:
    """The picture that `write_check` writes, (height, width, 3), sRGB."""
    size = _Size(width, height)
    width, height = size.width, size.height
    shapes: list[Shape] = []
    u = min(width / 1920, height / 1080)
    upper = round(height * 0.62)
    half = width // 2
    shapes.append(Block(0, 0, half, upper, _grey(0)))
    shapes.append(Block(half, 0, width - half, upper, _grey(255)))
    dark = "In the light you work in, most of these should just part from black."
    light = "All of these should part from white; if not, lower the contrast."
    _patches(shapes, DARK_CODES, 0, half, upper, u, ("Near black", dark), _grey(118), _grey(90))
    _patches(shapes, LIGHT_CODES, half, width - half, upper, u, ("Near white", light), _grey(80), _grey(120))
    _lower(shapes, upper, width, height, u)
    return np.rint(Raster(shapes, width, height, 1.0, "sRGB").whole() / 257.0).astype(np.uint8)


def _patches(
    shapes: list[Shape], codes: tuple[int, ...], x: int, w: int, h: int, u: float, texts: tuple[str, str],
    ink: LabTuple, quiet: LabTuple,
) -> None:  # fmt: skip
    margin = round(70 * u)
    shapes.append(Label(x + margin, margin + 26 * u, texts[0], 34 * u, bold=True, lab=ink))
    shapes.append(Label(x + margin, margin + 66 * u, texts[1], 19 * u, lab=ink))
    top = margin + round(104 * u)
    gap, down = round(22 * u), round(52 * u)
    wide = (w - 2 * margin - 5 * gap) // 6
    high = (h - top - margin // 2 - 2 * down) // 2
    for i, code in enumerate(codes):
        left, up = x + margin + (i % 6) * (wide + gap), top + (i // 6) * (high + down)
        shapes.append(Block(left, up, wide, high, _grey(code)))
        shapes.append(Label(left + wide / 2, up + high + 26 * u, str(code), 20 * u, "centre", lab=quiet))


def _lower(shapes: list[Shape], top: int, width: int, height: int, u: float) -> None:
    """Greys to look for casts in, and lines of 1 pixel around the grey that gives as much light."""
    margin = round(70 * u)
    shapes.append(Block(0, top, width, height - top, _grey(HALF_LIGHT)))
    ink = _grey(40)
    side = height - top - 2 * margin
    field = width - margin - side * 1.6, top + margin, round(side * 1.6) // 2 * 2, side // 2 * 2
    left, up = round(field[0]), round(field[1])
    shapes.append(Lines(left, up, field[2], field[3], 2.0, 1.0, _grey(0), _grey(255), across=True))
    inner = field[3] // 2
    middle = left + (field[2] - inner) // 2, up + (field[3] - inner) // 2
    shapes.append(Block(*middle, inner, inner, _grey(HALF_LIGHT)))
    note = "Unscaled, from afar: the square should melt into the lines."
    shapes.append(Label(left + field[2], up + field[3] + 34 * u, note, 19 * u, "right", lab=ink))
    room = left - 2 * margin
    wide = room // 21
    high = round(side * 0.42)
    shapes.append(Label(margin, top + margin + 12 * u, "Greys, L* 0 to 100: no step may be tinted.", 19 * u, lab=ink))
    for i in range(21):
        lightness = (5.0 * i, 0.0, 0.0)
        shapes.append(Block(margin + i * wide, top + margin + round(34 * u), wide, high, lightness))
        at = margin + (i + 0.5) * wide
        shapes.append(Label(at, top + margin + high + round(62 * u), str(5 * i), 18 * u, "centre", lab=ink))
    note = "White should have the luminance that printprep screen names; measure it with a meter."
    shapes.append(Label(margin, top + margin + high + round(120 * u), note, 17 * u, lab=ink))
