"""Whether the screen is set sensibly: the white that agrees with a print in its room, and a picture to check it."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from math import pi
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep import named
from printprep.arguments import output_path
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.viewing import luminance, white_luminance
from printprep.files.names import AnyPath
from printprep.files.sink import Sink
from printprep.results import Result
from printprep.targets.screen_picture import check_picture

COMMON = (80.0, 120.0)
"""White of a screen for print work, cd/m2: common practice, no source."""

ISO_ALONE = 80.0
"""Least white of a screen looked at without a print beside it, cd/m2: ISO 3664:2009."""

ISO_BESIDE = 160.0
"""Least white of a screen compared with a print under P2 (500 lx), cd/m2: ISO 3664, ISO 12646."""

DIM_LUX = (32.0, 64.0)
"""Light around a screen looked at alone, lux: should be and must be at most; ISO 3664, from memory."""


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
            ("White that agrees", f"<b>{self.white_cd_m2:.0f} cd/m²</b>"),
            ("Common practice", f"{low:.0f} to {high:.0f} cd/m²"),
            ("Light that agrees with it", f"{self.common_lux[0]:.0f} to {self.common_lux[1]:.0f} lx"),
            ("Print, white to black", f"{self.contrast:.0f} : 1"),
        ]
        body = "".join(f"<tr><th style='text-align:left'>{k}</th><td>{v}</td></tr>" for k, v in rows)
        said = [f"<b>{escape(self.warning)}</b>"] if self.warning else []
        said += [escape(line) for line in self.advice]
        title = escape(f"{self.paper}, {self.room}")
        return f"<table><caption>{title}</caption>{body}</table>" + "".join(f"<p>{line}</p>" for line in said)


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
    """Write the picture to check near-black and near-white with, as an 8-bit sRGB PNG.

    Parameters
    ----------
    path : path
        Must end in .png.
    width, height : int, pixels
        Of the screen: it must be shown unscaled; 640 by 400 to 16384 each way.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    ParameterError
        For a size out of range.
    OutputError, OutsideError
        If it cannot be written; nothing is left behind then.
    """
    from printprep.files.png import png

    data = png(check_picture(width, height), level=9)
    where = Path(output_path(path))
    with Sink(where, overwrite=overwrite, endings=(".png",)) as sink:
        sink.write(data, 0)
        sink.publish()
    return where


def picture(width: int = 1920, height: int = 1080) -> NDArray[np.uint8]:
    """The picture that `write_check` writes, (height, width, 3), sRGB."""
    return check_picture(width, height)
