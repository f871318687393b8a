"""Tasks on several threads: in order, bounded, and at an end when their caller is."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import closing

import pytest

from printprep.photo.bands import ordered, run


@pytest.mark.parametrize("threads", [1, 3])
def test_results_come_in_order_and_what_is_left_behind_has_ended(threads: int) -> None:
    begun, ended = list[int](), list[int]()

    def worker() -> Callable[[int], int]:
        def work(i: int) -> int:
            begun.append(i)
            time.sleep(0.002 * (i % 3))
            ended.append(i)
            return i

        return work

    with closing(ordered(50, threads, worker)) as found:
        assert [next(found) for _ in range(7)] == list(range(7))
    assert sorted(begun) == sorted(ended)
    assert len(begun) <= 7 + 2 * threads


@pytest.mark.parametrize("threads", [1, 3])
def test_the_first_error_is_raised_once_the_others_have_ended(threads: int) -> None:
    at_work, most = set[int](), list[int]()

    def worker() -> Callable[[int], None]:
        def work(i: int) -> None:
            at_work.add(i)
            time.sleep(0.002)
            at_work.discard(i)
            most.append(i)
            if i >= 4:
                raise ValueError(i)

        return work

    with pytest.raises(ValueError, match=r"^4$"):
        run(50, threads, worker)
    assert not at_work
    assert max(most) <= 4 + 2 * threads
