"""The key that a compiled table is kept under: all that can change a pixel, and nothing that cannot."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass

from printprep.adjust._base import Steps
from printprep.adjust._blame import foreign
from printprep.conditions.conditions import Conditions
from printprep.conditions.measurement import Measurement
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.conditions.sheet import Sheet
from printprep.files import cache

UNREAD: Mapping[type, frozenset[str]] = {
    Paper: frozenset({
        "title", "native_ppi", "source", "typical", "any_profile", "ink_black", "media", "side", "dry_hours",
        "grey_ramp", "grey_mode",
    }),
    Room: frozenset({"cct_kelvin", "viewing_distance_m"}),
    Sheet: frozenset(f.name for f in fields(Sheet)),
}  # fmt: skip
"""Fields that no pointwise step of ours reads, and so no table depends on. A new field counts until it is named
here; a step that begins to read one of these must take it out, and a test says so."""


def table_key(profile: bytes, on: Conditions, steps: Steps, size: int) -> str | None:
    """A hash of all that shapes a table of `size` nodes a side, for edits in an ICC profile.

    None where a step is another package's: its code, and all that this uses, cannot be told for sure, so that nothing
    made from it may outlive the process.
    """
    if any(foreign(step) for step in steps):
        return None
    parts = (
        cache.code_stamp(),
        _hash(profile),
        _told(on.paper),
        _told(on.room),
        _told(on.sheet),
        on.source.fingerprint if on.source is not None else None,
        on.hand_over,
        [_told(step) for step in steps],
        size,
    )
    return _hash(repr(parts).encode())


def _told(value: object) -> object:
    """A value as plain parts whose ``repr`` says all of it that counts."""
    if isinstance(value, Measurement):
        return value.fingerprint
    if is_dataclass(value) and not isinstance(value, type):
        unread = UNREAD.get(type(value), frozenset())
        return type(value).__qualname__, [
            (f.name, _told(getattr(value, f.name))) for f in fields(value) if f.name not in unread
        ]
    if isinstance(value, bytes):
        return _hash(value)
    if isinstance(value, Mapping):
        return sorted((key, _told(part)) for key, part in value.items())
    if isinstance(value, (tuple, list)):
        return [_told(part) for part in value]
    if value is None or isinstance(value, (bool, int, float, str)):
        return value
    raise TypeError(f"{type(value).__name__}: has no part in the key of a table yet")  # never a repr that leaves out


def _hash(data: bytes) -> str:
    return hashlib.blake2b(data, digest_size=32).hexdigest()
