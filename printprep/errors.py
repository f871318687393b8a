"""Every error that printprep raises, as one tree.

PrintprepError
├── InputError       the photo, profile or measurement handed in cannot be used
│   └── AlreadyPrepared  the photo is no edit: it carries our job ticket
├── OutputError      nothing was written, because the place or name will not do
├── OutsideError     the run failed for outside reasons: disk, permission, memory
├── ParameterError   one named value is of the wrong kind or out of its range
├── UnknownName      a paper, room, step or key that does not exist
└── PresetError      any of these, found in a preset file

``str(error)`` is the whole message, on one line: ``where: what is wrong; what to do``.
"""

from __future__ import annotations

from collections.abc import Iterable

_MEMORY = ("memory", "bad_alloc", "can't start new thread", "failed to map segment")
"""How libraries say that there is no more memory; a thread needs some for itself, a library for its code."""

_SHOWN = 60
"""Characters of a value or a name that a message repeats."""


def _short(value: object, *, quoted: bool = True) -> str:
    try:
        text = repr(value) if quoted or not str(value).isprintable() else str(value)
    except ValueError:  # a whole number of more than 4300 digits
        text = "a number of thousands of digits"
    text = " ".join(text.split("\n"))  # arrays are shown on several lines
    return text if len(text) <= _SHOWN else text[: _SHOWN - 3] + "..."


class PrintprepError(Exception):
    """The base of all errors that a user may cause and mend."""

    exit_code = 2
    """Exit status of the command that ends with this error."""


class InputError(PrintprepError):
    """A file that was handed in cannot be used."""


class AlreadyPrepared(InputError):
    """A photo that is prepared already was to be prepared; what it would gain twice would spoil it."""


class OutputError(PrintprepError):
    """The output cannot be written where it was asked for; nothing was changed."""


class OutsideError(PrintprepError):
    """The run failed for outside reasons: a full disk, a missing permission, too little memory."""

    exit_code = 1


class ParameterError(PrintprepError, ValueError):
    """One named value is of the wrong type, not finite, or out of its range.

    Parameters
    ----------
    key : str
        The parameter's name, as a user writes it.
    value : object
        What was given.
    reason : str
        What it must be, with the unit.
    """

    def __init__(self, key: str, value: object, reason: str) -> None:
        super().__init__(f"{_short(key, quoted=False)} = {_short(value)}: {reason}")
        self.key, self.value, self.reason = key, value, reason

    def __reduce__(self) -> tuple[type, tuple[str, object, str]]:
        return type(self), (self.key, self.value, self.reason)


class UnknownName(PrintprepError, LookupError):
    """A name that is not among those known; says which is nearest.

    Parameters
    ----------
    kind : str
        What the name should stand for: "paper", "room", "step", "key".
    name : str
        What was given.
    known : iterable of str
        The names that exist.
    """

    def __init__(self, kind: str, name: str, known: Iterable[str]) -> None:
        from difflib import get_close_matches

        names = sorted(known)
        near = get_close_matches(name[:_SHOWN], names, n=1)
        hint = f"did you mean {near[0]}?" if near else f"known: {', '.join(names) or 'none'}"
        super().__init__(f"{_short(name)}: unknown {kind}; {hint}")
        self.kind, self.name, self.known = kind, name, names

    def __reduce__(self) -> tuple[type, tuple[str, str, list[str]]]:
        return type(self), (self.kind, self.name, self.known)


class PresetError(PrintprepError):
    """Something is wrong in a preset file; names the file and the table.

    Parameters
    ----------
    file : str
        The preset's name or path.
    table : str
        The table at fault, such as ``[room]``; empty for the file as a whole.
    cause : PrintprepError or str
        What is wrong there.
    """

    def __init__(self, file: str, table: str, cause: PrintprepError | str) -> None:
        where = f"{file!r}: {table} " if table else f"{file!r}: "
        do = "" if ";" in str(cause) else "; correct it"
        super().__init__(f"{where}{cause}{do}")
        self.file, self.table, self.cause = file, table, cause

    def __reduce__(self) -> tuple[type, tuple[str, str, PrintprepError | str]]:
        return type(self), (self.file, self.table, self.cause)


def out_of_memory(error: BaseException) -> bool:
    """Whether an error, of whatever library, says that memory ran out."""
    said = str(error).lower()
    if isinstance(error, MemoryError) or any(words in said for words in _MEMORY):
        return True
    return error.__cause__ is not None and out_of_memory(error.__cause__)
