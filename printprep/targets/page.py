"""The page beside a target: how to print it, how to read it, and how each fault looks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep.colour.difference import ciede2000
from printprep.files.names import printable
from printprep.files.png import data_uri, png
from printprep.page.html import filled
from printprep.page.pictures import jpeg
from printprep.targets.faults import FAULTS, RIGHT, Fault, PrintChain
from printprep.targets.layout import TargetLayout
from printprep.targets.shapes import Gradient, Lines, Raster, Shape, ToPrint, unique_colours
from printprep.targets.signs import SIGNS, Sign

_SIDE_MM, _PER_MM = 30.0, 8.0
_FAR_MM = 0.9
"""How far lines melt into each other seen from some 4 m: about 0.8 minutes of arc (our choice)."""


def page(path: Path, layout: TargetLayout, ppi: float, chain: PrintChain, shapes: Sequence[Shape]) -> str:
    """The page of a target as one piece of HTML: how its shapes look under each fault on the chain's paper."""
    # every fourth node of a ramp is enough for a small picture
    small = [replace(s, nodes=tuple(r[::4] for r in s.nodes[::4])) if isinstance(s, Gradient) else s for s in shapes]
    asked = [*small, *(shape for sign in SIGNS for shape in _drawn(sign))]
    printers = {fault.key: _printer(chain, fault, asked) for fault in FAULTS}
    signs = {(s.key, f.key): _sign_picture(s, printers[f.key], f) for s in SIGNS for f in (RIGHT, *s.faults)}
    sheets = {f.key: _sheet_picture(layout, small, printers[f.key], f) for f in FAULTS}
    name = printable(path.name, 255)
    return filled(
        "target",
        title=f"Reading the test target {name}",
        name=name,
        values=printable(path.with_suffix(".txt").name, 255),
        layout=layout,
        ppi=ppi,
        paper=chain.paper.title or "this paper",
        certainty=chain.paper.certainty,
        model=chain.paper.profile is None,
        black=chain.printer.black,
        signs=SIGNS,
        faults=FAULTS,
        pictures={key: data_uri(png(picture, level=9), "png") for key, picture in signs.items()},
        sheets={key: data_uri(jpeg(picture, level=88), "jpeg") for key, picture in sheets.items()},
        steps=_lowest_step(chain),
        wedge="mid" not in layout.omitted,
    )


def _lowest_step(chain: PrintChain) -> dict[str, int]:
    """First number of the black ladder that parts from black by 1 CIEDE2000 on the print, under each fault."""
    ladder = np.arange(25)[:, None] * np.array([1.0, 0.0, 0.0])
    printed = {fault.key: chain.printed(ladder, fault) for fault in FAULTS}
    return {key: int(np.argmax([*(ciede2000(lab[0], lab) >= 1.0), True])) for key, lab in printed.items()}


def _printer(chain: PrintChain, fault: Fault, asked: Sequence[Shape]) -> ToPrint:
    """What the colours of some shapes look like on the print; worked out together, as most occur in many of them."""
    lab = unique_colours(asked)
    made = dict(zip(map(tuple, lab.tolist()), chain.printed(lab, fault), strict=True))
    return lambda lab: np.array([made[tuple(colour)] for colour in lab.tolist()])


def _drawn(sign: Sign) -> list[Shape]:
    return sign.draw(0.0, 0.0, _SIDE_MM, _PER_MM)


def _sign_picture(sign: Sign, to_print: ToPrint, fault: Fault) -> NDArray[np.uint8]:
    """A sign as printed; lines as they melt from afar."""
    shapes = _drawn(sign)
    lines = [s for s in shapes if isinstance(s, Lines)]
    if not lines:
        raster = Raster(shapes, _SIDE_MM, _SIDE_MM, _PER_MM, "sRGB", to_print)
        return (raster.whole() >> 8).astype(np.uint8)
    fine = Raster(lines, _SIDE_MM, _SIDE_MM, 2 * _PER_MM, "sRGB", to_print, fault.spread_mm)
    out = _melted(fine.whole(), _FAR_MM * 2 * _PER_MM)
    rest = [s for s in shapes if not isinstance(s, Lines)]
    Raster(rest, _SIDE_MM, _SIDE_MM, _PER_MM, "sRGB").onto(out)
    return (out >> 8).astype(np.uint8)


def _melted(rgb: NDArray[np.uint16], sigma: float) -> NDArray[np.uint16]:
    """Blurred in light (sRGB, IEC 61966-2-1) and reduced to half."""
    import cv2

    v = rgb.astype(np.float32) / 65535
    light = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)
    light = cv2.GaussianBlur(light, (0, 0), sigma, borderType=cv2.BORDER_REFLECT)
    light = light.reshape(light.shape[0] // 2, 2, light.shape[1] // 2, 2, 3).mean(axis=(1, 3))
    v = np.where(light <= 0.0031308, light * 12.92, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)
    return np.asarray(np.rint(np.clip(v, 0, 1) * 65535), np.uint16)


def _sheet_picture(layout: TargetLayout, shapes: Sequence[Shape], to_print: ToPrint, fault: Fault) -> NDArray[np.uint8]:
    per_mm = 1000 / max(layout.width, layout.height)
    raster = Raster(shapes, layout.width, layout.height, per_mm, "sRGB", to_print, fault.spread_mm)
    return (raster.whole() >> 8).astype(np.uint8)
