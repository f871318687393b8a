"""Pages: templates, filled in so that nothing in a file's name or a preset can become more than letters."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from printprep.files.names import printable

if TYPE_CHECKING:
    from jinja2 import Environment


def filled(template: str, /, **values: object) -> str:
    """A page, which needs nothing from elsewhere."""
    return _environment().get_template(f"{template}.html.j2").render(values)


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("printprep.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_letters,
    )


def _letters(value: object) -> object:
    """Text without codes that a page obeys or that turn its direction; our own markup as it is."""
    return printable(value, len(value), keep="\xa0") if type(value) is str else value
