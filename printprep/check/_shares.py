"""Shares as people say them."""

from __future__ import annotations

_PARTS = (
    (0.075, "a twentieth"), (0.14, "a tenth"), (0.18, "a sixth"), (0.225, "a fifth"),
    (0.29, "a quarter"), (0.37, "a third"), (0.45, "two fifths"), (0.55, "half"), (0.63, "three fifths"),
    (0.71, "two thirds"), (0.86, "four fifths"), (1.01, "almost all"),
)  # fmt: skip
"""Upper ends of shares, and what a person would call them."""

_NARROW = "\u00a0"
"""Between a number and its unit: a space at which no line ends."""


def part(share: float) -> str:
    """A share in words: "a third", "half"."""
    return next(word for end, word in _PARTS if share < end)


def percent(share: float) -> str:
    """A share as people read it: "0 %", "under 0.1 %", "0.4 %", "12 %"."""
    if 0 < share < 0.001:
        return f"under 0.1{_NARROW}%"
    return f"{100 * share:.{1 if 0 < share < 0.0995 else 0}f}{_NARROW}%"
