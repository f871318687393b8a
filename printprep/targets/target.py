"""Our test target: a sheet with known values, printed unedited, and a page that says how to read it."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field
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
from printprep.errors import InputError, expect
from printprep.files.names import AnyPath, shown
from printprep.files.png import png
from printprep.files.sink import Sink
from printprep.page.pictures import can_save
from printprep.parameters import Checked, checked_call
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.photo.resolution import Resolution
from printprep.results import Result
from printprep.targets.faults import PrintChain
from printprep.targets.layout import SHEETS, TargetLayout, arrange, draw, sheet_size
from printprep.targets.shapes import Block, Disc, Raster, Shape

SPACE = "ROMM RGB"
"""Space of the file. It holds every colour of every paper, and colours beyond; its numbers, printed as they
are, look plainly wrong, where those of a smaller space look nearly right; and its white is the connection
space's own, so that no adaptation is among the things being tested."""

DETAIL = 4.0
"""Pixels per millimetre of the picture that scans are laid against: finer than the patches, coarser than ink dots."""


@dataclass(frozen=True)
class Patch:
    """One area of even colour.

    Parameters
    ----------
    name : str
        What it is, such as ``grey-050`` or ``stair-150-48`` (hue angle and chroma).
    x, y, w, h : float, mm
        A rectangle inside it, from the sheet's upper left corner.
    rgb : tuple of int
        16-bit values in the file.
    lab : tuple of float
        Lab, D50, media-relative, of those values.
    """

    name: str
    x: float
    y: float
    w: float
    h: float
    rgb: tuple[int, int, int]
    lab: tuple[float, float, float]


@dataclass(frozen=True)
class Target(Result):
    """A target that has been written.

    Parameters
    ----------
    path, values, page : Path
        The TIFF; its CGATS.17 values; the page on how to read it.
    layout : TargetLayout
        What is where, mm.
    ppi : float, pixels per inch
        Resolution.
    patches : tuple of Patch
        In the order of the CGATS.17 file.
    """

    path: Path
    values: Path
    page: Path
    layout: TargetLayout = field(repr=False)
    ppi: float
    patches: tuple[Patch, ...] = field(repr=False)

    _kept_out = ("layout",)

    def __str__(self) -> str:
        size = f"{self.layout.width:g} × {self.layout.height:g} mm"
        left_out = f"; too small for: {', '.join(self.layout.omitted)}" if self.layout.omitted else ""
        return f"{self.path}: {len(self.patches)} patches on {size} at {self.ppi:g} ppi, {SPACE}{left_out}"

    def preview(self, pixels: int = 900) -> NDArray[np.uint8]:
        """The sheet as sRGB, its longer side so many pixels."""
        shapes = draw(self.layout, self.ppi, SPACE)
        per_mm = pixels / max(self.layout.width, self.layout.height)
        raster = Raster(shapes, self.layout.width, self.layout.height, per_mm, "sRGB")
        return (raster.whole() >> 8).astype(np.uint8)

    def _repr_png_(self) -> bytes:
        return png(self.preview())


@dataclass(frozen=True)
class _Asked(Checked):
    ppi: Annotated[float, Meta(ge=100, le=1440, description="pixels per inch")]


