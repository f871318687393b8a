"""The whole demo: paint the scene, prepare it for two papers and two rooms, draw what that does."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep.check.verdict import verdict
from printprep.compose import pipeline
from printprep.conditions.sheet import Sheet
from printprep.demo.pictures import side_by_side, whole
from printprep.demo.scene import MEGAPIXELS, paint
from printprep.errors import OutputError, OutsideError
from printprep.files.png import png
from printprep.jobs.prepare import prepare
from printprep.jobs.strips import strip
from printprep.page.pictures import save
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.pipe import Pipeline

PAPERS = ("gloss", "cotton-rag")
ROOMS = ("studio-check", "evening-sitting-room")

_SHEET_SIDE = 1400
"""Longer side of the pictures of sheets, pixels."""

_JOBS = tuple((paper, room) for paper in PAPERS for room in ROOMS)


@dataclass(frozen=True)
class Made:
    """A file of the demo, what it shows in a few words, and whether it is a picture to look at."""

    path: Path
    shows: str
    look: bool = False


def run(
    folder: Path,
    *,
    megapixels: float = MEGAPIXELS,
    overwrite: bool = False,
    threads: int | None = None,
    tell: Callable[[str], None] = lambda text: None,
) -> list[Made]:
    """Paint, prepare and draw.

    Parameters
    ----------
    folder : Path
        Where to put everything; made if it is missing.
    megapixels : float
        Size of the scene.
    overwrite : bool
        Replace files of an earlier run.
    threads : int, optional
        All cores if not given.
    tell : callable
        Told what is being done, a few words at a time.

    Returns
    -------
    list of Made
        What was made, pictures first.

    Raises
    ------
    OutputError
        If a file of the demo is there already and may not be replaced, or the folder is none.
    OutsideError
        If it cannot be written. Whatever fails, files that this run had made are removed.
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
    pool = ThreadPoolExecutor(1)  # pages are drawn while the next file is prepared
    try:
        tell("painting the scene")
        scene = paint(megapixels, threads)
        edit = Photo.from_array(scene, "ROMM RGB", ppi=360.0)
        edit.write(paths["tif"], overwrite=overwrite, threads=threads)
        looks = [Made(paths["png"], "the edit", look=True)]
        files = [Made(paths["tif"], f"the edit: {edit.width} x {edit.height}, 16-bit, {edit.profile}")]
        drawn = []
        for paper, room in _JOBS:
            tell(f"preparing for {paper}, {room}")
            target, page = (paths[f"{paper}.{room}.{kind}"] for kind in ("tif", "png"))
            pipe = pipeline(paper=paper, room=room)
            done = prepare(paths["tif"], target, pipe, overwrite=overwrite, threads=threads)
            pipe = done.pipe or pipe
            found = verdict(done.before, done.after, edit.profile, pipe)
            picture = partial(side_by_side, scene, np.asarray(read(target)), edit.profile, pipe, found)
            drawn.append(pool.submit(_draw, page, overwrite, picture))
            looks.append(Made(page, "the edit; the print left alone, and prepared", look=True))
            files.append(Made(target, f"prepared: {found.changed}"))
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
            page, sheet = paths[f"{what}.png"], paths[f"{what}.tif"]
            drawn.append(pool.submit(_draw, page, overwrite, partial(_page, sheet, hung)))
            looks.append(Made(page, shows, look=True))
            files.append(Made(sheet, "the same, to print"))
        tell("drawing pictures")
        drawn.append(pool.submit(_draw, paths["png"], overwrite, partial(whole, scene, edit.profile, pipe)))
        for each in drawn:
            each.result()
        return looks + files
    except BaseException:
        pool.shutdown(cancel_futures=True)
        for path in set(paths.values()) - set(there):
            path.unlink(missing_ok=True)
        if fresh:
            with suppress(OSError):
                folder.rmdir()
        raise
    finally:
        pool.shutdown()


def _page(path: Path, pipe: Pipeline) -> NDArray[np.uint8]:
    """A sheet small, for a screen."""
    photo = read(path)
    return whole(np.asarray(photo), photo.profile, pipe, _SHEET_SIDE)


def _draw(path: Path, overwrite: bool, picture: Callable[[], NDArray[np.uint8]]) -> None:
    save(path, png(picture()), (".png",), overwrite=overwrite)
