"""How many random cases tests try: the same few each time, or many that are new where an effort is asked for."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

EFFORT = float(os.environ.get("PRINTPREP_TEST_EFFORT", "0"))
"""How many times as many cases as usual; 0 for the usual ones."""


def cases(number: int) -> int:
    """How many cases to try where this is the usual number."""
    return max(1, round(number * (EFFORT or 1)))


def tried(number: int) -> settings:
    """Settings of a property that is tried on so many examples, usually."""
    return settings(
        max_examples=cases(number),
        deadline=None,
        derandomize=not EFFORT,
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    )
