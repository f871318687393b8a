"""What results have in common: plain values, JSON, a line of text, and how a notebook shows them."""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from html import escape
from math import isfinite
from pathlib import PurePath
from typing import Any, ClassVar


class Result:
    """Mixed into dataclasses that are handed out: what each field means and its unit stand in the class's docstring."""

    _kept_out: ClassVar[tuple[str, ...]] = ()
    """Fields that are no plain values and stay out of `to_dict`, such as pixels."""

    _also: ClassVar[tuple[str, ...]] = ()
    """Properties that `to_dict` tells beside the fields."""

    def to_dict(self) -> dict[str, Any]:
        """The fields by name, as plain values that JSON can hold; units as in the class's docstring.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.Reference(screen_white_cd_m2=120).to_dict()["illuminance_lux"]
        500.0
        """
        return _of_fields(self)

    def to_json(self) -> str:
        """The same as JSON text.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.presets("room")[0].to_json()[:40]
        '{"name": "evening-sitting-room", "kind":'
        """
        return json.dumps(self.to_dict(), allow_nan=False)

    def _repr_html_(self) -> str:
        picture, text = getattr(self, "_repr_png_", None), escape(str(self))
        if picture is None:
            return f"<pre>{text}</pre>"
        data = b64encode(picture()).decode()
        return (
            f'<figure style="margin:0"><img alt="" style="max-width:100%;background:#fff" '
            f'src="data:image/png;base64,{data}"><figcaption>{text}</figcaption></figure>'
        )


def html_table(title: str, rows: Iterable[tuple[str, str]]) -> str:
    """Rows of a name and a value under a title, as a notebook shows them."""
    cells = "".join(
        f'<tr><th scope="row" style="text-align:left;font-weight:normal">{escape(name)}</th>'
        f'<td style="text-align:left">{escape(value)}</td></tr>'
        for name, value in rows
    )
    return f'<table><caption style="text-align:left"><b>{escape(title)}</b></caption><tbody>{cells}</tbody></table>'


def _of_fields(value: Any) -> dict[str, Any]:
    out = getattr(value, "_kept_out", ())
    names = [f.name for f in fields(value) if f.name not in out]
    return {name: plain(getattr(value, name)) for name in (*getattr(value, "_also", ()), *names)}


def plain(value: Any) -> Any:
    """A value as JSON can hold it: numbers that are none become None, paths and errors text, bytes their count.

    What is told as something else than its fields says as what: ``_plain_``.
    """
    if hasattr(value, "_plain_"):
        return value._plain_
    if isinstance(value, Enum):
        return value.name.lower()
    if isinstance(value, float):
        return float(value) if isfinite(value) else None
    if value is None or isinstance(value, (str, bool, int)):
        return value
    if isinstance(value, bytes):
        return {"bytes": len(value)}
    if isinstance(value, (PurePath, BaseException)):
        return str(value)
    return _of_parts(value)


def _of_parts(value: Any) -> Any:
    for told in ("to_dict", "tolist"):  # results; arrays and their numbers
        if callable(getattr(value, told, None)):
            return plain(getattr(value, told)())
    if is_dataclass(value) and not isinstance(value, type):
        return _of_fields(value)
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    return [plain(each) for each in value] if isinstance(value, Iterable) else str(value)
