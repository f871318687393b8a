"""How file names and text taken from files are shown: on one line, nothing that a terminal obeys."""

from __future__ import annotations

import os
from os import PathLike

_LONGEST = 600
"""Characters of a path that are shown; a file's name alone has 255 at most."""

AnyPath = str | bytes | PathLike[str] | PathLike[bytes]


def shown(path: AnyPath) -> str:
    """A file's name in quotes, with everything unprintable escaped.

    >>> print(shown(b"win\\xffter\\n.tif"))
    'win\\udcffter\\n.tif'
    """
    text = repr(os.fsdecode(path))
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST // 2]}...{text[-_LONGEST // 2 :]}"


def printable(text: str, limit: int = 80, keep: str = "") -> str:
    r"""Text from a file, everything but what is in `keep` escaped, cut to `limit` characters.

    >>> print(printable("red\x1b[31m"))
    red\x1b[31m
    """
    short = text if len(text) <= limit else text[: limit - 3] + "..."
    if short.isprintable():  # nearly always, and pictures in pages are millions of characters long
        return short
    return "".join(c if c.isprintable() or c in keep else c.encode("unicode_escape").decode("ascii") for c in short)