@checked_call
def target(
    path: AnyPath,
    *,
    sheet: str = "A4",
    ppi: float = 360.0,
    paper: Paper | str | Path | None = None,
    overwrite: bool = False,
    compress: str = "lzw",
    threads: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Target:
    """Write a test target, its values and its page.

    Parameters
    ----------
    path : path
        Of the TIFF; the values go to the same name with ``.txt``, the page to ``.html``.
    sheet : str
        ``A6`` to ``A3+``, with ``-landscape`` after it to lie, or ``WIDTHxHEIGHT`` in mm (90 to 1300).
    ppi : float, pixels per inch, 100 to 1440
        What the printer wants to be fed with.
    paper : Paper, str or Path, optional
        What the pictures of the page are made for, or its name or path; the gloss preset if not given. The
        target itself is the same for all papers.
    overwrite : bool
        Whether existing files may be replaced.
    compress : str
        Compression of the TIFF.
    threads : int, optional
        As many as processors where not given.
    progress : callable, optional
        Called with pixels newly done and pixels in all, from any thread.

    Returns
    -------
    Target

    Raises
    ------
    ParameterError
        For a sheet or resolution out of range, or an argument of another kind.
    OutputError, OutsideError
        If the files cannot be written; none is left behind, unless the disk fails between giving the TIFF
        its name and giving the other two theirs.

    Examples
    --------
    >>> import printprep as pp
    >>> made = pp.target("target.tif", sheet="A6", ppi=150)
    >>> made.values.name, made.page.name, len(made.patches)
    ('target.txt', 'target.html', 308)
    """
    from printprep.targets.page import page

    ppi = _Asked(ppi).ppi
    expect("sheet", sheet, str, "must be a name such as A4, or 210x297 (mm)")
    layout = arrange(*sheet_size(sheet))
    tif = Path(output_path(path))
    profile = Profile.named(SPACE)
    on = paper if isinstance(paper, Paper) else named.paper("gloss" if paper is None else paper)
    can_save(tif, (".tif", ".tiff"), overwrite=overwrite)
    shapes = draw(layout, ppi, SPACE)
    raster = Raster(shapes, layout.width, layout.height, ppi / 25.4, SPACE)
    patches = _patches(shapes, raster, profile)
    done = Target(tif, tif.with_suffix(".txt"), tif.with_suffix(".html"), layout, ppi, patches)
    seen = 0

    def passed(rows: int) -> None:
        nonlocal seen
        if progress is not None:
            progress((rows - seen) * raster.width, raster.height * raster.width)
        seen = rows

    with ExitStack() as stack:
        beside = [
            stack.enter_context(Sink(at, overwrite=overwrite, endings=(at.suffix,))) for at in (done.values, done.page)
        ]
        html = page(tif, layout, ppi, PrintChain(on, profile), shapes)
        for sink, content in zip(beside, (_values(done), html), strict=True):
            sink.write(content.encode(), 0)
        photo = Photo(raster, profile, Resolution(ppi))
        photo.write(tif, overwrite=overwrite, compress=compress, threads=threads, progress=passed)
        for sink in beside:
            sink.publish()
    return done


def _values(made: Target) -> str:
    """Its values as CGATS.17 text (ISO 28178): RGB on 0..255, as usual, with enough decimals for 16 bits."""
    fields = "SAMPLE_ID SAMPLE_NAME RGB_R RGB_G RGB_B LAB_L LAB_A LAB_B"
    rows = [
        f"{number} {patch.name} " + " ".join(f"{v / 257:.4f}" for v in patch.rgb)
        + " " + " ".join(f"{v + 0.0:.4f}" for v in patch.lab)
        for number, patch in enumerate(made.patches, 1)
    ]  # fmt: skip
    size = f"{made.layout.width:g} x {made.layout.height:g} mm, {made.ppi:g} ppi"
    return "\n".join([
        "CGATS.17", 'ORIGINATOR "printprep"', f'DESCRIPTOR "printprep test target, {size}"', 'KEYWORD "COLOUR_SPACE"',
        f'COLOUR_SPACE "{SPACE} (ISO 22028-2), 16 bit, RGB on 0..255"', "",
        f"NUMBER_OF_FIELDS {len(fields.split())}", "BEGIN_DATA_FORMAT", fields, "END_DATA_FORMAT", "",
        f"NUMBER_OF_SETS {len(rows)}", "BEGIN_DATA", *rows, "END_DATA", "",
    ])  # fmt: skip


def _patches(shapes: list[Shape], raster: Raster, profile: Profile) -> tuple[Patch, ...]:
    """Named boxes and discs, with the values that the file really has."""
    named = [s for s in shapes if isinstance(s, (Block, Disc)) and s.name]
    codes = np.rint(np.array([raster.rgb(s.lab) for s in named]) * 65535)
    labs = lab_from_device(codes / 65535, profile.data)
    made = []
    for shape, code, lab in zip(named, codes.astype(int).tolist(), labs.tolist(), strict=True):
        if isinstance(shape, Block):
            area = shape.x, shape.y, shape.w, shape.h
        else:
            half = shape.r * 0.7
            area = shape.x - half, shape.y - half, 2 * half, 2 * half
        made.append(Patch(shape.name, *area, tuple(code), tuple(lab)))
    return tuple(made)


# ---------------------------------------------------------------- known again


@dataclass(frozen=True)
class Known:
    """A target that was written before; `lightness` is L* of its sheet, `DETAIL` pixels per millimetre."""

    layout: TargetLayout
    ppi: float
    patches: tuple[Patch, ...]
    lightness: NDArray[np.float32]

    @property
    def sheet(self) -> str:
        """Its size, as `printprep.target` takes it."""
        return f"{self.layout.width:g}x{self.layout.height:g}"


def known_target(path: AnyPath) -> Known:
    """Know the TIFF of a target again by its own pixels.

    Refused where it is no target, was worked on, or is of a version that laid it out in another way.
    """
    import cv2

    photo = read(path)
    pixels = np.asarray(photo)
    for width, height in _sizes(photo):
        layout = arrange(width, height)
        shapes = draw(layout, photo.resolution.ppi, SPACE)
        raster = Raster(shapes, width, height, photo.resolution.pixels_per_mm, SPACE)
        if (raster.height, raster.width) == pixels.shape[:2] and np.array_equal(raster.whole(), pixels):
            break
    else:
        what = "is no test target of this version as it was written"
        raise InputError(what, where=shown(path), do="name the TIFF of a target, as it was written")
    size = round(width * DETAIL), round(height * DETAIL)
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    lightness = lab_from_device(small / np.float32(65535), photo.profile.data)[..., 0].astype(np.float32)
    return Known(layout, photo.resolution.ppi, _patches(shapes, raster, photo.profile), lightness)


def _sizes(photo: Photo) -> list[tuple[float, float]]:
    """Sheets, mm, that come to so many pixels: those with a name, else whole millimetres and tenths."""
    per_mm = photo.resolution.pixels_per_mm
    wide, high = photo.width / per_mm, photo.height / per_mm
    named = [size for w, h in SHEETS.values() for size in ((w, h), (h, w))]
    typed = [(float(round(wide, digits)), float(round(high, digits))) for digits in (0, 1)]
    return [(w, h) for w, h in dict.fromkeys((*named, *typed)) if max(abs(w - wide), abs(h - high)) * per_mm <= 1.5]
