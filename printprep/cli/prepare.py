"""printprep prepare: the main job, on one file or many."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from printprep.cli._options import (
    Words,
    assume_option,
    chosen_pipeline,
    conditions_options,
    folder,
    named,
    one_plan,
    overwrite_option,
    pipeline_like,
    priced,
    say,
    threads_option,
    warn_of_basis,
)
from printprep.cli._options import result as show
from printprep.cli._sheet import Sheeted, sheet_options, sized

if TYPE_CHECKING:
    from concurrent.futures import Executor
    from contextlib import AbstractContextManager

    import numpy as np
    from numpy.typing import NDArray

    from printprep.check.verdict import Verdict
    from printprep.colour.profile import Profile
    from printprep.jobs.prepare import Prepared
    from printprep.photo.part import Part
    from printprep.pipe import Pipeline


@click.command(cls=Sheeted)
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@conditions_options
@sheet_options
@click.option(
    "-o",
    "--output",
    type=click.Path(),
    metavar="FILE or DIR",
    help="Where to write; beside the input as NAME.PAPER.ROOM.tif if not given. A DIR/ that is not there is made.",
)
@assume_option
@click.option(
    "--compress",
    type=click.Choice(["none", "deflate", "lzw", "zstd"]),
    help="How to store the output; as the input is by default.",
)
@threads_option
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Work on the machines of a Dask scheduler, which must see the files under the same paths.",
)
@click.option(
    "--skip-done",
    is_flag=True,
    help="Leave out files whose output is there already, made the same way; an edit that changed since is done again.",
)
@click.option(
    "--again", is_flag=True, help="Prepare even files that are prepared already, which are left out otherwise."
)
@click.option(
    "--like",
    type=click.Path(),
    metavar="OLD.tif",
    help="Prepare as the job ticket in OLD.tif tells; --paper, --set, --strength, --size change some of it.",
)
@click.option(
    "--as-series",
    is_flag=True,
    help="One plan for all FILES, which hang together in this order: what each picture would decide is decided once.",
)
@click.option(
    "--panels",
    is_flag=True,
    help="FILES, left to right, are panels of one picture: prepared as that would be, so that no seam shows.",
)
@click.option("--dated", is_flag=True, help="Let the job ticket say when it was prepared.")
@click.option("--log", is_flag=True, help="Add what was prepared to the log of prints; see printprep log.")
@overwrite_option
def command(
    files: tuple[Path, ...],
    words: Words,
    sheet: dict[str, object],
    output: str | None,
    assume: str | None,
    compress: str | None,
    threads: int | None,
    cluster: str | None,
    skip_done: bool,
    again: bool,
    like: str | None,
    as_series: bool,
    panels: bool,
    dated: bool,
    log: bool,
    overwrite: bool,
) -> int:
    """Prepare finished edits (16-bit TIFF) for one paper and one room.

    \b
    printprep prepare lanterns.tif --paper cotton-rag --room hallway
    printprep prepare lanterns.tif --paper gloss --size A3+ --margin 20mm
    printprep prepare *.tif --paper my-paper.icc --room lux=85 -o prepared/
    printprep prepare new-edit.tif --like hallway.tif -o hallway-2.tif
    """
    from contextlib import ExitStack

    from printprep.cli._progress import Progress
    from printprep.cli._workers import workers
    from printprep.cli.log import keeper
    from printprep.jobs.one import Options
    from printprep.jobs.prepare_many import Batch
    from printprep.photo.bands import limit_threads, thread_count

    limit_threads(threads)
    pipe = sized(chosen_pipeline(words) if like is None else pipeline_like(like, words, files[0]), sheet)
    parts = _parts(files, assume) if panels else {}
    if as_series and not panels:
        pipe, _ = one_plan(pipe, files, assume)
    jobs = _outputs(files, output, pipe)
    keep = keeper(log)
    options = Options(
        overwrite, skip_done, compress, threads, assume, judge=_judge, again=again, dated=dated, parts=parts
    )
    with ExitStack() as stack:
        stack.enter_context(folder(output))
        executor: Executor | None = None
        if cluster is not None:
            executor = stack.enter_context(_cluster(cluster))
        elif pool := workers(thread_count(threads), pipe, [path for path, _ in jobs]):
            executor, options = pool, replace(options, threads=pool.threads)
        progress = stack.enter_context(Progress(len(jobs)))
        batch = stack.enter_context(
            Batch(
                jobs,
                pipe,
                options,
                executor=executor,
                own=cluster is None,
                progress=lambda _, *pixels: progress.pixels(*pixels),
            )
        )
        tally = _Tally()
        try:
            for result in batch:
                progress.file(result.pixels if executor else 0)
                tally.add(result, keep)
        except BaseException:
            batch.close()
            if len(jobs) > 1:
                say(f"{batch.remaining} of {len(jobs)} files remain; run again with --skip-done to go on")
            raise
    return tally.end(files, pipe)


@dataclass
class _Tally:
    """What became of the files: the worst exit status, and how many were prepared, or were so already."""

    worst: int = 0
    done: int = 0
    left_out: int = 0

    def add(self, result: Prepared, keep: Callable[[Prepared], int]) -> None:
        """Tell of one, and count it."""
        from printprep.errors import AlreadyPrepared

        if isinstance(result.error, AlreadyPrepared):
            self.left_out += 1
            return
        self.worst = max(self.worst, _tell(result), keep(result))
        self.done += result.error is None

    def end(self, files: tuple[Path, ...], pipe: Pipeline) -> int:
        """Tell what is left to say of all, and the exit status."""
        from printprep.check.place import two_lights

        if self.left_out:
            self.worst = max(self.worst, _tell_left_out(self.left_out, files))
        if self.done:
            warn_of_basis(pipe)
            if (lights := two_lights(pipe)) is not None:
                say(str(lights))
            say(_dialogue(pipe))
        return self.worst


@dataclass(frozen=True)
class _Found:
    """What is told of a prepared file."""

    verdict: Verdict
    bare: str


def _judge(before: NDArray[np.uint16], after: NDArray[np.uint16], profile: Profile, pipe: Pipeline) -> _Found:
    """Both of a sample; runs where the file was prepared."""
    from printprep.check.bare import bare_paper
    from printprep.check.verdict import verdict

    sheet = pipe.sheet
    ways, bare = ("--keyline", "--set "), ""
    if sheet.size:
        bare = bare_paper(after, keyline=sheet.keyline, margins=not sheet.wrap_mm, ways=ways)
    return _Found(verdict(before, after, profile, pipe), bare)


def _parts(files: tuple[Path, ...], assume: str | None) -> dict[Path, Part]:
    """The picture that the panels make together, by the panel."""
    from printprep.jobs.series import as_panels
    from printprep.photo.read import read

    photos = as_panels([read(file, assume=assume) for file in files])
    return {file.absolute(): photo.part for file, photo in zip(files, photos, strict=True) if photo.part}


def _outputs(files: tuple[Path, ...], output: str | None, pipe: Pipeline) -> list[tuple[Path, Path]]:
    """Pairs of input and output."""
    from printprep.errors import OutputError
    from printprep.jobs.prepare import output_name
    from printprep.jobs.prepare_many import refuse_clashes

    if output is None:
        jobs = [(file, file.parent / output_name(file, pipe)) for file in files]
    elif not output:
        raise OutputError("names nothing", where="-o ''", do="give a file's name, or a folder's")
    elif output.endswith(os.sep) or os.path.isdir(output):  # noqa: PTH112  (Path raises for names that cannot be)
        jobs = [(file, Path(output) / output_name(file, pipe)) for file in files]
    elif len(files) > 1:
        do = f"several files need an existing folder, or a name ending in {os.sep}"
        raise OutputError("no such folder", where=repr(output), do=do)
    elif Path(output).suffix == "":
        what = "is no folder, and no name ending in .tif or .tiff"
        do = f"end it in {os.sep} to make a folder, or choose such a name"
        raise OutputError(what, where=repr(output), do=do)
    else:
        return [(files[0], Path(output))]
    refuse_clashes(jobs)
    return jobs


def _cluster(address: str) -> AbstractContextManager[Executor]:
    from printprep.jobs.cluster import cluster

    return cluster(address)


def _tell(result: Prepared) -> int:
    """Say what became of a file; its exit status."""
    name = repr(str(result.input))
    for line in result.announcements:
        say(f"{name}: {line}")
    if result.error is not None:
        say(result.error)
        return result.error.exit_code
    if result.skipped:
        say(f"{name}: done already, left as it is")
        return 0
    output, found = named(result.output or result.input), result.found
    if result.unjudged:
        show(output)
        say(f"{name}: is prepared, but what that changed could not be told ({result.unjudged}); look at the output")
        return 0
    size = f"\n  sheet: {result.layout}" if result.layout else ""
    bare = f"\n  bare paper: {found.bare}" if found.bare else ""
    show(f"{output}{size}{bare}\n  changed: {found.verdict.changed}\n  still loses: {found.verdict.loses}")
    for cost in found.verdict.costs:
        show(f"  costs: {priced(cost)}")
    return 0


def _tell_left_out(number: int, files: tuple[Path, ...]) -> int:
    """Say how many files are prepared already; one that was named alone is refused."""
    if len(files) == 1:
        say(f"{str(files[0])!r}: is prepared already; take the edit that it was made from, or add --again")
        return 2
    some = "1 is prepared already and was" if number == 1 else f"{number} are prepared already and were"
    say(f"of {len(files)} files {some} left out; add --again to prepare such files once more")
    return 0


def _dialogue(pipe: Pipeline) -> str:
    """What to set in the print dialogue for the hand-over that was used."""
    from printprep.ticket import dialogue

    return "when printing: " + dialogue(pipe.hand_over, pipe.paper)
