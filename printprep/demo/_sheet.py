"""A page of pictures with type: placed to the pixel, set in matplotlib's own font."""

from __future__ import annotations

import textwrap
import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printprep.files.png import png
from printprep.files.sink import Sink

GROUND = (0.115, 0.115, 0.115)
"""Neutral dark grey, so that no colour is judged against a tint."""
TYPE = threading.Lock()
"""matplotlib sets type in one thread at a time."""

INK, FAINT, ACCENT = "#f2f2f0", "#b4b4b0", "#ffc46b"

Bytes = NDArray[np.uint8]


@dataclass
class Page:
    """Collects pictures and text, then writes one PNG.

    Parameters
    ----------
    width, height : int, pixels
        Size of the page.
    """

    width: int
    height: int
    _texts: list[tuple[float, float, str, dict[str, Any]]] = field(default_factory=list)
    _pictures: list[tuple[int, int, Bytes]] = field(default_factory=list)

    def text(
        self, x: float, y: float, words: str, size: float, *, ink: str = INK, bold: bool = False, columns: int = 0
    ) -> int:
        """Set text with its top left corner at (x, y); returns where the next line would begin.

        Parameters
        ----------
        x, y : float, pixels
            Top left corner.
        words : str
            What to set.
        size : float, pixels
            Height of the type.
        ink : str
            Its colour.
        bold : bool
            Its weight.
        columns : int
            Break lines after so many characters; 0 never.
        """
        lines = textwrap.wrap(words, columns) if columns else [words]
        for line in lines:
            how = {"size": size * 0.72, "color": ink, "weight": "bold" if bold else "normal", "va": "top", "ha": "left"}
            self._texts.append((x, y, line, how))
            y += size * 1.42
        return round(y)

    def picture(self, x: int, y: int, picture: Bytes) -> None:
        """Place a picture, (h, w, 3), with its top left corner at (x, y)."""
        self._pictures.append((x, y, picture))

    def drawn(self) -> Bytes:
        """The page as pixels, (height, width, 3)."""
        with TYPE:
            page = self._set()
        for x, y, picture in self._pictures:
            page[y : y + picture.shape[0], x : x + picture.shape[1]] = picture
        return page

    def _set(self) -> Bytes:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        figure = Figure(figsize=(self.width / 100, self.height / 100), dpi=100, facecolor=GROUND)
        canvas = FigureCanvasAgg(figure)
        for x, y, words, how in self._texts:
            figure.text(x / self.width, 1 - y / self.height, words, **how)
        canvas.draw()
        return np.array(canvas.buffer_rgba())[..., :3].copy()

    def write(self, path: Path, *, overwrite: bool) -> None:
        """Write the page as a PNG in sRGB; whole or not at all."""
        write_png(path, self.drawn(), overwrite=overwrite)


def write_png(path: Path, picture: Bytes, *, overwrite: bool) -> None:
    """Write a picture, (h, w, 3) in sRGB, as a PNG; whole or not at all.

    Raises
    ------
    OutputError
        If it exists and may not be replaced.
    OutsideError
        If it cannot be written.
    """
    with Sink(path, overwrite=overwrite, endings=(".png",)) as sink:
        sink.write(png(picture), 0)
        sink.publish()
