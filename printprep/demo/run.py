"""The whole demo: paint the scene, prepare it for two papers and two rooms, draw what that does."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep.check.proof import caption
from printprep.check.seen import OnScreen
from printprep.check.simulate import Simulation, simulation
from printprep.check.verdict import Verdict, verdict
from printprep.colour.profile import Profile
from printprep.compose import pipeline
from printprep.conditions.sheet import Sheet
from printprep.demo.scene import MEGAPIXELS, paint
from printprep.errors import OutputError, OutsideError
from printprep.files.png import png
from printprep.jobs.prepare import prepare
from printprep.jobs.strips import strip
from printprep.page.pictures import fitted, save
from printprep.page.sheet import GROUND, Captioned, sheet
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.pipe import Pipeline

Bytes = NDArray[np.uint8]
Codes = NDArray[np.uint16]

DETAILS = ((0.735, 0.36), (0.40, 0.215))
"""Left and top edge of what is shown at full size, as shares of the picture: deep shadows, strong colours."""

_WIDE, _GAP = 760, 18
"""Pixels across one picture on a page, and between two."""

PAPERS = ("gloss", "cotton-rag")
ROOMS = ("studio-check", "evening-sitting-room")

_SHEET_SIDE = 1400
"""Longer side of the pictures of sheets, pixels."""

_JOBS = tuple((paper, room) for paper in PAPERS for room in ROOMS)


@dataclass(frozen=True)
class DemoFile:
    """A file of the demo, what it shows in a few words, and whether it is a picture to look at."""

    path: Path
    shows: str
    look: bool = False


def run_demo(
    folder: Path,
    *,
    megapixels: float = MEGAPIXELS,
    overwrite: bool = False,
    threads: int | None = None,
    tell: Callable[[str], None] = lambda text: None,
) -> list[DemoFile]:
    """Paint the scene, prepare it and draw what that does, in a folder that is made if missing; pictures come first.

    `tell` hears what is being done, a few words at a time. A file of the demo that is there already is refused, unless
    `overwrite` allows replacing it. Whatever fails, files that this run had made are removed.
    """
    names = ["tif", "png", *(f"{paper}.{room}.{kind}" for paper, room in _JOBS for kind in ("tif", "png"))]
    names += [f"{what}.{kind}" for what in ("strip", "a4") for kind in ("tif", "png")]
    paths = {name: folder / f"lanterns.{name}" for name in names}
    there = [path for path in paths.values() if path.exists() or path.is_symlink()]
    if there and not overwrite:
        do = "choose another folder, or allow replacing it with {way}"
        raise OutputError("exists already", where=repr(str(there[0])), do=do, way="overwrite=True")
    fresh = not folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except FileExistsError:
        raise OutputError("is not a folder", where=repr(str(folder)), do="choose another name") from None
    except OSError as error:
        what = f"cannot be made ({error.strerror})"
        raise OutsideError(what, where=repr(str(folder)), do="check the place") from error

    def draw(path: Path, picture: Bytes, shows: str) -> None:
        save(path, png(picture), (".png",), overwrite=overwrite)
        looks.append(DemoFile(path, shows, look=True))

    looks = list[DemoFile]()
    try:
        tell("painting the scene")
        scene = paint(megapixels, threads)
        edit = Photo.from_array(scene, "ROMM RGB", ppi=360.0)
        edit.write(paths["tif"], overwrite=overwrite, threads=threads)
        files = [DemoFile(paths["tif"], f"the edit: {edit.width} x {edit.height}, 16-bit, {edit.profile}")]
        draw(paths["png"], whole(scene, edit.profile, pipeline(paper=PAPERS[0], room=ROOMS[0])), "the edit")
        for paper, room in _JOBS:
            tell(f"preparing for {paper}, {room}")
            target, page = (paths[f"{paper}.{room}.{kind}"] for kind in ("tif", "png"))
            pipe = pipeline(paper=paper, room=room)
            done = prepare(paths["tif"], target, pipe, overwrite=overwrite, threads=threads)
            pipe = done.pipe or pipe
            found = verdict(done.before, done.after, edit.profile, pipe)
            picture = side_by_side(scene, np.asarray(read(target)), edit.profile, pipe, found)
            draw(page, picture, "the edit; the print left alone, and prepared")
            files.append(DemoFile(target, f"prepared: {found.changed}"))
        tell("a test strip")
        hung = pipeline(paper=paper, room=room, sheet=Sheet(size="A4", caption=f"Lanterns, {paper}, {room}"))
        strip(
            paths["tif"], paths["strip.tif"], hung, "strength=0..1.2/4",
            overwrite=overwrite, threads=threads, compress="none",
        )  # fmt: skip
        tell("the finished sheet")
        done = prepare(paths["tif"], paths["a4.tif"], hung, overwrite=overwrite, threads=threads)
        for what, shows in (
            ("strip", "a test strip on A4: the whole preparation at four strengths, to be judged in the room"),
            ("a4", f"the finished sheet: {done.layout}, sharpened for the paper"),
        ):
            printed = read(paths[f"{what}.tif"])
            draw(paths[f"{what}.png"], whole(np.asarray(printed), printed.profile, hung, _SHEET_SIDE), shows)
            files.append(DemoFile(paths[f"{what}.tif"], "the same, to print"))
        return looks + files
    except BaseException:
        for path in set(paths.values()) - set(there):
            path.unlink(missing_ok=True)
        if fresh:
            with suppress(OSError):
                folder.rmdir()
        raise


# ---------------------------------------------------------------- pictures


def views(edit: Codes, ready: Codes, sim: Simulation) -> tuple[Bytes, Bytes, Bytes]:
    """A picture three times, in sRGB: the edit on its screen, the print left alone, the print prepared.

    `ready` are device values as handed over: what they print as is the same question as for the edit.
    """
    view = OnScreen(sim, light=True)
    return view.edit(edit), view.left_alone(edit), view.left_alone(ready)


def whole(edit: Codes, profile: Profile, pipe: Pipeline, longest: int = 2400) -> Bytes:
    """The whole edit in sRGB, its long side at most `longest` pixels; any job on it will do."""
    return OnScreen(simulation(profile.data, pipe)).edit(fitted(edit, longest))


def side_by_side(edit: Codes, ready: Codes, profile: Profile, pipe: Pipeline, found: Verdict) -> Bytes:
    """A page in sRGB: the whole picture and two details, each as edit, as print left alone, as print prepared."""
    sim = simulation(profile.data, pipe)
    height, width = edit.shape[:2]
    wide = min(width, _WIDE)
    high = max(1, round(wide * height / width))
    rows = [views(fitted(edit, _WIDE), fitted(ready, _WIDE), sim)]
    for left, up in DETAILS:
        y, x = min(round(up * height), height - high), min(round(left * width), width - wide)
        part = np.s_[y : y + high, x : x + wide]
        rows.append(views(edit[part], ready[part], sim))
    gap = np.full((_GAP, wide, 3), GROUND, np.uint8)
    columns = [np.concatenate([a, gap, b, gap, c]) for a, b, c in zip(*rows, strict=True)]
    words = (
        ("The edit", "as on the screen it was made on; below, two parts of it pixel for pixel"),
        ("Left alone", "the print, as it will look on the wall"),
        ("Prepared", f"the print, as it will look on the wall; changed: {found.changed}"),
    )
    panels = [Captioned(column, *said) for column, said in zip(columns, words, strict=True)]
    foot = f"{caption(pipe, light=True)}  ·  still loses: {found.loses}"
    return sheet(panels, foot=foot, across=3)
