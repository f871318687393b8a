"""Every error that printprep raises, as one tree.

PrintprepError
├── InputError       the photo, profile or measurement handed in cannot be used
│   └── AlreadyPrepared  the photo is no edit: it carries our job ticket
├── OutputError      nothing was written, because the place or name will not do
├── OutsideError     the run failed for outside reasons: disk, permission, memory
├── ParameterError   one named value is of the wrong kind or out of its range
├── UnknownName      a paper, room, step or key that does not exist
└── PresetError      any of these, found in a preset file

Each carries where, what is wrong and what to do as fields; ``str(error)`` joins them to one line:
``where: what is wrong; what to do``.
"""

from __future__ import annotations

from collections.abc import Iterable
from copy import copy
from typing import Self

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
    """The base of all errors that a user may cause and mend.

    Parameters
    ----------
    what : str
        What is wrong.
    where : str
        The file, table or value that is wrong, as messages show it; empty where `what` says so.
    do : str
        What to do; ``{way}`` in it stands for `way`.
    way : str
        The argument that would let the call pass, such as ``overwrite=True``. Whoever offers the call under
        another name, as the command line does, puts its own word there.

    Examples
    --------
    >>> import printprep as pp
    >>> try:
    ...     pp.paper("glos")
    ... except pp.PrintprepError as error:
    ...     print(error)
    'glos': unknown paper; did you mean gloss?
    """

    exit_code = 2
    """Exit status of the command that ends with this error."""

    def __init__(self, what: str, *, where: str = "", do: str = "", way: str = "") -> None:
        super().__init__(what)
        self.what, self.where, self.way = what, where, way
        self._do = do

    @property
    def do(self) -> str:
        """What to do; empty where nothing is said."""
        return self._do.replace("{way}", self.way)

    @property
    def fault(self) -> str:
        """Where, and what is wrong, without what to do."""
        return f"{self.where}: {self.what}" if self.where else self.what

    def line(self, way: str | None = None) -> str:
        """The whole message, with another word for `way`.

        Examples
        --------
        >>> import printprep as pp
        >>> try:
        ...     pp.read("edit.tif").write("edit.tif")
        ... except pp.PrintprepError as error:
        ...     print(error.line())
        'edit.tif': is the input itself; choose another name
        """
        do = self._do.replace("{way}", self.way if way is None else way)
        return f"{self.fault}; {do}" if do else self.fault

    def within(self, where: str) -> Self:
        """The same error, found in something larger: a file, a table.

        Examples
        --------
        >>> import printprep as pp
        >>> print(pp.InputError("is empty", where="[room]").within("'hall.toml'"))
        'hall.toml': [room]: is empty
        """
        wider = copy(self)
        wider.where = f"{where}: {self.where}" if self.where else where
        return wider

    def __str__(self) -> str:
        return self.line()


class InputError(PrintprepError):
    """A file that was handed in cannot be used.

    Examples
    --------
    >>> import printprep as pp
    >>> pp.read("none.tif")
    Traceback (most recent call last):
        ...
    printprep.errors.InputError: 'none.tif': does not exist; check the name
    """


class AlreadyPrepared(InputError):
    """A photo that is prepared already was to be prepared; what it would gain twice would spoil it.

    Examples
    --------
    >>> import printprep as pp
    >>> pipe = pp.pipeline(paper="gloss")
    >>> _ = pp.prepare("edit.tif", "print.tif", pipe)
    >>> try:
    ...     pipe(pp.read("print.tif"))
    ... except pp.AlreadyPrepared as error:
    ...     print(error)
    'print.tif': is prepared already; take the edit that it was made from, or pass again=True
    """


class OutputError(PrintprepError):
    """The output cannot be written where it was asked for; nothing was changed.

    Examples
    --------
    >>> import printprep as pp
    >>> pp.read("edit.tif").write("edit.tif")
    Traceback (most recent call last):
        ...
    printprep.errors.OutputError: 'edit.tif': is the input itself; choose another name
    """


class OutsideError(PrintprepError):
    """The run failed for outside reasons: a full disk, a missing permission, too little memory.

    Examples
    --------
    >>> import printprep as pp
    >>> issubclass(pp.OutsideError, pp.PrintprepError), pp.OutsideError.exit_code
    (True, 1)
    """

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
    do : str
        What to do.

    Examples
    --------
    >>> import printprep as pp
    >>> pp.Room(illuminance_lux=-5)
    Traceback (most recent call last):
        ...
    printprep.errors.ParameterError: illuminance_lux = -5: must be a number, 0.1 to 200000 (lux); correct it
    """

    def __init__(self, key: str, value: object, reason: str, do: str = "correct it") -> None:
        super().__init__(f"{_short(key, quoted=False)} = {_short(value)}: {reason}", do=do)
        self.args = key, value, reason, do  # what pickle and copy make it anew from
        self.key, self.value, self.reason = key, value, reason


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

    Examples
    --------
    >>> import printprep as pp
    >>> try:
    ...     pp.room("ofice")
    ... except pp.UnknownName as error:
    ...     print(error.name, "office" in error.known)
    ofice True
    """

    def __init__(self, kind: str, name: str, known: Iterable[str]) -> None:
        from difflib import get_close_matches

        name, names = str(name), sorted(known)
        spelt = {each.casefold(): each for each in names}
        near = get_close_matches(name[:_SHOWN].casefold(), spelt, n=1)
        hint = f"did you mean {spelt[near[0]]}?" if near else f"known: {', '.join(names) or 'none'}"
        super().__init__(f"unknown {kind}", where=_short(name), do=hint)
        self.args = kind, name, names
        self.kind, self.name, self.known = kind, name, names


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
    do : str
        What to do; what `cause` says, if not given.

    Examples
    --------
    >>> from pathlib import Path
    >>> import printprep as pp
    >>> _ = Path("hall.toml").write_text("[room]\\nilluminance_lux = -5\\n")
    >>> try:
    ...     pp.room("hall.toml")
    ... except pp.PresetError as error:
    ...     print(error)
    'hall.toml': [room] illuminance_lux = -5: must be a number, 0.1 to 200000 (lux); correct it
    """

    def __init__(self, file: str, table: str, cause: PrintprepError | str, do: str = "") -> None:
        known = cause if isinstance(cause, PrintprepError) else PrintprepError(cause)
        do = do or known._do or "correct it"
        super().__init__(f"{table} {known.fault}".lstrip(), where=repr(file), do=do, way=known.way)
        self.args = file, table, cause, do
        self.file, self.table, self.cause = file, table, cause


def expect(key: str, value: object, kind: type | tuple[type, ...], reason: str, do: str = "correct it") -> None:
    """Refuse a value of another kind by its name, before something deep below stumbles over it."""
    if not isinstance(value, kind):
        raise ParameterError(key, value, reason, do)


def out_of_memory(error: BaseException) -> bool:
    """Whether an error, of whatever library, says that memory ran out."""
    said = str(error).lower()
    if isinstance(error, MemoryError) or any(words in said for words in _MEMORY):
        return True
    return error.__cause__ is not None and out_of_memory(error.__cause__)
