"""One file of many: its error as a value, its verdict beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from printprep.errors import OutsideError, PrintprepError, out_of_memory
from printprep.files.names import shown
from printprep.jobs.prepare import Judge, Prepared, Progress, prepare, reason, standing
from printprep.photo.part import Part
from printprep.pipe import Pipeline

_ANEW = "is another edit than {} was made of, which was replaced: it has changed since, or only has the same name"


@dataclass(frozen=True)
class Options:
    """How every file of a batch is prepared; see `printprep.prepare`.

    Parameters
    ----------
    overwrite, compress, threads, assume, again, dated
        As for `printprep.prepare`.
    skip_done : bool
        As for `prepare_many`.
    judge : callable, optional
        As for `printprep.prepare`.
    repeated : bool
        Whether the job may have been done in this very run, by a worker that was lost before it could say so.
    parts : mapping of Path to Part
        By the whole path of an edit, what it is a panel of.
    """

    overwrite: bool = False
    skip_done: bool = False
    compress: str | None = None
    threads: int | None = None
    assume: str | Path | None = None
    judge: Judge | None = None
    again: bool = False
    dated: bool = False
    repeated: bool = False
    parts: Mapping[Path, Part] = field(default_factory=dict)



class Stopped(BaseException):
    """The batch was given up; raised inside a job so that it leaves nothing behind."""


def one(
    path: Path,
    output: Path,
    pipe: Pipeline,
    options: Options,
    progress: Progress | None = None,
) -> Prepared:
    """One job, its error as a value."""
    o, part = options, options.parts.get(path.absolute())
    try:
        found = standing(path, output, pipe, assume=o.assume, part=part) if o.skip_done or o.repeated else "none"
        if found == "done":
            return Prepared(path, output, skipped=True)
        anew = found == "outdated" and o.skip_done
        done = prepare(
            path, output, pipe, overwrite=o.overwrite or anew, compress=o.compress, threads=o.threads,
            assume=o.assume, again=o.again, dated=o.dated, progress=progress, judge=o.judge, part=part,
        )  # fmt: skip
    except PrintprepError as error:
        return Prepared(path, error=error)
    except MemoryError:
        return Prepared(path, error=_no_memory(path))
    except OSError as error:
        reason = error.strerror or "the system refused"
        return Prepared(path, error=OutsideError(reason, where=repr(str(path)), do="see to the disk"))
    except Stopped:
        return Prepared(path, error=_unfinished(path))
    if anew:
        done = replace(done, announcements=(*done.announcements, _ANEW.format(shown(output))))
    return done if o.judge is None else replace(done, pipe=None)


def away(
    path: Path, output: Path, pipe: Pipeline, options: Options, progress: Progress | None = None
) -> Prepared:
    """One job in another process; samples of pixels are not sent back."""
    done, none = one(path, output, pipe, options, progress), Prepared(path)
    return replace(done, before=none.before, after=none.after, pipe=None)


def _unfinished(path: Path, reason: str = "") -> OutsideError:
    do = "run again with {way}"
    return OutsideError(f"was not finished{reason}", where=repr(str(path)), do=do, way="skip_done=True")


def _no_memory(path: Path) -> OutsideError:
    return OutsideError("not enough memory", where=repr(str(path)), do="close other programs")


def lost(path: Path, error: Exception) -> Prepared:
    """A job whose worker ended, or that failed in a way nobody foresaw."""
    if out_of_memory(error):
        return Prepared(path, error=_no_memory(path))
    gone = _unfinished(path, f" ({reason(error)})")
    gone.__cause__ = error
    return Prepared(path, error=gone)
