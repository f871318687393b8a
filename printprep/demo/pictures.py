"""Pictures that show what a preparation does: the edit, the print left alone, the print prepared."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from printprep.check.seen import edit_on_screen, printed, seen, shown_light
from printprep.colour.icc import lab_from_device
from printprep.colour.profile import Profile
from printprep.compose import Pipeline
from printprep.demo._sheet import ACCENT, FAINT, INK, Bytes, Page
from printprep.render.engine import Engine
from printprep.render.table import Table

Codes = NDArray[np.uint16]

DETAILS = (
    ("deep shadows", 0.735, 0.36),
    ("strong colours", 0.405, 0.215),
)
"""Parts of the scene that are shown at full size: what for, left and top edge as shares of the picture."""

_NODES = 33
"""Nodes a side of the tables that pictures are drawn with; a screen shows 8 bits."""

_WIDE, _DETAIL_TALL, _MARGIN, _GAP = 760, 400, 44, 18


@dataclass(frozen=True)
class Pair:
    """An edit and what was handed over for one paper and one room.

    Parameters
    ----------
    edit, ready : (height, width, 3) ndarray of uint16
        Device values before and after.
    profile : Profile
        Of both.
    pipe : Pipeline
        What was done.
    """

    edit: Codes
    ready: Codes
    profile: Profile
    pipe: Pipeline

    def views(self, part: tuple[slice, slice], size: tuple[int, int]) -> tuple[Bytes, Bytes, Bytes]:
        """A part of the picture three times: the edit on its screen, the print left alone, the print prepared.

        Parameters
        ----------
        part : tuple of slice
            Rows and columns.
        size : tuple of int
            Height and width to show it at.

        Returns
        -------
        tuple of (h, w, 3) ndarray of uint8
            sRGB.
        """
        import cv2

        edit, ready = (
            cv2.resize(codes[part], size[::-1], interpolation=cv2.INTER_AREA) for codes in (self.edit, self.ready)
        )
        wall = self._on_the_wall
        return _shown(edit, _on_screen(self.profile)), _shown(edit, wall), _shown(ready, wall)

    @cached_property
    def _on_the_wall(self) -> Engine:
        """From device values to the screen's, by way of paper and room."""
        chain = self.pipe.plan(self.profile).chain
        paper, room = self.pipe.paper, self.pipe.room
        return _engine(lambda nodes: seen(printed(chain.to_print(nodes), paper), paper, room))


@lru_cache(maxsize=4)
def _on_screen(profile: Profile) -> Engine:
    """From device values to the screen's: the edit itself."""
    return _engine(lambda nodes: edit_on_screen(np.asarray(lab_from_device(nodes, profile.data), np.float32)))


def whole(codes: Codes, profile: Profile, longest: int = 2400) -> Bytes:
    """The whole picture for an sRGB screen, its long side at most `longest` pixels."""
    import cv2

    height, width = codes.shape[:2]
    share = min(1.0, longest / max(height, width))
    size = (max(1, round(width * share)), max(1, round(height * share)))
    return _shown(cv2.resize(codes, size, interpolation=cv2.INTER_AREA), _on_screen(profile))


def _engine(look: Callable[[NDArray[np.float32]], NDArray[np.float32]]) -> Engine:
    """A table of how device values look, for pictures of any size."""
    axis = np.linspace(0, 1, _NODES, dtype=np.float32)  # ROMM RGB codes are about even in lightness
    nodes = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), -1)
    return Engine(Table(cube=np.ascontiguousarray(look(nodes), np.float32)))


def _shown(codes: Codes, engine: Engine) -> Bytes:
    out = np.array(codes, order="C")
    engine.apply(out)
    return np.rint(out / np.float32(257)).astype(np.uint8)


def side_by_side(pair: Pair, title: str, verdict: tuple[str, str]) -> Page:
    """A page with the whole picture and two details, each as edit, as print left alone, as print prepared.

    Parameters
    ----------
    pair : Pair
        Before and after.
    title : str
        The paper and the room.
    verdict : tuple of str
        What was changed, and what the print still loses.
    """
    height, width = pair.edit.shape[:2]
    tall = round(_WIDE * height / width)
    page_wide = 2 * _MARGIN + 3 * _WIDE + 2 * _GAP
    top = _MARGIN + 128
    page = Page(page_wide, top + tall + 2 * (_DETAIL_TALL + _GAP) + 196)
    page.text(_MARGIN, _MARGIN - 8, title, 36, bold=True)
    heads = (
        ("The edit", "as on the screen it was made on", INK),
        ("Left alone", "the print, as it will look on the wall", INK),
        ("Prepared", "the print, as it will look on the wall", ACCENT),
    )
    whole = (slice(0, height), slice(0, width))
    rows = [(whole, tall)]
    for _, left, up in DETAILS:
        wide = max(8, round(width * 0.18))
        high = max(4, round(wide * _DETAIL_TALL / _WIDE))
        y, x = round(up * height), round(left * width)
        rows.append(((slice(y, y + high), slice(x, x + wide)), _DETAIL_TALL))
    for column, (head, under, ink) in enumerate(heads):
        x = _MARGIN + column * (_WIDE + _GAP)
        page.text(x, _MARGIN + 56, head, 25, ink=ink, bold=True)
        page.text(x, _MARGIN + 90, under, 19, ink=FAINT)
    y = top
    for part, high in rows:
        for column, view in enumerate(pair.views(part, (high, _WIDE))):
            page.picture(_MARGIN + column * (_WIDE + _GAP), y, view)
        y += high + _GAP
    _captions(page, y + 6, pair.pipe, verdict)
    return page


def _captions(page: Page, y: int, pipe: Pipeline, verdict: tuple[str, str]) -> None:
    room = pipe.room
    share = shown_light(room, pipe.paper)
    lux = f"{room.prepared_lux:.0f} lx"
    if share < 1:
        light = (
            f"How this is shown: white under {lux} as {share:.0%} of white under "
            f"{room.reference.illuminance_lux:.0f} lx (the cube root of the ratio, about as the eye counts "
            "brightness), "
        )
    else:
        light = f"How this is shown: the light is that of the screen ({lux}), "
    light += "with the paper's own white and black, " + ("a veil for the glass, " if room.veil else "")
    light += "colours drawn for an sRGB screen. Lower rows: full size, pixel for pixel."
    page.text(_MARGIN, y, f"Changed: {verdict[0]}.", 21, columns=190)
    page.text(_MARGIN, y + 34, f"Still loses: {verdict[1]}.", 21, columns=190)
    page.text(_MARGIN, y + 76, light, 18, ink=FAINT, columns=230)
