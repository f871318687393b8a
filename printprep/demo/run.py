"""The whole demo: paint the scene, prepare it for two papers and two rooms, draw what that does."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep.check.verdict import verdict
from printprep.compose import Pipeline, pipeline
from printprep.demo import curves
from printprep.demo._sheet import write_png
from printprep.demo.pictures import Pair, side_by_side, whole
from printprep.demo.scene import MEGAPIXELS, paint
from printprep.errors import OutputError, OutsideError
from printprep.jobs.prepare import prepare
from printprep.photo import read
from printprep.photo.photo import Photo
from printprep.preset import load

PAPERS = ("gloss", "cotton-rag")
ROOMS = ("studio-check", "evening-sitting-room")

_NAME = "lanterns"
_PPI = 360.0


@dataclass(frozen=True)
class Made:
    """A file of the demo.

    Parameters
    ----------
    path : Path
        Where it is.
    shows : str
        What it is, in a few words.
    look : bool
        Whether it is a picture to look at.
    """

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
    jobs = [(paper, room) for paper in PAPERS for room in ROOMS]
    names = ["tif", "png", "tones.png", *(f"{p}.{r}.{kind}" for p, r in jobs for kind in ("tif", "png"))]
    paths = {name: folder / f"{_NAME}.{name}" for name in names}
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
    try:
        return _run(paths, jobs, megapixels, overwrite, threads, tell)
    except BaseException:
        for path in set(paths.values()) - set(there):
            path.unlink(missing_ok=True)
        if fresh:
            with suppress(OSError):
                folder.rmdir()
        raise


def _run(
    paths: dict[str, Path],
    jobs: list[tuple[str, str]],
    megapixels: float,
    overwrite: bool,
    threads: int | None,
    tell: Callable[[str], None],
) -> list[Made]:
    tell("painting the scene")
    scene = paint(megapixels)
    tell("writing the edit")
    edit = Photo.from_array(scene, "ROMM RGB", ppi=_PPI)
    edit.write(paths["tif"], overwrite=overwrite, threads=threads)
    looks = [Made(paths["png"], "the edit", look=True)]
    files = [Made(paths["tif"], f"the edit: {scene.shape[1]} x {scene.shape[0]}, 16-bit, {edit.profile}")]
    plots = []
    with ExitStack() as stack:
        pool = stack.enter_context(ThreadPoolExecutor(2))  # pages are drawn while the next file is prepared
        stack.callback(pool.shutdown, wait=False, cancel_futures=True)  # where the run ends early
        drawn = [pool.submit(lambda: write_png(paths["png"], whole(scene, edit.profile), overwrite=overwrite))]
        for paper, room in jobs:
            tell(f"preparing for {paper}, {room}")
            target = paths[f"{paper}.{room}.tif"]
            pipe = pipeline(paper=paper, room=room)
            done = prepare(paths["tif"], target, pipe, overwrite=overwrite, threads=threads)
            found = verdict(done.before, done.after, edit.profile, done.pipe or pipe)
            on_paper = f"{load(paper, 'paper').title} ({paper})"
            in_room = f"{load(room, 'room').title} ({room})"
            lux = f"{pipe.room.prepared_lux:g} lx"
            page = _Page(scene, target, pipe, f"{on_paper}  ·  {in_room}, {lux}", (found.changed, found.loses))
            drawn.append(pool.submit(page.write, paths[f"{paper}.{room}.png"], overwrite=overwrite))
            looks.append(
                Made(paths[f"{paper}.{room}.png"], "the edit; the print left alone, and prepared", look=True)
            )
            files.append(Made(target, f"prepared: {found.changed}"))
            plots.append((on_paper, f"{in_room[0].lower()}{in_room[1:]}, {lux}", curves.tones(pipe, edit.profile)))
        tell("drawing pictures")
        curves.write(paths["tones.png"], plots, overwrite=overwrite)
        for each in drawn:
            each.result()
    looks.append(Made(paths["tones.png"], "tone curves, and the steps that the eye can tell apart", look=True))
    return looks + files


@dataclass(frozen=True)
class _Page:
    """What a page of side-by-side pictures needs; drawn in a thread of its own."""

    scene: NDArray[np.uint16]
    prepared: Path
    pipe: Pipeline
    title: str
    verdict: tuple[str, str]

    def write(self, path: Path, *, overwrite: bool) -> None:
        ready = read(self.prepared)
        pair = Pair(self.scene, np.asarray(ready), ready.profile, self.pipe)
        side_by_side(pair, self.title, self.verdict).write(path, overwrite=overwrite)
