"""What is public, as text: every name of ``printprep``, its signature, its public attributes. Run to write it anew:

python -m tests.support.public_api
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import printprep

_QUOTED = re.compile(r"""(: |-> )(['"])((?:(?!\2).)*)\2""")
FILE = Path(__file__).parents[1] / "public_api.txt"
_HEAD = "# What is public. Written by `python -m tests.support.public_api`; a change here is a line in the changelog.\n"


def described() -> str:
    """One line a name, one a member; annotations as they are written."""
    return _HEAD + "".join(f"{line}\n" for name in sorted(printprep.__all__) for line in _lines(name))


def _lines(name: str) -> Iterator[str]:
    value = getattr(printprep, name)
    yield name + _signature(value)
    if not isinstance(value, type):
        return
    for key in sorted({k for cls in value.__mro__ if cls.__module__.startswith("printprep") for k in vars(cls)}):
        if key.startswith("_") or _is_default(value, key):
            continue
        member = inspect.getattr_static(value, key)
        plain = member.__func__ if isinstance(member, (classmethod, staticmethod)) else member
        yield f"    .{key}" + (_signature(plain) if inspect.isfunction(plain) else "")


def _is_default(cls: type, key: str) -> bool:
    """Whether it is the default of a field, which the signature tells."""
    fields: dict[str, Any] = getattr(cls, "__dataclass_fields__", {})
    return key in fields and not callable(inspect.getattr_static(cls, key))


def _signature(value: Any) -> str:
    try:
        return _QUOTED.sub(lambda found: found[1] + found[3], str(inspect.signature(value)))
    except (TypeError, ValueError):
        return ""


if __name__ == "__main__":
    FILE.write_text(described(), encoding="utf-8")
